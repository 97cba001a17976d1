"""Silence alone never makes a worker hang; what the system tells of it does, within bounds that are stated here."""

import pytest

from tocsin.units import NS_PER_MS, NS_PER_S
from tocsin.workers.suspicion import (
    BURNT_NS,
    INSIDE_NS,
    SLICE_NS,
    STILL_NS,
    UNTOLD_NS,
    WOKEN_NS,
    Evidence,
    Suspicion,
)

TURN_NS = 50 * NS_PER_MS


def verdict_after_s(look, limit_s=60, turn_ns=TURN_NS):
    """Return (seconds, why) of the first verdict over what the system sees at each time, or None."""
    suspicion = Suspicion()
    for turn in range(round(limit_s * NS_PER_S / turn_ns)):
        if why := suspicion.weigh(look(turn * turn_ns), turn_ns):
            return turn * turn_ns / NS_PER_S, why
    return None


def test_a_stopped_worker_is_known_at_once():
    assert verdict_after_s(lambda ns: Evidence(5, 5, "stopped")) == (0, "was stopped")


@pytest.mark.parametrize(
    ("state", "within_ns"), [("waiting", STILL_NS), ("inside", INSIDE_NS), ("untold", UNTOLD_NS)]
)
def test_a_worker_that_stands_still_hangs_after_a_time_that_hangs_on_its_state(state, within_ns):
    after_s, why = verdict_after_s(lambda ns: Evidence(5, 5, state))
    assert why == "stands still"
    assert within_ns / NS_PER_S <= after_s <= within_ns / NS_PER_S + 0.1


@pytest.mark.parametrize("share", [1.0, 0.06], ids=["alone", "beside fifteen others"])
def test_a_loop_without_end_hangs_after_a_second_of_its_own_processor_time(share):
    after_s, why = verdict_after_s(lambda ns: Evidence(round(ns * share), ns // (10 * NS_PER_MS), "untold"))
    assert why.startswith("uses the processor")
    assert after_s * share == pytest.approx(BURNT_NS / NS_PER_S, abs=0.1)


def test_a_driver_that_wakes_and_waits_on_hangs_after_two_seconds():
    after_s, why = verdict_after_s(lambda ns: Evidence(0, ns // (10 * NS_PER_MS), "waiting"))
    assert why == "wakes again and again, no answer"
    assert after_s == pytest.approx(WOKEN_NS / NS_PER_S, abs=0.1)


def test_a_worker_at_work_that_others_push_aside_does_not_hang():
    """As one that makes sounds beside ten busy processes: four milliseconds, a wait, four more."""
    def look(ns):
        turns = ns // (40 * NS_PER_MS)
        return Evidence(turns * 4 * NS_PER_MS, turns, "waiting" if turns % 3 else "untold")

    suspicion = Suspicion()
    for turn in range(200):
        assert suspicion.weigh(look(turn * TURN_NS), TURN_NS, 20 * NS_PER_S) == ""


def test_a_worker_that_waits_for_the_processor_while_this_process_is_late_too_does_not_hang():
    assert verdict_after_s(lambda ns: Evidence(5, 5, "untold"), turn_ns=2 * SLICE_NS) is None


def test_a_starved_worker_that_gets_a_little_now_and_then_does_not_hang():
    def look(ns):
        slices = ns // (2 * NS_PER_S)                  # two milliseconds every two seconds
        return Evidence(slices * 2 * NS_PER_MS, slices, "untold")

    assert verdict_after_s(look) is None


def test_a_sign_of_life_clears_all_suspicion():
    suspicion = Suspicion()
    for _ in range(5):
        suspicion.pass_by(TURN_NS)
        assert suspicion.weigh(Evidence(5, 5, "waiting"), TURN_NS) == ""
    suspicion.heard()
    assert suspicion.silent_ns == 0
    for _ in range(5):
        assert suspicion.weigh(Evidence(5, 5, "waiting"), TURN_NS) == ""


def test_a_system_that_tells_nothing_accuses_nobody():
    assert verdict_after_s(lambda ns: None) is None
