"""Rows of an invented team's season: pushes that a call found, as journals come to them."""

import math
from datetime import date, timedelta

import numpy as np

from tests.support.analysis.seasons import evening_times
from tocsin.analysis.seasons.row import Row

FIRST = date(2031, 1, 7)               # a Tuesday; an evening a week
SHIFTS = (0.0, 1.0, -1.0)


def evening_of(number):
    """Return the date of an evening, from 0."""
    return FIRST + timedelta(days=7 * number)


def row(evening=0, number=1, **changed):
    """Return a counted round of Break off on an evening, 1 as its number; the call found a push, which took 2.5 s."""
    day = evening_of(evening).isoformat()
    clock = f"{day}T18:{number % 60:02}:00.000"
    known = {
        "folder": f"{day}-{number}", "wall": f"{clock}Z", "local": f"{clock}+00:00", "evening": day,
        "game": "Casting Day", "plan": "Full", "source": "", "outcome": "over", "kind": "drill",
        "drill": "Break off", "session": day,
        "round": number, "counted": True, "watched": True, "push_at_call": True, "leads_s": {"break_off": 4.0},
        "break_off_at_least_s": 2.5, "break_off_at_most_s": 2.5, "break_off_by": "key",
        "clock_spread_ms": 120.0,
    }  # fmt: skip
    return Row(**{**known, **changed})


def push(seconds, evening=0, number=1, **changed):
    """Return a round whose push ended so long after its call."""
    return row(evening, number, break_off_at_least_s=seconds, break_off_at_most_s=seconds, **changed)


def season_rows(
    seed=1, evenings=9, rounds=10, *, median_s=2.6, spread=0.2, lag_s=0.0, follows=1.0, lead_s=4.0, **changed
):
    """Return the rounds of a season: shifts dealt by lot in blocks of three, of which pushes follow a part."""
    rng = np.random.default_rng(seed)
    found = []
    for evening, times in enumerate(evening_times(rng, evenings, rounds, 0.05, median_s=median_s, spread=spread)):
        shifts = np.concatenate([rng.permutation(SHIFTS) for _ in range(math.ceil(rounds / len(SHIFTS)))])
        for number, (time, shift) in enumerate(zip(times.tolist(), shifts.tolist(), strict=False), start=1):
            took = round(time + lag_s + (1 - follows) * shift, 3)
            found.append(
                push(took, evening, number, shift_s=shift, leads_s={"break_off": lead_s + shift}, seed=seed, **changed)
            )
    return found


def home_rows(seed=1, evenings=9, *, turn_s=1.5, ways_s=None, lag_s=0.0, left_s=22.0, half_at_s=None):
    """Return rounds of Turn: ``ways_s`` is the middle way of each set-up, twelve rounds an evening in all. Who is not
    home ``left_s`` after the call is not home; who is not ``half_at_s`` after it is half home then."""
    rng, found = np.random.default_rng(seed), []
    ways_s = ways_s or {"far": 9.0, "near": 5.0}
    for evening in range(evenings):
        for number, setup in enumerate(rng.permutation(list(ways_s) * (12 // len(ways_s))).tolist(), start=1):
            turn = round(float(rng.lognormal(math.log(turn_s), 0.2)) + lag_s, 3)
            way = round(float(rng.lognormal(math.log(ways_s[setup]), 0.15)), 3)
            home, low, high = "home", way, way
            if half_at_s is not None and turn + way > half_at_s:
                home, low, high = "home_half", half_at_s - turn, half_at_s - turn
            elif turn + way > left_s:
                home, low, high = "home_none", left_s - turn, None
            found.append(row(
                evening, number, drill="Turn", setup=setup, push_at_call=False, break_off_at_least_s=None,
                break_off_at_most_s=None, break_off_by="", turn_s=turn, turn_at_least_s=turn, turn_at_most_s=turn,
                turn_by="key" if lag_s else "video", home=home, home_by="key" if lag_s else "video",
                way_at_least_s=low, way_at_most_s=high, leads_s={"home": left_s},
            ))  # fmt: skip
    return found
