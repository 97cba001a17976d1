"""Sums that the trade commonly knows, in a game of our own: common practice, no source, each of them."""

from tests.support.analysis.rehearsal_games import ENDED_NS, STARTED, TIMELINE, push, touch
from tocsin.analysis.rounds.overlaps import window_times
from tocsin.analysis.rounds.stakes import points
from tocsin.model.game import Game, Period, Stake, Threshold
from tocsin.units import NS_PER_S as S

SUMS = ("lit", "wholly_under", "partly_under")
CASTING = Game(
    name="Casting",
    periods=(Period(id="driver", kind="driver", title="Hands on", lasts_ns=136 * S),),
    stakes=(
        Stake(id="contact", title="Touch at their hot floor", during="no_contact", points=18, to="opponents"),
        Stake(id="spilled", title="Bell for spilled metal", during="no_contact", points=21, to="opponents",
              counts="contact", every=3, most=1),
        Stake(id="lit", title="Furnace lit", points=3, to="us", most=2),
        Stake(id="wholly_under", title="Robot wholly under", points=10, to="us", counts="home", most=2),
        Stake(id="partly_under", title="Robot partly under", points=5, to="us", counts="home_half", most=2),
    ),
    thresholds=(
        Threshold(id="sixteen", title="Tenor bell", points=16, counts=SUMS),
        Threshold(id="twenty_one", title="Great bell", points=21, counts=SUMS),
    ),
)  # fmt: skip
LIT = touch(5, "lit"), touch(6, "lit", by="partner")
UNDER, PARTLY = touch(130, "home"), touch(130, "home_half", by="partner")


def came_to(*marks):
    return points(CASTING, marks, window_times(TIMELINE, STARTED), ended_ns=ENDED_NS)


def met(*marks):
    return [one.threshold for one in came_to(*marks).thresholds if one.met]


def test_three_contacts_and_what_is_awarded_for_them_swing_75():
    with_contacts = came_to(*LIT, UNDER, touch(121), push(124, 126), touch(130))
    assert with_contacts.cost == 3 * 18 + 21
    assert with_contacts.against(came_to(*LIT, UNDER)) == -75


def test_a_threshold_of_16():
    assert (came_to(*LIT, UNDER).gain, met(*LIT, UNDER)) == (3 + 3 + 10, ["sixteen"])
    assert met(LIT[0], UNDER) == []


def test_a_threshold_of_21():
    assert (came_to(*LIT, UNDER, PARTLY).gain, met(*LIT, UNDER, PARTLY)) == (3 + 3 + 10 + 5, ["sixteen", "twenty_one"])
