"""Points at stake: figures from outside, what counts, thresholds and what would have met them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.support.analysis.rehearsal_games import ENDED_NS, STARTED, TIMELINE, TRADE, held_on, ns, push, touch, undo
from tocsin.analysis.rounds.overlaps import window_times
from tocsin.analysis.rounds.stakes import points
from tocsin.config import bundle
from tocsin.config.load import load
from tocsin.model.game import Stake, Threshold
from tocsin.units import NS_PER_S as S

TIMES = window_times(TIMELINE, STARTED)


def came_to(*marks, game=TRADE, times=TIMES, ended_ns=ENDED_NS):
    return points(game, marks, times, ended_ns=ended_ns)


def left(by="us"):
    return touch(5, "left_start", by=by)


def home(at_s=150, by="us", label="home"):
    return touch(at_s, label, by=by)


def half(at_s=150, by="us"):
    return home(at_s, by, "home_half")


def reached(found, name):
    return next(one for one in found.thresholds if one.threshold == name)


def ways(found, name):
    """Return what would have met a threshold, as sets of (label, times)."""
    return [{(one.label, one.times) for one in way} for way in reached(found, name).would_have]


# -- from outside: common practice, no source ------------------------------------------------------------------------


def test_three_contacts_and_an_awarded_return_swing_75():
    played = [left(), home()]
    with_contacts = came_to(*played, touch(141), push(144, 146), touch(150))
    without = came_to(*played)
    assert (with_contacts.cost, without.cost) == (3 * 15 + 30, 0)
    assert with_contacts.against(without) == -75
    assert without.against(with_contacts) == 75


@pytest.mark.parametrize(
    ("marks", "gain"),
    [
        ([left()], 3),
        ([left(), left("partner")], 6),
        ([home()], 10),
        ([half()], 5),
        ([home(), half(by="partner")], 15),
        ([home(), home(by="partner")], 10 + 10 + 10),
        ([left(), left("partner"), home(), home(by="partner")], 36),
    ],
)
def test_what_leaving_and_returning_are_worth(marks, gain):
    found = came_to(*marks)
    assert (found.gain, found.cost, found.net_points) == (gain, 0, gain)


@pytest.mark.parametrize(
    ("marks", "met"),
    [
        ([left(), left("partner"), home()], ["sixteen"]),
        ([left(), home()], []),
        ([left(), left("partner"), half(), half(by="partner")], ["sixteen"]),
        ([left(), left("partner"), home(), half(by="partner")], ["sixteen", "twenty_one"]),
        ([home(), home(by="partner")], ["sixteen", "twenty_one"]),
        ([], []),
    ],
)
def test_which_thresholds_are_met(marks, met):
    assert [one.threshold for one in came_to(*marks).thresholds if one.met] == met


def test_a_threshold_of_21_is_met_by_both_leaving_and_one_and_a_half_returns_or_by_two_full_returns():
    """Exactly the two ways that the trade knows come out of the search, the shorter one first."""
    assert ways(came_to(), "twenty_one") == [
        {("home", 2)},
        {("left_start", 2), ("home", 1), ("home_half", 1)},
    ]


def test_a_threshold_of_16_is_met_by_both_leaving_and_one_full_return():
    found = ways(came_to(), "sixteen")
    assert {("left_start", 2), ("home", 1)} in found
    assert all(sum(times for _, times in way) <= 4 for way in found)


# -- what would have met a threshold ----------------------------------------------------------------------------------


def test_half_a_return_was_missing():
    found = came_to(left(), left("partner"), home())
    assert (reached(found, "twenty_one").have, reached(found, "twenty_one").met) == (16, False)
    assert ways(found, "twenty_one") == [{("home", 1)}, {("home_half", 1)}]


def test_half_home_might_have_been_home():
    """With one half return beside, ours fully home takes the place of ours half home."""
    found = came_to(left(), left("partner"), half(), half(by="partner"))
    assert reached(found, "twenty_one").have == 16
    assert ways(found, "twenty_one") == [{("home", 1)}]
    assert reached(found, "twenty_one").would_have[0][0].title == "Full return"


def test_a_threshold_that_was_met_misses_nothing():
    assert reached(came_to(home(), home(by="partner")), "sixteen").would_have == ()


PUMPS = replace(
    TRADE,
    stakes=(Stake(id="pumped", title="Pumped", points=3, to="us"),),
    thresholds=(Threshold(id="t", title="T", points=30, counts=("pumped",)),),
)


def test_many_of_one_kind_may_be_missing():
    assert ways(came_to(game=PUMPS), "t") == [{("pumped", 10)}]
    assert ways(came_to(*[touch(60 + n, "pumped") for n in range(9)], game=PUMPS), "t") == [{("pumped", 1)}]


def test_what_a_cap_forbids_is_no_way():
    capped = replace(PUMPS, stakes=(replace(PUMPS.stakes[0], most=9),))
    assert reached(came_to(game=capped), "t").would_have == ()


def test_no_way_leads_over_the_opponents():
    theirs = replace(PUMPS, stakes=(replace(PUMPS.stakes[0], by=("opponent",)),))
    assert reached(came_to(game=theirs), "t").would_have == ()


@given(st.lists(st.sampled_from([left(), left("partner"), home(), half(), home(by="partner"), half(by="partner")])))
@settings(max_examples=settings.default.max_examples // 2)
def test_each_way_meets_and_none_holds_another(marks):
    """Played as marks by robots that have not done so yet, each way meets the threshold; one less of it does not."""
    found = came_to(*marks)
    for one in found.thresholds:
        kinds = [{missing.label: missing.times for missing in way} for way in one.would_have]
        assert bool(one.met) == (one.have >= one.points)
        assert one.met or kinds
        for way in kinds:
            assert _may_meet(marks, way, one)
            for label in way:
                less = {**way, label: way[label] - 1}
                assert not _may_meet(marks, less, one)


def _may_meet(marks, way, threshold):
    """Return whether the events of a way, by whichever robots, would have met a threshold."""
    sets = [list(marks)]
    for label in [label for label, times in way.items() for _ in range(times)]:
        at_s = 5 if label == "left_start" else 152
        sets = [[*one, touch(at_s + len(one) / 100, label, by=by)] for one in sets for by in ("us", "partner")]
    return any(reached(came_to(*one), threshold.threshold).met for one in sets)


# -- what counts ------------------------------------------------------------------------------------------------------


def test_unclear_marks_count_neither_way_and_are_told():
    found = came_to(touch(138.2), touch(140), touch(145))
    contact, award = found.dues[:2]
    assert (contact.times, contact.times_at_most) == (2, 3)
    assert (award.times, award.times_at_most) == (0, 1)
    assert [one.mark.begin_ns for one in contact.unclear] == [ns(138.2)]
    assert (found.cost, found.cost_at_most) == (30, 75)


ENDGAME = replace(
    TRADE, stakes=tuple(replace(stake, during="no_contact") if stake.label.startswith("home") else stake
                        for stake in TRADE.stakes)
)  # fmt: skip


@pytest.mark.parametrize(
    ("marks", "times"),
    [
        ([home(130)], (1, 0)),                                  # home before the window began, and still there in it
        ([home(150)], (1, 0)),
        ([home(150), home(158)], (1, 0)),                       # a second press says nothing new
        ([half(150), home(155)], (1, 0)),                       # half in, then fully
        ([home(150), half(155)], (0, 1)),                       # out again by half
        ([home(150), touch(155, "home_none")], (0, 0)),         # and gone
        ([home(150), half(155), undo(1)], (1, 0)),
        ([home(150), half(151, by="partner")], (1, 1)),
        ([home(150), home(151, by="partner")], (2, 0)),
        ([home(160.5)], (0, 0)),                                # too near the window's end to tell
        ([home(162.5)], (0, 0)),
        ([home(150, by="opponent")], (0, 0)),
    ],
)
def test_home_is_a_state_and_the_newest_of_each_robot_counts(marks, times):
    dues = {due.stake: due.times for due in came_to(*marks, game=ENDGAME).dues}
    assert (dues["full"], dues["half"]) == times


def test_home_too_near_the_end_leaves_a_threshold_open():
    found = came_to(left(), left("partner"), home(160.5), game=ENDGAME)
    assert (reached(found, "sixteen").have, reached(found, "sixteen").met) == (6, None)
    assert (found.gain, found.gain_at_most) == (6, 16)


def test_a_stake_counts_whose_marks_it_says():
    ours = replace(TRADE, stakes=(replace(TRADE.stakes[0], by=("us",)),), thresholds=())
    marks = [touch(140), touch(141, by="us"), touch(142, by="partner"), touch(143, by="opponent")]
    assert came_to(*marks, game=ours).cost == 30
    theirs = replace(ours, stakes=(replace(ours.stakes[0], by=("opponent",), to="us"),))
    assert came_to(*marks, game=theirs).gain == 15


def test_a_mark_counts_once_however_many_spans_it_meets():
    spans = [replace(TIMES[0], n=1, end_ns=ns(145)), replace(TIMES[0], n=2, begin_ns=ns(150))]
    assert came_to(push(140, 155), times=spans).cost == 15


def test_in_a_window_that_never_came_nothing_counts():
    assert came_to(touch(140), times=()).cost == 0


def test_a_push_without_an_end_counts_where_it_began_inside():
    assert came_to(held_on(140)).cost == 15
    assert (came_to(held_on(130)).cost, came_to(held_on(130)).cost_at_most) == (0, 15)


@given(st.lists(st.floats(130, 165).map(lambda at_s: touch(at_s)), max_size=9), st.integers(1, 4), st.integers(1, 4))
def test_every_so_many_and_at_most_so_often(marks, every, most):
    stake = replace(TRADE.stakes[0], every=every, most=most, during="")
    found = came_to(*marks, game=replace(TRADE, stakes=(stake,), thresholds=()))
    assert found.cost == 15 * min(len(marks) // every, most)


# -- the bundled games ------------------------------------------------------------------------------------------------


def test_a_round_of_the_bundled_game():
    """Its own numbers, read off its file: 12 for three rung, 18 for home, 15 a touch, 25 for two once; 30 and 42."""
    loaded = load(None, ["full"], "nothing").plans[0]
    times = window_times(loaded.timeline, STARTED)             # endgame [111 s, 136 s), no contact [118 s, 140 s)
    rung = [touch(60 + n, "rung") for n in range(3)]
    marks = [*rung, home(130), touch(120), touch(124), touch(128)]
    found = points(loaded.game, marks, times, ended_ns=ENDED_NS)
    assert (found.cost, found.gain, found.net_points) == (3 * 15 + 25, 12 + 18, -40)
    assert [(one.threshold, one.met) for one in found.thresholds] == [("tenor", True), ("great_bell", False)]
    # 12 more are missing: a partner's 18; a partner's 8 and a mould of 4; three more bells; three moulds of 4
    assert ways(found, "great_bell") == [
        {("home", 1)}, {("mould", 1), ("home_half", 1)}, {("mould", 3)}, {("rung", 3)}
    ]  # fmt: skip


@pytest.mark.parametrize("name", bundle.names("plans"))
def test_every_threshold_of_a_bundled_game_can_be_met(name):
    loaded = load(None, [name], "nothing").plans[0]
    found = points(loaded.game, (), (), ended_ns=ENDED_NS + S)
    assert all(one.met is False and one.would_have for one in found.thresholds)
