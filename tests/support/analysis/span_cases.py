"""Marks against the window [118 s, 140 s), with a scribe's error of 0.8 s: overlap, class, and what the round costs.

Each case gives, for the marks that stand in their order, the exact overlap in milliseconds and the class; then the
cost: 9 a contact, and once 14 for two of them.
"""

from typing import NamedTuple

from tests.support.analysis.rehearsal_games import held_on, push, touch, undo
from tocsin.model.mark import Mark
from tocsin.units import NS_PER_MS as MS


class Case(NamedTuple):
    name: str
    marks: list[Mark]
    expected: list[tuple[int, str]]    # overlap in ms, class
    cost: int


PUSHES = [
    Case("ended long before", [push(100, 110)], [(0, "outside")], 0),
    Case("ended the error before", [push(110, 117.2)], [(0, "outside")], 0),
    Case("ended a little less before", [push(110, 117.201)], [(0, "unclear")], 0),
    Case("ended on the edge", [push(110, 118)], [(0, "unclear")], 0),
    Case("reached in by the error", [push(110, 118.8)], [(800, "unclear")], 0),
    Case("reached in by a little more", [push(110, 118.801)], [(801, "inside")], 9),
    Case("begun before and held", [push(110, 119.2)], [(1200, "inside")], 9),
    Case("begun before, held to behind the end", [push(110, 144)], [(22_000, "inside")], 9),
    Case("just as long as the window", [push(118, 140)], [(22_000, "inside")], 9),
    Case("begun on the edge", [push(118, 120)], [(2000, "inside")], 9),
    Case("short, right behind the edge", [push(118.2, 118.6)], [(400, "unclear")], 0),
    Case("short, over the edge", [push(117.8, 118.4)], [(400, "unclear")], 0),
    Case("in the middle", [push(120, 121.5)], [(1500, "inside")], 9),
    Case("shorter than the error, in the middle", [push(130, 130.4)], [(400, "inside")], 9),
    Case("held out of the window", [push(138, 149)], [(2000, "inside")], 9),
    Case("begun a little more than the error before its end", [push(139.199, 144)], [(801, "inside")], 9),
    Case("begun the error before its end", [push(139.2, 144)], [(800, "unclear")], 0),
    Case("begun at its end", [push(140, 142)], [(0, "unclear")], 0),
    Case("begun a little less than the error behind it", [push(140.799, 142)], [(0, "unclear")], 0),
    Case("begun the error behind it", [push(140.8, 142)], [(0, "outside")], 0),
    Case("long behind it", [push(149, 150)], [(0, "outside")], 0),
]

POINTS = [
    Case("touch in the middle", [touch(130)], [(0, "inside")], 9),
    Case("touch long before", [touch(117)], [(0, "outside")], 0),
    Case("touch a little more than the error before", [touch(117.199)], [(0, "outside")], 0),
    Case("touch the error before", [touch(117.2)], [(0, "unclear")], 0),
    Case("touch on the edge", [touch(118)], [(0, "unclear")], 0),
    Case("touch a little less than the error behind", [touch(118.799)], [(0, "unclear")], 0),
    Case("touch the error behind", [touch(118.8)], [(0, "inside")], 9),
    Case("touch a little more than the error before the end", [touch(139.199)], [(0, "inside")], 9),
    Case("touch the error before the end", [touch(139.2)], [(0, "unclear")], 0),
    Case("touch at the end", [touch(140)], [(0, "unclear")], 0),
    Case("touch a little less than the error behind the end", [touch(140.799)], [(0, "unclear")], 0),
    Case("touch the error behind the end", [touch(140.8)], [(0, "outside")], 0),
    Case("a span of no length is a point", [push(130, 130)], [(0, "inside")], 9),
    Case("an end before its begin is none", [push(130, 129)], [(0, "inside")], 9),
    Case("nor does it reach back", [push(118.8, 117)], [(0, "inside")], 9),
]

VIDEO = {"error_ns": 40 * MS}          # one frame of a video
EXACT = {"error_ns": 0}
SURE = [
    Case("a video sees the hold", [push(110, 118.1, **VIDEO)], [(100, "inside")], 9),
    Case("a video sees the gap", [push(110, 117.9, **VIDEO)], [(0, "outside")], 0),
    Case("not even a video sees that", [push(110, 118.02, **VIDEO)], [(20, "unclear")], 0),
    Case("exactly at the begin is inside", [touch(118, **EXACT)], [(0, "inside")], 9),
    Case("exactly at the end is outside", [touch(140, **EXACT)], [(0, "outside")], 0),
    Case("exactly up to the begin is outside", [push(110, 118, **EXACT)], [(0, "outside")], 0),
    Case("exactly from the end on is outside", [push(140, 142, **EXACT)], [(0, "outside")], 0),
]

# The run ended at 142 s.
OPEN = [
    Case("no end, begun inside", [held_on(130)], [(10_000, "inside")], 9),
    Case("no end, begun before", [held_on(110)], [(22_000, "unclear")], 0),
    Case("no end, begun near the begin", [held_on(118.5)], [(21_500, "unclear")], 0),
    Case("no end, begun near the end", [held_on(139.5)], [(500, "unclear")], 0),
    Case("no end, begun behind", [held_on(141)], [(0, "outside")], 0),
    Case("no end, begun behind the run", [held_on(149)], [(0, "outside")], 0),
]

SEVERAL = [
    Case("nothing", [], [], 0),
    Case("taken back", [push(120, 122), undo(0)], [], 0),
    Case("one of two taken back", [push(120, 122), push(130, 133), undo(0)], [(3000, "inside")], 9),
    Case("taken back and noted anew", [push(110, 125), undo(0), push(110, 117)], [(0, "outside")], 0),
    Case("two pushes", [push(116, 119), push(130, 131)], [(1000, "inside"), (1000, "inside")], 32),
    Case("two at once", [push(120, 125), push(122, 123)], [(5000, "inside"), (1000, "inside")], 32),
    Case("two and an unclear one", [push(110, 118.5), push(120, 121), touch(130)],
         [(500, "unclear"), (1000, "inside"), (0, "inside")], 32),
    Case("three: a bell is due", [touch(120), touch(125), touch(130)], [(0, "inside")] * 3, 41),
    Case("four: it is due once", [touch(120 + n) for n in range(4)], [(0, "inside")] * 4, 50),
    Case("six: and no third time", [touch(120 + n) for n in range(6)], [(0, "inside")] * 6, 68),
    Case("the partner's costs too", [push(120, 121, by="partner")], [(1000, "inside")], 9),
    Case("the opponent's does not", [push(120, 121, by="opponent")], [(1000, "inside")], 0),
    Case("another label costs nothing", [push(120, 121, label="bump")], [(1000, "inside")], 0),
]  # fmt: skip

CASES = [*PUSHES, *POINTS, *SURE, *OPEN, *SEVERAL]
