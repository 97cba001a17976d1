"""Mutate recorded runs, the file of names and what `--resume` goes on with, and read them all as the commands do.

Prints a row a reader: mutations, how many ended as a fault of the program, the slowest in seconds, the peak of memory,
and how often a run was told as broken, by its records' types and only by what catches the rest. Each kind of fault
comes on stderr; what brought it about is kept in the folder for temporary files. Each reader has a process of its own.

Ends with 1 if there was a fault, else with 0. Any system; the peak of memory is 0 on Windows. Takes 5 minutes on two
quiet cores (scaled from ``--count 120``).
"""

import contextlib
import io
import multiprocessing
import random
import shutil
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from tests.attacks.mutations import arguments, mutated
from tocsin.cli.main import main
from tocsin.config.drills import load_drill, load_drill_texts
from tocsin.errors import BrokenRunError, TocsinError
from tocsin.features.records.measured_leads import measured_leads
from tocsin.features.records.round_files import RoundFacts, newest_session
from tocsin.features.records.round_report import reports_of
from tocsin.features.records.row_cache import drop_rows
from tocsin.features.records.season_rows import season_rows
from tocsin.journal import records
from tocsin.journal.past import newest_past
from tocsin.journal.people import People
from tocsin.journal.place import JOURNAL_NAME, PEOPLE_NAME, ROWS_NAME, boot_text
from tocsin.monotime import now_ns
from tocsin.runner.conductor import Conductor
from tocsin.runner.match.record import Heading, RunRecord
from tocsin.runner.options import ROUND
from tocsin.runner.run import resumed
from tocsin.runner.terminal.front_end import FrontEnd

NAME = "2031-03-01_10-01-00.000Z"
READERS: dict[str, Callable[[Path], object]] = {}
FAULT = "fault of Tocsin itself"


class Told(NamedTuple):
    """What came of a reader and one mutated file."""

    fault: str = ""
    broken: bool = False
    by_net: bool = False


def reader(name: str):
    """Register a reader."""
    return lambda function: READERS.setdefault(name, function)


def command(*arguments: str) -> Told:
    """Run a command in this process."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(arguments)
    said = out.getvalue() + err.getvalue()
    fault = said[-2000:] if FAULT in said or code not in (0, 2, 20, 22) else ""
    return Told(fault, "move its folder away" in said, "contradict each other" in said)


def refusing(work: Callable[[Callable[[BrokenRunError], None]], object]) -> Told:
    """Do what a command does below the command line; an error for users is no fault."""
    told: list[TocsinError] = []
    try:
        work(told.append)
    except TocsinError as error:
        told.append(error)
    return Told(broken=bool(told), by_net=any("contradict each other" in str(error) for error in told))


@reader("runs")
def runs(folder: Path) -> Told:
    return command("runs", "--runs", str(folder))


@reader("runs --json")
def runs_json(folder: Path) -> Told:
    return command("runs", "--json", "--runs", str(folder))


@reader("runs --show")
def show(folder: Path) -> Told:
    return command("runs", "--show", NAME, "--runs", str(folder))


@reader("mark")
def mark(folder: Path) -> Told:
    return command("mark", NAME, "--label", "home", "--at", "driver.end-2s", "--runs", str(folder))


@reader("check, leads")
def leads(folder: Path) -> Told:
    return refusing(lambda on_broken: measured_leads(folder, "Casting Day", on_broken))


@reader("review")
def review(folder: Path) -> Told:
    return command("review", "--json", "--runs", str(folder))


@reader("advise")
def advise(folder: Path) -> Told:
    return command("advise", "--json", "--runs", str(folder))


@reader(ROWS_NAME)
def kept_rows(folder: Path) -> Told:
    return refusing(lambda on_broken: season_rows([folder], on_broken))


@reader("run --resume")
def resume_run(folder: Path) -> Told:
    def work(on_broken):
        past = newest_past(folder, boot_text(), on_broken)
        files, options = resumed(past, past.last_ns)
        Conductor(files, options, folder, FrontEnd("none", json_output=False), past=past).stage.match.record.close()

    return refusing(work)


@reader("drill --resume")
def resume_drill(folder: Path) -> Told:
    def work(on_broken):
        past = newest_session(folder, on_broken)
        if past is not None:
            found = load_drill_texts(past.files)
            list(reports_of(past.rounds, found))

    return refusing(work)


@reader(PEOPLE_NAME)
def people(folder: Path) -> Told:
    def work(on_broken):
        found = People(folder)
        found.key_of("Ann")
        found.keep("Ann")

    told = refusing(work)
    listed = command("runs", "--runs", str(folder))
    return Told(listed.fault, told.broken)


def record(folder: Path, *, ended: bool) -> None:
    """Record a round of a drill as a conductor would, up to a push that the call home found."""
    loaded = load_drill("break_off", "nothing")
    timeline = loaded.files.plans[0].timeline
    facts = RoundFacts(name="Break off", key="k", seed=1, round=1, crew="A", battery=1, half_speed=False)
    round_facts = {
        "name": facts.name, "key": "k", "seed": 1, "round": 1, "crew": "A", "battery": 1, "half_speed": False,
    }  # fmt: skip
    options = {"plans": ["full"], "people": {"driver": "ab12cd34"}} | ({ROUND: round_facts} if ended else {})
    files = tuple(records.FileRecord.of(file.name, file.text) for file in loaded.files.files)
    begin_ns = now_ns()
    run = RunRecord(folder, Heading(options=options, label="late pushes", files=files if ended else files[:-1]))
    run.begin(begin_ns, f"{NAME[:10]}T10:01:00.000Z", timeline, ())
    run.add(records.OriginRecord(at_ns=begin_ns, anchor="match", origin_ns=begin_ns, cause="start", error_ms=60))
    run.add(records.State(at_ns=begin_ns, states=("running",), event="start", variant=timeline.default_variant))
    for firing in timeline.firings:
        if firing.begin.anchor == "match":
            at_ns = begin_ns + firing.begin.offset_ns
            run.add(
                records.FiringRecord(
                    at_ns=at_ns, cue=firing.cue, n=firing.n, channel=firing.channel, role=firing.role, anchor="match",
                    due_ns=firing.begin.offset_ns, match_ns=firing.match_ns, late_ns=100_000, took_ns=0,
                    outcome="played", no=firing.no,
                )
            )  # fmt: skip
    home = next(firing for firing in timeline.firings if firing.cue == "home")
    call_ns = begin_ns + home.begin.offset_ns
    run.add(records.OriginRecord(at_ns=call_ns, anchor="call.home", origin_ns=call_ns, cause="call", instance=0))
    run.add(records.MarkRecord(at_ns=call_ns, label="contact", begin_ns=call_ns - 10**9, end_ns=call_ns + 2 * 10**9))
    run.add(records.MarkRecord(at_ns=call_ns, label="turned", begin_ns=call_ns + 10**9, takes_back=None))
    run.add(records.Note(at_ns=call_ns, what="battery", text="81 %"))
    run.add(records.Device(at_ns=begin_ns, channel="light", state="ready", name="strip"))
    if ended:
        run.add(records.End(at_ns=call_ns + 40 * 10**9, outcome="over", exit=0))
    run.close()


class Tally(NamedTuple):
    """What came of a reader: its faults, the slowest in seconds, how often a run was told as broken, peak of memory."""

    faults: list[str]
    slowest_s: float
    broken: int
    by_net: int
    peak_mb: float


def attack(name: str, mutations: int, seed: int) -> Tally:
    """Read so many mutated files by one reader. What brings a fault about is kept in the folder for temporary files."""
    rng = random.Random(f"{seed} {name}")
    faults: list[str] = []
    broken = by_net = 0
    slowest_s = 0.0
    with tempfile.TemporaryDirectory(prefix="tocsin-mutations-") as made:
        folder = Path(made)
        record(folder, ended=name != "run --resume")
        People(folder).keep("Ann")
        (run,) = folder.glob("2*")
        run.rename(folder / NAME)
        file = folder / (name if name in (PEOPLE_NAME, ROWS_NAME) else f"{NAME}/{JOURNAL_NAME}")
        season_rows([folder], _refuse)
        whole = file.read_bytes()
        for number in range(mutations):
            drop_rows(folder)                          # of two files written in one tick of the disk's clock
            file.write_bytes(mutated(whole, rng))
            began = time.perf_counter()
            try:
                told = READERS[name](folder)
            except Exception:
                told = Told(traceback.format_exc())
            slowest_s = max(slowest_s, time.perf_counter() - began)
            broken, by_net = broken + told.broken, by_net + told.by_net
            if told.fault:
                faults.append(told.fault)
                shutil.copy(file, Path(tempfile.gettempdir()) / f"tocsin-mutation-{name.replace(' ', '_')}-{number}")
    return Tally(faults, slowest_s, broken, by_net, peak_mb())


def _refuse(error: Exception) -> None:
    sys.exit(str(error))


def peak_mb() -> float:
    """Return the most memory that this process has held, in MB (POSIX; 0 elsewhere)."""
    try:
        import resource
    except ImportError:
        return 0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def attack_all() -> int:
    """Attack the readers, print a row each; return 1 if there was a fault."""
    given = arguments(__doc__, READERS, 2_500)
    print(f"seed {given.seed}\n{'reader':<16}{'mutations':>10}{'faults':>8}{'slowest s':>11}{'peak MB':>9}{'broken':>9}"
          f"{'only by net':>13}", flush=True)  # fmt: skip
    failed = False
    # A process a reader: its peak of memory is its own.
    with multiprocessing.get_context("spawn").Pool(given.processes, maxtasksperchild=1) as pool:
        jobs = [(name, given.count, given.seed) for name in given.reader]
        for name, found in zip(given.reader, pool.imap(_job, jobs), strict=True):
            print(f"{name:<16}{given.count:>10}{len(found.faults):>8}{found.slowest_s:>11.2f}{found.peak_mb:>9.0f}"
                  f"{found.broken:>9}{found.by_net:>13}", flush=True)  # fmt: skip
            for fault in list(dict.fromkeys(found.faults))[:5]:
                print(fault, file=sys.stderr, flush=True)
            failed = failed or bool(found.faults)
    return int(failed)


def _job(job: tuple[str, int, int]) -> Tally:
    return attack(*job)


if __name__ == "__main__":
    sys.exit(attack_all())
