"""A game that only the tests have, marks on its clock, and the stakes that the trade commonly knows.

Common practice, no source: 30 s + 8 s + 120 s, no contact in the last 20 s and while robots settle;
a contact costs 15, the third lets the opponents be awarded a full return of 30; leaving the start 3 a robot, a full
return 10, half 5, both full a further 10; thresholds of 16 and 21.
"""

from tests.support.model.lifecycle_games import SIMPLE
from tocsin.model.clock.origins import Origin
from tocsin.model.game import Game, Period, Stake, Threshold
from tocsin.model.mark import Mark
from tocsin.units import NS_PER_S as S

ORIGIN_NS = 1000 * S                   # where match time is zero on the shared clock
ENDED_NS = ORIGIN_NS + 163 * S         # the match, 3 s to settle, 2 s to ring out
TO_WIN = ("left_start", "full", "half", "both_full")

STAKES = (
    Stake(id="contact", title="Contact", during="no_contact", points=15, to="opponents"),
    Stake(id="award", title="Full return awarded", during="no_contact", points=30, to="opponents",
          counts="contact", every=3, most=1),
    Stake(id="left_start", title="Left its start", points=3, to="us", most=2),
    Stake(id="full", title="Full return", points=10, to="us", counts="home", most=2),
    Stake(id="half", title="Half return", points=5, to="us", counts="home_half", most=2),
    Stake(id="both_full", title="Both full", points=10, to="us", counts="home", every=2, most=1),
)  # fmt: skip
TRADE = Game(
    name="Trade",
    periods=(Period(id="driver", kind="driver", title="Driver", lasts_ns=158 * S),),     # the timeline is SIMPLE
    stakes=STAKES,
    thresholds=(
        Threshold(id="sixteen", title="Sixteen", points=16, counts=TO_WIN),
        Threshold(id="twenty_one", title="Twenty-one", points=21, counts=TO_WIN),
    ),
)
TIMELINE = SIMPLE                      # no_contact is [138 s, 161 s)
STARTED = (Origin(anchor="match", origin_ns=ORIGIN_NS),)


def ns(match_s):
    """Return the shared time of a match time in seconds, exact to the millisecond."""
    return ORIGIN_NS + round(match_s * 1000) * (S // 1000)


def push(begin_s, end_s, label="contact", **rest):
    return Mark(label=label, begin_ns=ns(begin_s), end_ns=ns(end_s), **rest)


def touch(at_s, label="contact", **rest):
    return Mark(label=label, begin_ns=ns(at_s), **rest)


def held_on(begin_s, **rest):
    """A push whose key never came up."""
    return touch(begin_s, open=True, **rest)


def undo(place, at_s=162):
    return touch(at_s, takes_back=place)
