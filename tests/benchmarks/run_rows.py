"""Print what the rows of a season cost: read from journals, taken from the kept rows, and made one by one.

``python -m tests.benchmarks.run_rows [ROUNDS [SIMULATED]]``, else 2,000 rounds of a drill and 50,000 simulated runs; 3
minutes. One by one means: each round's files parsed anew, and what was missing to each threshold worked out though
nobody asks; of a tenth of the rounds. Simulated runs are folders whose rows are kept already: their journals are never
opened. Each way of a season is a process of its own, as ``tocsin review`` is; ``all`` is its processor time with what
it loads, memory is the most that it took.
"""

import json
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import psutil
from msgspec.structs import replace

from tests.support.journal.recorded_rounds import record_rounds
from tocsin.analysis.rounds.stakes import missing
from tocsin.config.drills import load_drill_texts
from tocsin.features.records.round_files import facts_of
from tocsin.features.records.round_report import report_of
from tocsin.features.records.row_cache import State, drop_rows, keep_rows
from tocsin.features.records.rows import RowMaker
from tocsin.features.records.season_rows import season_rows
from tocsin.journal.place import JOURNAL_NAME, ROWS_NAME
from tocsin.journal.reader import Journal, all_runs

ROUNDS, SIMULATED = 2000, 50_000
ONE_IN = 10                            # rounds that are worked out one by one
STEPS = (25, 5, 1)                     # parts of the simulated runs that are measured
MOST_COLD_S, MOST_WARM_S, MOST_MB = 3.0, 0.3, 200.0


def one_by_one(journals: Sequence[Journal]) -> list[tuple[bool | None, int]]:
    """Return verdict and net points of each round, worked out alone."""
    found = []
    for journal in journals:
        loaded = load_drill_texts(journal.header.files)
        facts, timeline = facts_of(journal.header), journal.header.timeline
        assert facts is not None
        assert timeline is not None
        result = report_of(journal.records, timeline, loaded.files.game, loaded.drill, facts).result
        for one in result.points.thresholds:
            if not one.met:
                missing(one.stakes, {stake: Counter(dict(of)) for stake, of in one.counts}, one.points)
        found.append((result.clean, result.points.net_points))
    return found


def together(journals: Sequence[Journal]) -> list[tuple[bool | None, int | None]]:
    """Return the same from rows."""
    maker = RowMaker()
    return [(row.clean, row.net_points) for row in map(maker.row, journals)]


def simulate(runs: Path, of: Path, count: int) -> None:
    """Make folders of runs with empty journals, and keep rows of real ones for them."""
    real = season_rows([of], _refuse)
    kept = {}
    for place in range(count):
        minute, day = place % 600, place // 600
        name = f"{2031 + day // 360}-{1 + day // 30 % 12:02}-{1 + day % 30:02}_1{minute // 60}-{minute % 60:02}-00.000Z"
        folder = runs / name
        folder.mkdir(parents=True)
        (folder / JOURNAL_NAME).touch()
        row, wall = real[place % len(real)], name.replace("_", "T").replace("-", ":").replace(":", "-", 2)
        state = State.of(folder)
        assert state is not None
        kept[state] = replace(
            row, wall=wall, local=wall.replace("Z", "+00:00"), session=f"{place // 12:08x}",
            turn_s=None if row.turn_s is None else row.turn_s + place / 10_000,
        )  # fmt: skip
    keep_rows(runs, kept)


def measure(runs: Path) -> dict[str, float]:
    """Return what a season's rows take in a process of their own."""
    command = [sys.executable, "-m", "tests.benchmarks.run_rows", "--season", str(runs)]
    found: dict[str, float] = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
    return found


def _season(runs: Path) -> None:
    begin_s, read = time.process_time(), 0

    def count(done: int, of: int) -> None:
        nonlocal read
        read = of

    rows = season_rows([runs], _refuse, count)
    print(json.dumps({
        "rows": len(rows), "read": read, "s": time.process_time() - begin_s, "all_s": time.process_time(),
        "mb": psutil.Process().memory_info().rss / 1e6,
    }))  # fmt: skip


def _refuse(error: Exception) -> None:
    sys.exit(str(error))


def _told(what: str, took: dict[str, float]) -> None:
    each = 1000 * took["s"] / took["rows"]
    print(
        f"{what:>36}: {took['s']:7.2f} s {each:8.3f} ms each   all {took['all_s']:6.2f} s   {took['mb']:4.0f} MB   "
        f"{took['read']:.0f} journals read"
    )


def main(rounds: int, simulated: int) -> None:
    """Record rounds, and print a line for each way."""
    with tempfile.TemporaryDirectory() as folder:
        runs = Path(folder) / "runs"
        record_rounds(runs, "break_off", rounds)
        size = sum(path.stat().st_size for path in runs.glob(f"*/{JOURNAL_NAME}"))
        print(f"{rounds} rounds of a drill, {size / 1e6:.0f} MB of journals; processor time")
        begin_s = time.process_time()
        journals = list(all_runs(runs, _refuse))
        print(f"{'read and decoded':>36}: {time.process_time() - begin_s:7.2f} s")
        some = journals[::ONE_IN]
        results, took_s = [], []
        for way in (one_by_one, together):
            begin_s = time.process_time()
            results.append(way(some))
            took_s.append((time.process_time() - begin_s) / len(some))
        for what, each_s in (("results one by one", took_s[0]), ("rows by one maker", took_s[1])):
            print(f"{what:>36}: {each_s * rounds:7.2f} s {1000 * each_s:8.3f} ms each, of {len(some)} in memory")
        print("equal results" if results[0] == results[1] else "DIFFERENT RESULTS")
        del journals, some
        cold = measure(runs)
        warm = measure(runs)
        _told("season, from journals", cold)
        _told("season, from kept rows", warm)
        print(f"{'kept rows':>36}: {(runs / ROWS_NAME).stat().st_size / 1e6:7.2f} MB")
        alone_s = took_s[0] * rounds
        print(f"times as fast as one by one: rows {took_s[0] / took_s[1]:.0f}, a season from journals "
              f"{alone_s / cold['s']:.0f}, from kept rows {alone_s / warm['s']:.0f}")
        for what, held in (
            (f"from journals within {MOST_COLD_S:g} s", cold["s"] <= MOST_COLD_S),
            (f"from kept rows within {MOST_WARM_S:g} s", warm["s"] <= MOST_WARM_S),
            (f"memory below {MOST_MB:g} MB", max(cold["mb"], warm["mb"]) < MOST_MB),
        ):  # fmt: skip
            print(f"  {what}: {'yes' if held else 'NO'}")
        print(f"up to {simulated} simulated runs, from kept rows")
        for part in STEPS:
            many = Path(folder) / f"simulated {part}"
            simulate(many, runs, simulated // part)
            _told(f"{simulated // part}", measure(many))
            drop_rows(many)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--season"]:
        _season(Path(sys.argv[2]))
    else:
        given = [int(one) for one in sys.argv[1:3]]
        main(*(*given, ROUNDS, SIMULATED)[: 2] if len(given) == 2 else (given[0] if given else ROUNDS, SIMULATED))
