"""Marks against the window [138 s, 161 s), with a scribe's error of 0.8 s: overlap, class, and what the round costs.

Each case gives, for the marks that stand in their order, the exact overlap in milliseconds and the class; then the
cost: 15 a contact, 30 for an awarded return after three (common practice, no source).
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
    Case("ended long before", [push(120, 130)], [(0, "outside")], 0),
    Case("ended the error before", [push(130, 137.2)], [(0, "outside")], 0),
    Case("ended a little less before", [push(130, 137.201)], [(0, "unclear")], 0),
    Case("ended on the edge", [push(130, 138)], [(0, "unclear")], 0),
    Case("reached in by the error", [push(130, 138.8)], [(800, "unclear")], 0),
    Case("reached in by a little more", [push(130, 138.801)], [(801, "inside")], 15),
    Case("begun before and held", [push(130, 139.2)], [(1200, "inside")], 15),
    Case("begun before, held to behind the end", [push(130, 165)], [(23_000, "inside")], 15),
    Case("just as long as the window", [push(138, 161)], [(23_000, "inside")], 15),
    Case("begun on the edge", [push(138, 140)], [(2000, "inside")], 15),
    Case("short, right behind the edge", [push(138.2, 138.6)], [(400, "unclear")], 0),
    Case("short, over the edge", [push(137.8, 138.4)], [(400, "unclear")], 0),
    Case("in the middle", [push(140, 141.5)], [(1500, "inside")], 15),
    Case("shorter than the error, in the middle", [push(150, 150.4)], [(400, "inside")], 15),
    Case("held out of the window", [push(159, 170)], [(2000, "inside")], 15),
    Case("begun a little more than the error before its end", [push(160.199, 165)], [(801, "inside")], 15),
    Case("begun the error before its end", [push(160.2, 165)], [(800, "unclear")], 0),
    Case("begun at its end", [push(161, 163)], [(0, "unclear")], 0),
    Case("begun a little less than the error behind it", [push(161.799, 163)], [(0, "unclear")], 0),
    Case("begun the error behind it", [push(161.8, 163)], [(0, "outside")], 0),
    Case("long behind it", [push(170, 171)], [(0, "outside")], 0),
]

POINTS = [
    Case("touch in the middle", [touch(150)], [(0, "inside")], 15),
    Case("touch long before", [touch(137)], [(0, "outside")], 0),
    Case("touch a little more than the error before", [touch(137.199)], [(0, "outside")], 0),
    Case("touch the error before", [touch(137.2)], [(0, "unclear")], 0),
    Case("touch on the edge", [touch(138)], [(0, "unclear")], 0),
    Case("touch a little less than the error behind", [touch(138.799)], [(0, "unclear")], 0),
    Case("touch the error behind", [touch(138.8)], [(0, "inside")], 15),
    Case("touch a little more than the error before the end", [touch(160.199)], [(0, "inside")], 15),
    Case("touch the error before the end", [touch(160.2)], [(0, "unclear")], 0),
    Case("touch at the end", [touch(161)], [(0, "unclear")], 0),
    Case("touch a little less than the error behind the end", [touch(161.799)], [(0, "unclear")], 0),
    Case("touch the error behind the end", [touch(161.8)], [(0, "outside")], 0),
    Case("a span of no length is a point", [push(150, 150)], [(0, "inside")], 15),
    Case("an end before its begin is none", [push(150, 149)], [(0, "inside")], 15),
    Case("nor does it reach back", [push(138.8, 137)], [(0, "inside")], 15),
]

VIDEO = {"error_ns": 40 * MS}          # one frame of a video
EXACT = {"error_ns": 0}
SURE = [
    Case("a video sees the hold", [push(130, 138.1, **VIDEO)], [(100, "inside")], 15),
    Case("a video sees the gap", [push(130, 137.9, **VIDEO)], [(0, "outside")], 0),
    Case("not even a video sees that", [push(130, 138.02, **VIDEO)], [(20, "unclear")], 0),
    Case("exactly at the begin is inside", [touch(138, **EXACT)], [(0, "inside")], 15),
    Case("exactly at the end is outside", [touch(161, **EXACT)], [(0, "outside")], 0),
    Case("exactly up to the begin is outside", [push(130, 138, **EXACT)], [(0, "outside")], 0),
    Case("exactly from the end on is outside", [push(161, 163, **EXACT)], [(0, "outside")], 0),
]

# The run ended at 163 s.
OPEN = [
    Case("no end, begun inside", [held_on(150)], [(11_000, "inside")], 15),
    Case("no end, begun before", [held_on(130)], [(23_000, "unclear")], 0),
    Case("no end, begun near the begin", [held_on(138.5)], [(22_500, "unclear")], 0),
    Case("no end, begun near the end", [held_on(160.5)], [(500, "unclear")], 0),
    Case("no end, begun behind", [held_on(162)], [(0, "outside")], 0),
    Case("no end, begun behind the run", [held_on(170)], [(0, "outside")], 0),
]

SEVERAL = [
    Case("nothing", [], [], 0),
    Case("taken back", [push(140, 142), undo(0)], [], 0),
    Case("one of two taken back", [push(140, 142), push(150, 153), undo(0)], [(3000, "inside")], 15),
    Case("taken back and noted anew", [push(130, 145), undo(0), push(130, 137)], [(0, "outside")], 0),
    Case("two pushes", [push(136, 139), push(150, 151)], [(1000, "inside"), (1000, "inside")], 30),
    Case("two at once", [push(140, 145), push(142, 143)], [(5000, "inside"), (1000, "inside")], 30),
    Case("two and an unclear one", [push(130, 138.5), push(140, 141), touch(150)],
         [(500, "unclear"), (1000, "inside"), (0, "inside")], 30),
    Case("three: the award is due", [touch(140), touch(145), touch(150)], [(0, "inside")] * 3, 75),
    Case("four", [touch(140 + n) for n in range(4)], [(0, "inside")] * 4, 90),
    Case("six: the award is due once", [touch(140 + n) for n in range(6)], [(0, "inside")] * 6, 120),
    Case("the partner's costs too", [push(140, 141, by="partner")], [(1000, "inside")], 15),
    Case("the opponent's does not", [push(140, 141, by="opponent")], [(1000, "inside")], 0),
    Case("another label costs nothing", [push(140, 141, label="bump")], [(1000, "inside")], 0),
]  # fmt: skip

CASES = [*PUSHES, *POINTS, *SURE, *OPEN, *SEVERAL]
