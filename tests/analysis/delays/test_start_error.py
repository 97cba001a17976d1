"""How late and how surely a person starts the clock, from simulated presses."""

import random
import statistics

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.analysis.reading_worlds import WORLDS
from tocsin.analysis.delays.start_error import Judged, judge_starts, start_error, start_lines
from tocsin.model.clock.sync import Sync
from tocsin.model.rig import Start
from tocsin.units import NS_PER_MS

STARTS_NS = [n * 8_000 * NS_PER_MS for n in range(1, 21)]
BIAS_MS, SPREAD_MS = 5.0, 10.0             # what a vigilance test's device may be off by


def pressed(by, *late_ms, at=1):
    starts = STARTS_NS[:at]
    return judge_starts(by, starts, [starts[-1] + round(ms * NS_PER_MS) for ms in late_ms])[-1]


@pytest.mark.parametrize(
    ("by", "late_ms", "judged"),
    [
        ("horn", [230], Judged(230.0)),
        ("horn", [100], Judged(100.0)),
        ("horn", [99], Judged(None, True)),        # Basner and Dinges 2011: below 100 ms nobody can have answered
        ("horn", [-800], Judged(None, True)),
        ("horn", [1500], Judged(None)),
        ("horn", [230, 400], Judged(230.0)),       # pressed twice: the first counts
        ("horn", [-800, 230], Judged(None, True)),
        ("horn", [], Judged(None)),
        ("press", [99], Judged(None, True)),
        ("count_in", [-60], Judged(-60.0)),        # people press before a beat that they see coming (Repp 2005)
        ("count_in", [0], Judged(0.0)),
        ("count_in", [-500], Judged(-500.0)),
        ("count_in", [-1000], Judged(None, True)),     # on the beat before
        ("count_in", [1000], Judged(None)),
        ("countdown", [80], Judged(80.0)),
    ],
)
def test_a_press_is_judged_by_how_the_start_is_given(by, late_ms, judged):
    assert pressed(by, *late_ms) == judged


def test_a_press_that_answers_one_start_is_no_false_start_of_the_next():
    judged = judge_starts("horn", STARTS_NS[:2], [STARTS_NS[0] + 300 * NS_PER_MS, STARTS_NS[1] + 250 * NS_PER_MS])
    assert judged == (Judged(300.0), Judged(250.0))


def person(rng, by, late_ms, spread_ms):
    """Press at each start; one in ten is missed, one in twenty guessed."""
    presses = []
    for at_ns in STARTS_NS:
        draw = rng.random()
        if draw < 0.05:
            presses.append(at_ns - 2_000 * NS_PER_MS)
        elif draw > 0.1:
            presses.append(at_ns + round(rng.gauss(late_ms, spread_ms) * NS_PER_MS))
    return start_error(by, judge_starts(by, STARTS_NS, presses))


@pytest.mark.parametrize(("by", "late_ms", "spread_ms"), [("horn", 260, 40), ("press", 310, 60), ("count_in", -25, 30)])
def test_a_person_of_known_error_is_recovered(by, late_ms, spread_ms):
    rng = random.Random(by)
    found = [person(rng, by, late_ms, spread_ms) for _ in range(300)]
    assert abs(statistics.fmean(one.reading.median_ms for one in found) - late_ms) < BIAS_MS / 2
    assert abs(statistics.fmean(one.reading.spread_ms for one in found) - spread_ms) < SPREAD_MS / 4
    held = statistics.fmean(one.spread_low_ms <= spread_ms <= one.spread_high_ms for one in found)
    assert held >= 0.93
    assert sum(one.false_starts for one in found) == pytest.approx(300 * 20 * 0.05, rel=0.25)


def test_a_press_far_too_late_counts_and_hardly_moves_anything():
    """It came to its start, and may come at a match; but a tenth of a second of spread is not made of one in twenty."""
    steady = [Judged(200.0 + 7.3 * n) for n in range(19)]
    alone, beside = start_error("horn", steady), start_error("horn", [*steady, Judged(1200.0)])
    assert (beside.reading.n, beside.reading.refused) == (20, 0)
    assert abs(beside.reading.median_ms - alone.reading.median_ms) < 5
    assert beside.reading.spread_ms < 1.2 * alone.reading.spread_ms


@pytest.mark.parametrize("world", ["normal", "ex-Gaussian", "rounded", "long tail"])
@pytest.mark.parametrize("starts", [8, 16])
def test_what_is_measured_makes_the_clock_tell_an_error_that_holds(world, starts):
    """From the starts over the rig to the ± on the screen, for people of known answers: by the mean of 250
    measurements (``TOCSIN_EXAMPLES`` asks for more), each of which meets 500 starts of its person. Its standard
    error is 0.5 in 100 at most. Where 95 are promised 93 must be held, and some 94.5 are, but for the long tail (ten
    times the deviation), which so few starts do not show. The ex-Gaussian was held in 89 to 92 when spreads were taken
    for standard deviations, medians for means, and few starts for many."""
    rng = np.random.default_rng(5)
    people = 10 * settings.default.max_examples
    shown = WORLDS[world].draw(rng, (people, starts))
    met = WORLDS[world].exact(rng, (people, 500))
    held = []
    for presses_ms, later_ms in zip(shown, met, strict=True):
        late_ms, spread_ms = start_error("press", [Judged(float(ms)) for ms in presses_ms]).rig_ms
        error_ms = Sync.started(Start(by="press", late_ms=late_ms, spread_ms=spread_ms)).error_ms
        held.append(np.mean(abs(later_ms - late_ms) <= error_ms))
    assert np.mean(held) >= (0.91 if world == "long tail" else 0.93)


def test_presses_told_in_tens_are_known_to_no_better_than_ten():
    found = start_error("horn", [Judged(250.0)] * 12)
    assert (found.reading.low_ms, found.reading.high_ms) == (245, 255)
    assert (found.spread_low_ms, found.spread_high_ms) == (0, 10)


def test_the_rig_gets_whole_milliseconds_and_no_spread_that_no_hand_has():
    steady = start_error("count_in", [Judged(-12.4)] * 10)
    assert steady.rig_ms == (-12, 10)
    with pytest.raises(ValueError, match="no good start"):
        _ = start_error("count_in", [Judged(None)]).rig_ms


def test_words_say_what_was_measured_and_what_the_rig_went_by():
    presses = [Judged(200.0 + 10.3 * n) for n in range(16)] + [Judged(None, True), Judged(None)]
    found = start_error("horn", presses)
    lines = list(start_lines(found, Start(by="horn")))
    assert lines[0] == (
        "You start the clock 0.28 s late (middle value), and your starts differ by 0.05 s; "
        "the rig uses 0.25 s late and 0.10 s."
    )
    first = "From 16 starts: first number 0.24 s late to 0.32 s late, second between 0."
    assert lines[1].startswith(first)
    assert lines[1].endswith("s (95 % sure).")
    assert lines[2] == "Left out: 1 false start, 1 missed."
    assert len(lines) == 3


def test_words_do_not_give_a_lower_limit_that_is_none():
    found = start_error("count_in", [Judged(-20.0 + 3.1 * n) for n in range(6)])
    assert ", second at 0.01 s or less (95 % sure)." in list(start_lines(found, Start()))[1]


def test_words_say_when_there_is_too_little_to_go_by():
    few = start_error("count_in", [Judged(-20.0), Judged(-40.0)])
    lines = list(start_lines(few, Start()))
    assert lines[0].startswith("You start the clock 0.03 s early")
    assert lines[1] == "Too few to know how exact this is: it needs 6 good starts."
    assert lines[-1] == "Too few to use: 2 good starts, 8 are needed."
    assert not any("95 %" in line for line in lines)
    assert list(start_lines(start_error("horn", [Judged(None)]), Start())) == [
        "No answer to 1 start: nothing is measured."
    ]


@given(
    st.sampled_from(["count_in", "countdown", "horn", "press"]),
    st.lists(st.integers(0, 200_000), max_size=60),
)
def test_every_start_is_answered_missed_or_false(by, presses_ms):
    judged = judge_starts(by, STARTS_NS, [ms * NS_PER_MS for ms in presses_ms])
    found = start_error(by, judged)
    good = found.reading.n + found.reading.refused if found.reading else 0
    assert found.starts == len(STARTS_NS) == good + found.missed + found.false_starts
