"""Kill each writer instead of each of its calls to the disk, one after another, and look what is there then.

Prints a row a writer: how many calls were killed, what was found old, new, or torn. What a power cut adds, writes that
the disk never got, is not in it: that is what syncs are for.

Ends with 1 if anything was torn or lost, else with 0. Linux only, with gcc. Takes 5 s (measured whole).
"""

import argparse
import os
import secrets
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import msgspec

from tests.support.preload.disk import Disk
from tocsin.cli.main import main
from tocsin.cli.own_files import write_own
from tocsin.config.load import load_rig
from tocsin.config.write.rig_edit import write_values
from tocsin.export.source import MADE_BY
from tocsin.features.records.importing import Import, take_in
from tocsin.features.records.round_files import IMPORTED, note_of
from tocsin.files import write_whole
from tocsin.journal import records
from tocsin.journal.forget import rewrite
from tocsin.journal.name import Name
from tocsin.journal.people import People
from tocsin.journal.place import run_folders
from tocsin.journal.reader import all_runs, read
from tocsin.journal.writer import JournalWriter
from tocsin.speech.cache import Spoken, WordCache
from tocsin.speech.word_file import frames_in

MOST_CALLS = 2000
RIG = 'format = "tocsin-rig/1"\nname = "Ours"\n[light]\nport = "auto"\nusb = "1209:0002"\nleds = 30\n'
WORD, FRAMES = Spoken("espeak-ng", "", "en", "Home"), bytes(4000)
OLD, NEW = f"old {MADE_BY}".encode(), f"new {MADE_BY}".encode()
HEADER = records.Header(at_ns=0, wall="2026-03-01T10:00:00.000Z", boot="b", label="with Ann")


class Writer(NamedTuple):
    """What stands there before, what is written, and what is found then: "old", "new", or a word for what is wrong."""

    before: Callable[[Path], object]
    write: Callable[[Path], object]
    found: Callable[[Path], str]
    step: int = 1


def run(runs: Path) -> None:
    """Write a run with a name in it."""
    writer = JournalWriter.create(runs, HEADER)
    for n in range(3):
        writer.append(records.Note(at_ns=n, what="safety", text=f"Ann {n}"))
    writer.append(records.End(at_ns=9, outcome="over", exit=0))
    writer.close()


def record(runs: Path) -> None:
    """Go on with the run that is there, and begin another."""
    (old,) = run_folders(runs)
    writer = JournalWriter.reopen(old)
    writer.append(records.Note(at_ns=10, what="dropped", text="why"))
    writer.close()
    run(runs)


def old_file(folder: Path) -> None:
    """Write the file that another takes the place of."""
    (folder / "there").write_bytes(OLD)


def of_file(folder: Path) -> str:
    """Look at a file that was being replaced."""
    return {OLD: "old", NEW: "new"}.get((folder / "there").read_bytes(), "torn")


def of_runs(folder: Path) -> str:
    """Look at runs that were being written: what was there is whole, each journal a begin of what was recorded."""
    for one in folder.glob("*/journal.jsonl"):
        if not one.read_bytes():
            continue                           # killed before its header: a run that never began
        journal = read(one)
        if journal.flaws or journal.torn:
            return "torn"
        notes = [record.text for record in journal.records if isinstance(record, records.Note)]
        if notes[:3] != ["Ann 0", "Ann 1", "Ann 2"][: len(notes)]:
            return "lost"
    first = read(run_folders(folder)[-1])
    if len(first.records) < 5:
        return "lost"
    return "new" if len(run_folders(folder)) == 2 and len(first.records) == 6 else "old"


def of_forgotten(folder: Path) -> str:
    """Look at runs out of which a name was being taken: each reads, and taking it out again leaves nothing."""
    journals = [read(one) for one in run_folders(folder)]
    if any(one.flaws or one.torn or len(one.records) != 5 for one in journals) or len(journals) != 2:
        return "torn"
    now = "old" if any("Ann" in one.header.label for one in journals) else "new"
    rewrite(folder, Name("Ann"))
    return now if not any(b"Ann" in path.read_bytes() for path in folder.rglob("*") if path.is_file()) else "left"


def of_people(folder: Path) -> str:
    """Look at the file of names."""
    names = set(People(folder).names.values())
    return {frozenset({"Bo"}): "old", frozenset({"Bo", "Ann"}): "new"}.get(frozenset(names), "lost")


def of_rig(folder: Path) -> str:
    """Look at a rig that was being edited."""
    load_rig(str(folder / "there"))
    text = (folder / "there").read_text("utf-8")
    return "old" if text == RIG else "new" if "latency_ms = 7" in text else "torn"


def of_team(folder: Path) -> str:
    """Look at a folder that was being made by ``tocsin init``."""
    count = len(list((folder / "there").rglob("*.toml")))
    return "old" if not (folder / "there").exists() else "new" if count == TEAM_FILES else "torn"


def of_words(folder: Path) -> str:
    """Look at a word that was being kept."""
    path = WordCache(folder).find(WORD)
    return "old" if path is None else "new" if frames_in(path) == FRAMES else "torn"


def init(folder: Path) -> None:
    """Make a team's folder."""
    with Path(os.devnull).open("w", encoding="utf-8") as nothing:
        sys.stdout = nothing
        answers = ["--autonomous=none", "--driver=1:37", "--digits=0:20", "--windows=0:18", "--contact=9"]
        main(["init", str(folder / "there"), *answers, "--home=7s", "--off=4s", "--who=none"])


def away(folder: Path) -> None:
    """Write two runs of another laptop, with a person's name."""
    key = People(folder / "away").keep("Ann")
    for _ in range(2):
        header = msgspec.structs.replace(HEADER, options={"people": {"driver": key}}, at_ns=secrets.randbits(40))
        writer = JournalWriter.create(folder / "away", header)
        writer.append(records.End(at_ns=header.at_ns + 9, outcome="over", exit=0))
        writer.close()


def import_all(folder: Path) -> None:
    """Take these runs in."""
    os.environ["XDG_STATE_HOME"] = str(folder / "state")               # a lock of its own
    take_in(folder / "here", folder / "away", Import())


def of_imported(folder: Path) -> str:
    """Look at runs that were being taken in: each is whole, a repeat takes the rest and leaves nothing half."""
    before = [read(one) for one in run_folders(folder / "here")]
    if any(one.flaws or one.torn or one.end is None or note_of(one, IMPORTED) is None for one in before):
        return "torn"
    import_all(folder)
    keys = {key for one in all_runs(folder / "here", print) for key in one.header.options["people"].values()}
    names = People(folder / "here").names
    if len(run_folders(folder / "here")) != 2 or {names.get(key) for key in keys} != {"Ann"}:
        return "lost"
    if any(path.name.startswith(".") for path in (folder / "here").rglob("*")):
        return "left"
    return "new" if len(before) == 2 else "old"


TEAM_FILES = 0
WRITERS = {
    "write": Writer(old_file, lambda f: write_whole(f / "there", NEW), of_file),
    "export": Writer(old_file, lambda f: write_own(f / "there", NEW), of_file),
    "people": Writer(lambda f: People(f).keep("Bo"), lambda f: People(f).keep("Ann"), of_people),
    "journal": Writer(run, record, of_runs),
    "forget": Writer(lambda f: (run(f), run(f)), lambda f: rewrite(f, Name("Ann")), of_forgotten),
    "rig": Writer(
        lambda f: (f / "there").write_text(RIG, "utf-8"),
        lambda f: write_values(f / "there", {("light", "latency_ms"): 7}), of_rig,
    ),
    "voice": Writer(lambda f: None, lambda f: WordCache(f).put(WORD, FRAMES), of_words),
    "init": Writer(lambda f: None, init, of_team, 7),
    "import": Writer(away, import_all, of_imported),
}  # fmt: skip


def killed(writer: Writer, folder: Path, number: int) -> bool:
    """Let a process of its own write, killed instead of its call of that number; return whether it came so far."""
    child = os.fork()
    if not child:
        os.environ |= {"DISK_BELOW": str(folder), "DISK_KILLS": str(number)}
        try:
            writer.write(folder)
        finally:
            os._exit(0)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


def walk(writer: Writer) -> Counter[str]:
    """Return what was found after each kill."""
    found: Counter[str] = Counter()
    for number in range(1, MOST_CALLS, writer.step):
        folder = Path(tempfile.mkdtemp())
        writer.before(folder)
        on = killed(writer, folder, number)
        try:
            found[writer.found(folder)] += 1
        except Exception as error:             # what cannot be read is torn
            found[f"unreadable: {error}"] += 1
        shutil.rmtree(folder)
        if not on:
            return found
    raise AssertionError("it never came to an end")


def walk_all(names: list[str]) -> int:
    """Print a row a writer; return 1 if anything was torn or lost."""
    global TEAM_FILES
    with tempfile.TemporaryDirectory() as folder:
        child = os.fork()
        if not child:
            init(Path(folder))
            os._exit(0)
        os.waitpid(child, 0)
        TEAM_FILES = len(list(Path(folder).rglob("*.toml")))
    bad = 0
    print(f"{'writer':<8} {'kills':>5} {'old':>4} {'new':>4}  torn or lost")
    for name in names:
        found = walk(WRITERS[name])
        wrong = {what: n for what, n in found.items() if what not in ("old", "new")}
        bad += sum(wrong.values())
        kills = sum(found.values()) - 1        # the last one was left to its end
        print(f"{name:<8} {kills:>5} {found['old']:>4} {found['new']:>4}  {wrong or 'none'}", flush=True)
    return int(bad > 0)


def attack() -> int:
    """Read the command line and walk, in a process of its own below the disk; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--writer", nargs="+", choices=[*WRITERS], default=[*WRITERS], help="some of the writers")
    given = parser.parse_args()
    if "DISK_HANGS" in os.environ:
        return walk_all(given.writer)
    with tempfile.TemporaryDirectory() as built:
        env = {**os.environ, **Disk(Path(built)).env(Path("/nowhere"))}
        itself = [sys.executable, "-m", "tests.attacks.kills", *sys.argv[1:]]
        return subprocess.run(itself, env=env, check=False).returncode


if __name__ == "__main__":
    sys.exit(attack())
