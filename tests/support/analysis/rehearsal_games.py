"""A game that only the tests have, and marks on its clock.

A bell foundry: 28 s + 11 s + 97 s, no contact in the last 18 s and while robots coast. A touch costs 9, and two of
them a bell of 14 that goes to the opponents, once. A mould filled is worth 4; a robot wholly under the belfry 18,
partly 7, and 6 more where two are; three bells rung 12. Thresholds lie at 30 and 45.
"""

from tests.support.model.lifecycle_games import SIMPLE
from tocsin.model.clock.origins import Origin
from tocsin.model.game import Game, Period, Stake, Threshold
from tocsin.model.mark import Mark
from tocsin.units import NS_PER_S as S

ORIGIN_NS = 1000 * S                   # where match time is zero on the shared clock
ENDED_NS = ORIGIN_NS + 142 * S         # the match, 4 s to coast, 2 s to ring out
UNDER = ("under", "half_under", "balance")

STAKES = (
    Stake(id="contact", title="Contact", during="no_contact", points=9, to="opponents"),
    Stake(id="spilled", title="Bell for spilled metal", during="no_contact", points=14, to="opponents",
          counts="contact", every=2, most=1),
    Stake(id="mould", title="Mould filled", points=4, to="us", most=6),
    Stake(id="under", title="Robot wholly under", points=18, to="us", counts="home", most=2),
    Stake(id="half_under", title="Robot partly under", points=7, to="us", counts="home_half", most=2),
    Stake(id="balance", title="Beam in balance", points=6, to="us", counts="home_half", every=2, most=1),
    Stake(id="peal", title="Three bells rung", points=12, to="us", counts="rung", every=3, most=2),
)  # fmt: skip
FOUNDRY = Game(
    name="Foundry",
    periods=(Period(id="driver", kind="driver", title="Driver", lasts_ns=136 * S),),     # the timeline is SIMPLE
    stakes=STAKES,
    thresholds=(
        Threshold(id="tenor", title="Tenor bell", points=30, counts=(*UNDER, "peal")),
        Threshold(id="great_bell", title="Great bell", points=45, counts=("mould", *UNDER, "peal")),
    ),
)
TIMELINE = SIMPLE                      # no_contact is [118 s, 140 s)
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


def undo(place, at_s=141):
    return touch(at_s, takes_back=place)
