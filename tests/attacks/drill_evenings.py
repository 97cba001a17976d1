"""Play a bundled drill at the speed of a match, as a whole process, by the crew of the table.

The crew presses a virtual pad's buttons, and what each round came to in the journals is held against what the same
crew comes to without a process (``tests/support/people/table_crew.py``): the verdict, the limit that the crew set
itself, the turn within 0.15 s, since a busy worker hears a button late. Prints a row a round.

Ends with 1 if a round came to something else. ``--rounds`` plays only the first so many. A round takes three quarters
of a minute, so all twelve of ``break_off`` nine minutes.
"""

import argparse
import sys
import tempfile
from pathlib import Path

from msgspec import convert

from tests.support.people.evening import TAP_NS, Evening, rig_text
from tests.support.people.table_crew import ORIGIN_NS, TABLE_CREW, Round, loaded, play, round_of
from tocsin.analysis.rounds.variation import Condition
from tocsin.features.records.round_report import RoundReport, reports_of
from tocsin.journal.reader import read
from tocsin.units import NS_PER_S

DRILLS = ("break_off", "deaf_and_dark")        # the pad has the marks of these
LATE_NS = 3 * NS_PER_S // 20


def evening_of(folder: Path, name: str, seed: int, rounds: int) -> list[RoundReport]:
    """Play the first rounds of a drill; return what its journals say of them."""
    rig = folder / "rig.toml"
    rig.write_text(rig_text('by = "countdown"'), "utf-8")
    evening = Evening(folder, name, "--rig", str(rig), "--seed", str(seed))
    drill = loaded(name).drill
    try:
        for question in drill.questions:
            evening.hear(question[:30])
            evening.tap("yes")
        for number in range(1, rounds + 1):
            evening.hear("Nobody on the field?")
            evening.tap("clear")
            evening.hear("as the countdown ends")
            evening.tap("start")
            origin_ns = evening.await_round(number, kind="origin", anchor="match")["origin_ns"]
            condition = convert(evening.records(number - 1)[0]["options"]["drill"]["condition"], Condition)
            _, marks = round_of(name, condition, TABLE_CREW, seed)
            for mark in marks:
                begin_ns = mark.begin_ns - ORIGIN_NS + origin_ns
                end_ns = begin_ns + TAP_NS if mark.end_ns is None else mark.end_ns - ORIGIN_NS + origin_ns
                evening.hold(f"mark.{mark.label}", begin_ns, end_ns)
            evening.await_round(number, 90, kind="end")
            evening.hear("end of the drill" if number == drill.rounds else "next round")
            if number < rounds:
                evening.tap("start")
        evening.tap("start" if rounds == drill.rounds else "leave")
        evening.finish()
        return list(reports_of([read(one) for one in evening.folders()], loaded(name)))
    finally:
        evening.close()


def row(number: int, found: RoundReport, wanted: Round) -> str:
    """Return a round's line; what differs is marked."""
    turns_ns = (found.result.turn_ns, wanted.result.turn_ns)
    turned = "-" if turns_ns[0] is None else f"{turns_ns[0] / NS_PER_S:.2f} s"
    limit_ns = found.own.turned_ns if found.own else None
    limit = "-" if limit_ns is None else f"{limit_ns / NS_PER_S:.1f} s"
    apart = turns_ns[0] is not None and turns_ns[1] is not None and abs(turns_ns[0] - turns_ns[1]) > LATE_NS
    same = (found.result.clean, found.own, turns_ns[0] is None) == (
        wanted.result.clean, wanted.own, turns_ns[1] is None,
    )  # fmt: skip
    said = found.rows[0]
    return f"{number:>3}  turned {turned:>7}  limit {limit:>6}  {said:<90}{'' if same and not apart else ' <'}"


def main() -> int:
    """Print the rows; return 1 if one is marked."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--drill", choices=DRILLS, default="break_off", help="which drill (break_off)")
    parser.add_argument("--seed", type=int, default=2, help="of what is dealt and of what people do (2)")
    parser.add_argument("--rounds", type=int, help="only the first so many (all)")
    given = parser.parse_args()
    rounds = min(given.rounds or 200, loaded(given.drill).drill.rounds)
    with tempfile.TemporaryDirectory() as folder:
        found = evening_of(Path(folder), given.drill, given.seed, rounds)
    wanted = play(given.drill, TABLE_CREW, given.seed).rounds[:rounds]
    lines = [row(number, *both) for number, both in enumerate(zip(found, wanted, strict=True), 1)]
    sys.stdout.write("\n".join(lines) + "\n")
    return int(any(line.endswith("<") for line in lines))


if __name__ == "__main__":
    sys.exit(main())
