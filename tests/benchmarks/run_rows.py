"""Print what the rows of 500 rounds of a drill cost: as they are made, and as they would be made one by one.

``python -m tests.benchmarks.run_rows [ROUNDS]``. One by one means: each round's files parsed anew, and what was missing
to each threshold worked out though nobody asks. Processor time; both ways see the same journals, already decoded.
"""

import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.support.journal.recorded_rounds import record_rounds
from tocsin.analysis.rounds.stakes import missing
from tocsin.config.drills import load_drill_texts
from tocsin.features.records.round_files import facts_of
from tocsin.features.records.round_report import report_of
from tocsin.features.records.rows import RowMaker
from tocsin.journal.reader import Journal, all_runs

ROUNDS = 500


def one_by_one(journals: list[Journal]) -> list[tuple[bool | None, int]]:
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


def together(journals: list[Journal]) -> list[tuple[bool | None, int | None]]:
    """Return the same from rows."""
    maker = RowMaker()
    return [(row.clean, row.net_points) for row in map(maker.row, journals)]


def main() -> None:
    """Record rounds, and print a line for each way."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    with tempfile.TemporaryDirectory() as folder:
        runs = Path(folder)
        record_rounds(runs, "break_off", count)
        begin_s = time.process_time()
        journals = list(all_runs(runs, lambda error: sys.exit(str(error))))
        print(f"{count} rounds, read and decoded: {time.process_time() - begin_s:6.2f} s")
        results = []
        for what, way in (("one by one", one_by_one), ("rows", together)):
            begin_s = time.process_time()
            results.append(way(journals))
            took_s = time.process_time() - begin_s
            print(f"{what:>24}: {took_s:6.2f} s, {1000 * took_s / count:6.2f} ms a round")
        print("equal results" if results[0] == results[1] else "DIFFERENT RESULTS")


if __name__ == "__main__":
    main()
