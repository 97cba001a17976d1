"""The bundled drills as whole processes, forty times as fast: the first rounds of each at a window with virtual pads,
its keys pressed by the window system, results held against a reckoning by when hands pressed.

``python -m tests.attacks.evenings`` plays them whole, at the speed of a match.
"""

from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.support.channels.screen_stand import MISSING
from tests.support.people.bundled_courses import DRILLS
from tests.support.people.bundled_results import play_and_judge
from tests.support.people.reckoned_round import Clock, Noted, Rule, apart, reckon
from tocsin.config import bundle
from tocsin.units import NS_PER_S

ROUNDS, RATE, SIZE = 2, 40, (640, 360)


@pytest.fixture(scope="module")
def evenings(tmp_path_factory):
    """Begin them all: each waits for its rounds most of the time."""
    with ThreadPoolExecutor(len(DRILLS)) as pool:
        yield {
            name: pool.submit(play_and_judge, name, tmp_path_factory.mktemp(name), RATE, SIZE, most=ROUNDS)
            for name in DRILLS
        }


def test_every_bundled_drill_has_an_evening():
    assert set(DRILLS) == set(bundle.names("drills"))


@pytest.mark.devices
@pytest.mark.skipif(bool(MISSING), reason=f"not installed: {', '.join(MISSING)}")
@pytest.mark.parametrize("drill", DRILLS)
def test_each_result_is_what_the_keys_come_to(evenings, drill):
    row = evenings[drill].result()
    played = ROUNDS + (drill == "three_in_a_row")          # of which one is repeated
    assert row.amiss == ()
    assert (row.rounds, row.equal, row.not_counted) == (played, played, played)


def test_a_result_that_is_not_that_of_the_keys_is_told():
    """Else the comparison above would say nothing."""
    def round_of(*marks, rule=Rule(None, 0)):                              # noqa: B008
        return reckon([Noted(*mark) for mark in marks], Clock(0, 1), 114 * NS_PER_S, 145 * NS_PER_S, rule)

    home = ("home", 128 * NS_PER_S, 128 * NS_PER_S)
    clean = round_of(home)
    touched = round_of(("contact", 116 * NS_PER_S, 120 * NS_PER_S), home)
    assert (clean.clean, touched.clean, touched.cost) == (True, False, 9)
    assert apart(clean, [clean, touched], 0) == []
    assert [what.split(" is ")[0] for what in apart(touched, [clean], NS_PER_S)] == [
        "clean", "break_off_margin_ns", "contacts", "overlap_ns", "cost", "cost_at_most",
    ]  # fmt: skip
    later = round_of(("home", 129 * NS_PER_S, 129 * NS_PER_S))
    assert apart(later, [clean], 2 * NS_PER_S) == []
    assert apart(later, [clean], NS_PER_S // 2) == [
        f"home_margin_ns is {7 * NS_PER_S}, reckoned {8 * NS_PER_S}"
    ]
