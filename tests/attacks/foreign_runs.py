"""Take in folders of runs that somebody built on purpose: links, devices, pipes, huge files, names that lead out, junk.

Prints a row a folder: exit code, seconds of processor time, most memory (MB), runs taken in, the first line that was
printed. Each folder lies beside a file that must not be read and one good run that must be taken in all the same.

Ends with 1 if a folder took more than 10 s or 400 MB, hung for a minute, printed a traceback, left anything but whole
runs, or reached out of its place, else with 0. POSIX only: it makes links and pipes. Takes two minutes on two quiet
cores.
"""

import argparse
import contextlib
import json
import os
import socket
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import msgspec

from tests.attacks.large_files import Took, took
from tests.support.journal.recorded_runs import record_push
from tocsin.journal import records
from tocsin.journal.people import People
from tocsin.journal.place import is_run_name, run_folders
from tocsin.journal.reader import MOST_BYTES, read

MOST_S, MOST_MB = 10.0, 400.0
GOOD, BAD = "2031-03-01_10-01-00.000Z", "2031-03-02_10-00-00.000Z"
SECRET = b"a secret that nobody may read"
HEADER = records.Header(at_ns=0, wall="2031-03-02T10:00:00.000Z", boot="b")
END = b'{"kind":"end","at_ns":9,"outcome":"over","exit":0}\n'
COMMAND = "runs --runs here --import away"


def header(**changes: object) -> bytes:
    return json.dumps(msgspec.to_builtins(HEADER) | changes).encode() + b"\n"


def bad(away: Path, content: bytes = b"", name: str | bytes = BAD) -> Path:
    """Make a folder named like a run; return its journal, written if there is content."""
    folder = Path(os.fsdecode(name)) if isinstance(name, bytes) else Path(name)
    (away / folder).mkdir(parents=True)
    if content:
        (away / folder / "journal.jsonl").write_bytes(content)
    return away / folder / "journal.jsonl"


def sparse(path: Path, size: int = 1 << 40) -> None:
    with path.open("wb") as file, contextlib.suppress(OSError):        # as large as the file system allows
        file.truncate(min(size, 1 << 43))


def listening(path: Path) -> None:
    where = os.open(path.parent, os.O_RDONLY)          # a socket's own path has a short limit
    os.fchdir(where)
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(path.name)
    os.close(where)


def device(path: Path) -> None:
    """Make a device that never ends, where this user may; else a link to it."""
    try:
        os.mknod(path, 0o20644, os.makedev(1, 5))
    except OSError:
        path.symlink_to("/dev/zero")


def many(away: Path, count: int, name: Callable[[int], str]) -> None:
    for number in range(count):
        (away / name(number)).mkdir()


def doubled(away: Path) -> None:
    """A run with the begin of ours and other content, which claims to be ours."""
    file = bad(away, name=f"{GOOD}.7")
    file.write_bytes((away / GOOD / "journal.jsonl").read_bytes().replace(b'"label":"contact"', b'"label":"home"'))


class Attack(NamedTuple):
    """What is built in ``away`` beside a good run and a ``secret`` file, and how many runs are to come besides it."""

    build: Callable[[Path, Path], object]
    taken: int = 0


def journal(content: bytes, taken: int = 0) -> Attack:
    return Attack(lambda away, secret: bad(away, content), taken)


def people(build: Callable[[Path, Path], object]) -> Attack:
    def both(away: Path, secret: Path) -> None:
        bad(away, header(options={"people": {"driver": "0badc0de", "operator": "../x"}}) + END)
        build(away / "people.json", secret)

    return Attack(both, 1)


def beside(build: Callable[[Path, Path], object], name: str = "torn-1.txt") -> Attack:
    return Attack(lambda away, secret: build(bad(away, header() + END).parent / name, secret), 1)


ATTACKS = {
    "a run is a link to a run": Attack(lambda away, secret: (away / BAD).symlink_to(away / GOOD)),
    "a run is a link to the root": Attack(lambda away, secret: (away / BAD).symlink_to("/")),
    "a run is a file": Attack(lambda away, secret: (away / BAD).write_bytes(header() + END)),
    "a journal is a link to the secret": Attack(lambda away, secret: bad(away).symlink_to(secret)),
    "a journal is a link to a journal": Attack(
        lambda away, secret: bad(away).symlink_to(away / GOOD / "journal.jsonl")),
    "a journal is a link to itself": Attack(lambda away, secret: bad(away).symlink_to("journal.jsonl")),
    "a journal never ends": Attack(lambda away, secret: device(bad(away))),
    "a journal is a pipe": Attack(lambda away, secret: os.mkfifo(bad(away))),
    "a journal is a socket": Attack(lambda away, secret: listening(bad(away))),
    "a journal is a folder": Attack(lambda away, secret: bad(away).mkdir()),
    "a journal of a terabyte of nothing": Attack(lambda away, secret: sparse(bad(away))),
    "junk, as large as is read": journal(b"junk\n" * (MOST_BYTES // 5 - 1)),
    "brackets, as many as are read": journal(b"[" * (MOST_BYTES - 1)),
    "notes, as many as are read": journal(
        header() + b'{"kind":"note","at_ns":1,"what":"x"}\n' * (MOST_BYTES // 37 - 200) + END, 1),
    "a time that leads out": journal(header(wall="../../../secret") + END),
    "a time that is a path": journal(header(wall="/secret") + END),
    "a time with a line end": journal(header(wall="2031-03-02T10:00:00.000Z\n") + END),
    "a time of no calendar": journal(header(wall="2031-02-31T10:00:00.000Z") + END),
    "a label that leads out": journal(header(label="../../../secret") + END, 1),
    "a label that steers terminals": journal(header(label="\x1b[2J\u202e" * 99) + END, 1),
    "a label of a megabyte": journal(header(label="x y" * 350_000) + END, 1),
    "people that are none": journal(header(options={"people": [{"a": {"b": ["c"]}}], "roster": 5}) + END, 1),
    "workers that are other processes": journal(
        header(workers=[{"channel": "light", "pid": os.getpid(), "started_s": 1.0}]), 1),
    "a name that leads out": Attack(lambda away, secret: bad(away, header() + END, f"{BAD}_.."), 1),
    "a name that steers terminals": Attack(lambda away, secret: bad(away, b"x", f"{BAD}_\x1b[2J\n\u202e")),
    "a name that is no text": Attack(lambda away, secret: bad(away, header() + END, BAD.encode() + b"_\xff\xfe"), 1),
    "a name of 255 bytes": Attack(lambda away, secret: bad(away, header() + END, BAD + "_" + "x" * 230), 1),
    "five thousand empty runs": Attack(lambda away, secret: many(away, 5_000, lambda n: f"{BAD}.{n}")),
    "five thousand other folders": Attack(lambda away, secret: many(away, 5_000, lambda n: f"folder {n}")),
    "names: a link to the secret": people(lambda path, secret: path.symlink_to(secret)),
    "names: a pipe": people(lambda path, secret: os.mkfifo(path)),
    "names: a terabyte": people(lambda path, secret: sparse(path)),
    "names: with junk in them": people(lambda path, secret: path.write_text(
        json.dumps({"people": {"../x": "Ann\x1b[2J", "0badc0de": "x" * 9999, "": " ", "\n": "\n"}}))),
    "a torn rest is a link to the secret": beside(lambda path, secret: path.symlink_to(secret)),
    "a torn rest is a pipe": beside(lambda path, secret: os.mkfifo(path)),
    "a torn rest of a terabyte": beside(lambda path, secret: sparse(path)),
    "a thousand torn rests": beside(
        lambda path, secret: [path.with_name(f"torn-{n}.txt").write_bytes(b"x") for n in range(1000)]),
    "files of others": beside(lambda path, secret: path.write_bytes(b"evil"), "sitecustomize.py"),
    "a link of others": beside(lambda path, secret: path.symlink_to(secret), "rows.msgpack"),
    "a run that claims to be ours": Attack(lambda away, secret: doubled(away), 1),
}  # fmt: skip


class Result(NamedTuple):
    """What a command took, how many runs were taken in, and what is wrong, or an empty text."""

    took: Took
    taken: int
    wrong: str


def attacked(attack: Attack, folder: Path, run: Callable[[str, Path], Took] = took) -> Result:
    """Build an attack below a folder, take it in twice by ``run``, and look."""
    away, secret = folder / "away", folder / "secret"
    record_push(away, 1, 3, drill=False)
    secret.write_bytes(SECRET)
    where = Path.cwd()
    attack.build(away, secret)
    os.chdir(where)
    found = run(COMMAND, folder)
    again = run(COMMAND, folder)
    taken = len(run_folders(folder / "here")) - 1
    return Result(found, taken, _wrong(found, again, folder, attack.taken, taken))


def _wrong(found: Took, again: Took, folder: Path, wanted: int, taken: int) -> str:
    here = folder / "here"
    if any((one.amiss and "Traceback" in one.said) or one.code != 0 for one in (found, again)):
        return f"exit code {found.code}, then {again.code}"
    if found.cpu_s > MOST_S or found.peak_mb > MOST_MB:
        return "took too much"
    if taken != wanted:
        return f"{taken} taken in, not {wanted}"
    if "\x1b" in found.said or "\u202e" in found.said:
        return "steers the terminal"
    if {path.name for path in folder.iterdir()} - {"away", "here", "secret", "state"}:
        return "wrote elsewhere"
    for path in here.rglob("*"):
        if path.is_symlink() or not (path.is_dir() or path.is_file()):
            return f"took a {path.name} that is no file"
        if path.is_file() and SECRET in path.read_bytes():
            return "read the secret"
    names = {path.name for path in here.iterdir()} - {"people.json"}
    if not all(map(is_run_name, names)) or not {one.name for one in here.glob("*/*")} <= _OURS:
        return "left what is no run"
    if any(read(one).end is None for one in run_folders(here)):
        return "left a run that could be gone on with"
    return "" if all(map(str.strip, People(here).names.values())) else "took a name that is none"


_OURS = {"journal.jsonl", *(f"torn-{number}.txt" for number in range(1, 9))}


def main() -> int:
    """Attack, print, return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", default="", help="folders that are called so, e.g. link")
    given = parser.parse_args()
    amiss = 0
    print(f"{'folder':<40}{'exit':>5}{'cpu s':>8}{'MB':>7}{'taken':>7}  first line")
    for name, attack in ATTACKS.items():
        if given.only not in name:
            continue
        with tempfile.TemporaryDirectory() as folder:
            result = attacked(attack, Path(folder))
        amiss += bool(result.wrong)
        first = next(iter(result.took.said.splitlines()), "")[:40]
        print(f"{name:<40}{result.took.code!s:>5}{result.took.cpu_s:>8.2f}{result.took.peak_mb:>7.0f}{result.taken:>7}"
              f"  {f'AMISS ({result.wrong}) ' if result.wrong else ''}{first}", flush=True)  # fmt: skip
    print(f"{amiss} amiss")
    return int(amiss > 0)


if __name__ == "__main__":
    sys.exit(main())
