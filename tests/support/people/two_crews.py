"""An evening of two crews, four people, with a plan of their own in place of the drill's.

They swap in mid-drill, and the laptop's power goes in the middle of a round. As the drill goes on, the files are no
longer where they were.
"""

from pathlib import Path
from typing import NamedTuple

from tests.support.people.evening import TAP_NS, Evening, rig_text
from tests.support.people.eventful_evening import BEGINS_S, GAME, PLAN, WINDOW_S
from tocsin.units import NS_PER_MS, NS_PER_S

ROSTER = {"A": {"driver": "Ann", "operator": "Ben"}, "B": {"driver": "Cleo", "operator": "Dan"}}
# What is played, in order: the crew, the number of its round, and whether they push in the window. The fourth is cut
# short, and comes again.
PLAYED = (("A", 1, False), ("B", 1, True), ("B", 2, False), ("A", 2, True), ("A", 2, False), ("B", 3, False))
CUT_SHORT = 3
DRILL = """
format = "tocsin-drill/1"
name = "Shared"
trains = "two crews in one drill"
place = "field"
plan = "full"
from = "driver.end-4s"
rounds = 3
marks = ["contact", "home"]
questions = ["Is the field empty?"]
[vary]
setup = ["left", "middle", "right"]
[clean]
keep_off = ["no_contact"]
home = "0s"
[goal]
clean = 2
of = 2
"""


class Shared(NamedTuple):
    """Both lives of the drill."""

    folder: Path
    before: Evening
    after: Evening
    code: int

    @property
    def runs(self) -> Path:
        """The folder of the rounds, which are six."""
        return self.after.runs


def play(folder: Path) -> Shared:
    """Play the evening."""
    for name, text in (("game", GAME), ("plan", PLAN), ("drill", DRILL), ("rig", rig_text('count_in = "1s"'))):
        (folder / f"{name}.toml").write_text(text, "utf-8")
    who = [f"--who={crew}.{role}={name}" for crew, people in ROSTER.items() for role, name in people.items()]
    files = ["--plan", str(folder / "plan.toml"), "--rig", str(folder / "rig.toml")]
    before = Evening(folder, str(folder / "drill.toml"), *files, "--seed", "7", *who)
    opened = [before]
    try:
        for place in range(CUT_SHORT + 1):
            _round(before, place)
        before.kill()
        for name in ("game", "plan", "drill"):
            (folder / f"{name}.toml").unlink()
        after = Evening(folder, "--resume")
        opened.append(after)
        for place in range(CUT_SHORT + 1, len(PLAYED)):
            _round(after, place)
        after.tap("start")
        after.hear("crew B has played all its rounds: now crew A")
        after.tap("leave")
        return Shared(folder, before, after, after.finish())
    finally:
        for evening in opened:
            evening.close()


def _round(evening: Evening, place: int) -> None:
    """Play a round to its result; the one that is cut short to its first mark."""
    crew, number, pushes = PLAYED[place]
    if place == 0:
        evening.hear("Is the field empty?")
        evening.tap("yes")
    elif place != CUT_SHORT + 1:                                 # gone on with, nobody is asked twice tonight
        evening.tap("start")                                     # behind the result of the round before
    if place and place != CUT_SHORT + 1 and _offered(place) != crew:
        evening.hear("Nobody on the field?")
        evening.tap("crew")
    evening.hear(f"Round {number} of 3, crew {crew}")
    evening.tap("clear")
    evening.hear("count-in")
    evening.tap("start")
    origin_ns: int = evening.await_round(place + 1, kind="origin", anchor="match")["origin_ns"]
    push_ns = origin_ns + WINDOW_S * NS_PER_S + 1000 * NS_PER_MS
    if pushes:
        evening.hold("mark.contact", push_ns, push_ns + 400 * NS_PER_MS)
    if place == CUT_SHORT:
        evening.await_round(place + 1, kind="mark")
        return
    home_ns = origin_ns + BEGINS_S * NS_PER_S + 2500 * NS_PER_MS
    evening.hold("mark.home", home_ns, home_ns + TAP_NS)
    evening.await_round(place + 1, kind="end")
    evening.hear("next round")


def _offered(place: int) -> str:
    """Return the crew whose turn it is by the rounds before: the one with fewer, else the other one."""
    before = [crew for crew, _, _ in PLAYED[:place]]
    other = next(crew for crew in ROSTER if crew != before[-1])
    return other if before.count(other) <= before.count(before[-1]) else before[-1]
