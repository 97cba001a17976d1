"""The program's clock and a second model of it, written without it, live the same lives.

Five hundred here; `tests/attacks/lives.py` lives ten thousand.
"""

from collections import Counter
from functools import cache

import pytest

from tests.support.model.second_clock import Cue, Moment, Period
from tests.support.model.two_clocks import START_NS, Life, compiled, lived, random_life, second_of
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

BATCH = 50


@cache
def batch(first):
    return {seed: lived(random_life(seed)) for seed in range(first, first + BATCH)}


@pytest.mark.parametrize("first", range(0, 500, BATCH))
def test_both_clocks_live_the_same_lives(first):
    assert {seed: one.difference for seed, one in batch(first).items() if one.difference} == {}


def test_the_lives_meet_everything_that_can_happen():
    met = Counter()
    for first in (0, BATCH, 2 * BATCH):
        for one in batch(first).values():
            met += one.met
    few = {what: met[what] for what in (
        "start", "begin", "hold", "go_on", "correct", "choose", "mark", "call", "scrap", "played", "resumed", "off",
        "skipped", "mid-match", "open", "over",
    ) if met[what] < 4}  # fmt: skip
    assert few == {}


# -- what was found, by hand ------------------------------------------------------------------------------------------


def life_of(periods, cues, *deeds, windows=()):
    return Life(periods, cues, windows, ((START_NS, "start", (("match", 0), START_NS, 1.0)), *deeds))


def at_s(seconds):
    return START_NS + round(seconds * S) + 7


OPEN = (Period("p0", 10 * S), Period("p1", None), Period("p2", 30 * S), Period("p3", 20 * S, by_hand=True))
HOME = Cue("home", (Moment(1, "begin", 8 * S), Moment(2, "begin", 3 * S)), callable=True)
ACROSS = Cue("across", (Moment(0, "begin", 2 * S),), (Moment(2, "begin", 25 * S),))
PADS = Cue("pads", (Moment(1),), (Moment(2),))
AFTER_MARK = Cue("after", (Moment("m1"),), (Moment("m0"),))
FOUND = {
    "a call in a part behind one left early": life_of(
        OPEN, (HOME,), (at_s(12), "begin", at_s(12)), (at_s(13), "call", "home"), (at_s(60), "look", None)
    ),
    "a state across two parts as a third begins": life_of(
        OPEN, (ACROSS,), (at_s(12), "begin", at_s(12)), (at_s(20), "begin", at_s(20)),
        (at_s(43), "begin", at_s(43)), (at_s(90), "look", None),
    ),
    "a correction in the count-in of a mid-match start": Life(
        OPEN, (PADS,), (),
        ((START_NS, "start", (("p2", 0), START_NS + 5 * S, 1.0)), (at_s(4), "correct", -200 * MS),
         (at_s(5.1), "correct", -200 * MS), (at_s(9), "look", None)),
    ),
    "a clock set back before its start in mid-match": Life(
        OPEN, (ACROSS,), (),
        ((START_NS, "start", (("match", 5 * S), START_NS, 1.0)), (at_s(0.1), "correct", -700 * MS),
         (at_s(0.2), "look", None), (at_s(3), "look", None)),
    ),
    "a cue from a mark on until one that was made before": life_of(
        OPEN, (AFTER_MARK,), (at_s(3), "mark", ("m0", at_s(3))), (at_s(5), "mark", ("m1", at_s(5))),
        (at_s(20), "look", None),
    ),
    "a start where all is over": Life(
        (Period("p0", 10 * S),), (Cue("c", (Moment(0),)),), (),
        ((START_NS, "start", (("match", 10 * S), START_NS, 1.0)), (at_s(9), "look", None)),
    ),
}  # fmt: skip


@pytest.mark.parametrize("life", FOUND.values(), ids=FOUND)
def test_what_was_found_stays_fixed(life):
    assert compiled(life) is not None
    assert lived(life).difference == ""


def test_a_call_behind_a_part_left_early_is_not_followed_by_the_call_that_it_stood_for():
    """By the second model alone, so that it is no accident that both agree."""
    life = FOUND["a call in a part behind one left early"]
    second = second_of(life)
    for now_ns, verb, argument in life.deeds:
        second.advance(now_ns)
        if verb != "look":
            getattr(second, verb)(*(argument if verb == "start" else (argument,)))
    assert [entry[1:4] for entry in second.log] == [("played", "home", 2)]
