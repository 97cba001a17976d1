"""Twelve rounds at twenty times the speed, played by people who know their keys: a whole evening on a virtual pad."""

import random
from pathlib import Path
from typing import Any, NamedTuple

from tests.support.config.bundled_copies import copied
from tests.support.people.drive_team import HABITS, Deed, Driver, Scribe
from tests.support.people.evening import TAP_NS, Evening, Press, rig_text
from tests.support.people.reckoned_round import Clock, Reckoned, Rule, noted, reckon
from tocsin.config.drills import LoadedDrill, load_drill
from tocsin.units import NS_PER_MS, NS_PER_S

RATE, ROUNDS, SEED, HALF_SPEED = 20, 12, 12, 2
MATCH_END_S, WINDOW_S, LEAD_S, BEGINS_S = 136, 118, 4, 24       # begins so long before the end, or up to 1 s more
# The drill's own limits are in real time, as it would be pressed: 2.3 s and 12 s of the match.
DRILL = """
format = "tocsin-drill/1"
name = "Twenty times as fast"
trains = "breaking off in time"
place = "field"
plan = "full"
from = "driver.end-24s"
rounds = 12
half_speed = 2
rest = "9s"
marks = ["contact", "turned", "home"]
safely = ["A soft dummy."]
questions = ["Is the field empty?"]
[vary]
plan = ["full", "mine.toml"]
setup = ["at the far wall", "in the middle"]
coach = ["silent", "calling"]
lead = "break_off"
shift = ["0s", "+1s", "-1s"]
from_spread = "1s"
[clean]
keep_off = ["no_contact"]
turned = "115ms"
home = "600ms"
[goal]
clean = 8
of = 10
"""
# A plan of the team's own: the bundled one with a name, a cue and a pattern more.
MINE = """
[[cue]]
id = "only_mine"
at = "driver.end-9s"
for = ["driver"]
screen = "mine"
say = "Mine"

[pattern.screen.mine]
field = "none"
colours = ["white"]
letters = "white"
frame = "stands"
lasts = "1s"
"""
RULE = Rule(turned_ns=115 * NS_PER_MS, home_ns=600 * NS_PER_MS)
BATTERY_AFTER = (3, 6, 9)              # a new battery every three rounds


class Played(NamedTuple):
    """What twelve rounds left behind."""

    code: int
    evening: Evening
    presses: list[Press]
    loaded: LoadedDrill

    def facts(self, number: int) -> dict[str, Any]:
        """Return what the header of a round, from 1, says of it."""
        return facts(self.evening, number)

    def clock(self, number: int) -> Clock:
        """Return the match clock of a round, as its origin says."""
        rows = self.evening.records(number - 1)
        return Clock(next(r["origin_ns"] for r in rows if r["kind"] == "origin" and r["anchor"] == "match"), RATE)

    def reckoned(self, number: int) -> Reckoned:
        """Return what a round came to by what people pressed in it, and by how late the call home was at least."""
        rows = self.evening.records(number - 1)
        begin_ns = next(row["at_ns"] for row in rows if row["kind"] == "origin")
        ended_ns = next(row["at_ns"] for row in rows if row["kind"] == "end")
        presses = [press for press in self.presses if begin_ns <= press.begin_ns < ended_ns]
        late_ns = min(row["late_ns"] for row in rows if row.get("cue") == "home" and row.get("outcome") == "played")
        call_ns = self.clock(number).real_ns(_call_s(self.facts(number)["condition"])) + late_ns
        return reckon(noted(presses, ended_ns), self.clock(number), call_ns, ended_ns, RULE)


def facts(evening: Evening, number: int) -> dict[str, Any]:
    """Return what the header of a round, from 1, says of it."""
    said: dict[str, Any] = evening.records(number - 1)[0]["options"]["drill"]
    return said


def play(folder: Path) -> Played:
    """Play all rounds."""
    drill, rig = folder / "drill.toml", folder / "rig.toml"
    drill.write_text(DRILL, "utf-8")
    mine = copied(folder / "mine.toml", "plans/full.toml", ('name = "Full"', 'name = "Mine"'))
    mine.write_text(mine.read_text("utf-8") + MINE, "utf-8")
    rig.write_text(rig_text('by = "countdown"'), "utf-8")
    evening = Evening(folder, str(drill), "--rig", str(rig), "--rate", str(RATE), "--seed", str(SEED))
    habits = random.Random(SEED).sample(HABITS, ROUNDS)
    try:
        evening.hear("Is the field empty?")
        evening.tap("yes")
        for number, habit in enumerate(habits, 1):
            evening.hear("Nobody on the field?")
            if number - 1 in BATTERY_AFTER:
                _change(evening, number)
            evening.tap("clear")
            evening.hear("as the countdown ends")
            evening.tap("start")
            clock = Clock(evening.await_round(number, kind="origin", anchor="match")["origin_ns"], RATE)
            rng = random.Random(f"drive team {number}")
            condition = facts(evening, number)["condition"]
            deeds = Driver(rng).drive(habit, begins_s(condition), _call_s(condition), MATCH_END_S)
            for key in Scribe(rng).note(deeds):
                _press(evening, key, clock)
            evening.await_round(number, kind="end")
            evening.hear("end of the drill" if number == ROUNDS else "next round")
            evening.tap("start")
        return Played(evening.finish(), evening, evening.presses(), load_drill(str(drill), str(rig)))
    finally:
        evening.close()


def begins_s(condition: dict[str, Any]) -> float:
    """Return at which match second a round begins."""
    earlier_s: float = condition["earlier_ns"] / NS_PER_S
    return MATCH_END_S - BEGINS_S - earlier_s


def _call_s(condition: dict[str, Any]) -> float:
    shift_s: float = condition["shift_ns"] / NS_PER_S
    return WINDOW_S - LEAD_S - shift_s


def _change(evening: Evening, number: int) -> None:
    evening.hear(f"Round {number} of")
    evening.tap("battery")
    evening.hear("Is the field empty?")
    evening.tap("yes")
    evening.hear("Nobody on the field?")


def _press(evening: Evening, key: Deed, clock: Clock) -> None:
    begin_ns = clock.real_ns(key.begin_s)
    end_ns = begin_ns if key.end_s is None else clock.real_ns(key.end_s)
    evening.hold(f"mark.{key.label}", begin_ns, max(end_ns, begin_ns + TAP_NS))
