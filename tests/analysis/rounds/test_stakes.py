"""Points at stake: what counts, thresholds and what would have met them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.support.analysis.rehearsal_games import ENDED_NS, FOUNDRY, STARTED, TIMELINE, held_on, ns, push, touch, undo
from tocsin.analysis.rounds.overlaps import window_times
from tocsin.analysis.rounds.stakes import points
from tocsin.config import bundle
from tocsin.config.load import load
from tocsin.model.game import Stake, Threshold
from tocsin.model.mark import STATES
from tocsin.units import NS_PER_S as S

TIMES = window_times(TIMELINE, STARTED)


def came_to(*marks, game=FOUNDRY, times=TIMES, ended_ns=ENDED_NS):
    return points(game, marks, times, ended_ns=ended_ns)


def mould(by="us"):
    return touch(5, "mould", by=by)


def rung(at_s=60):
    return touch(at_s, "rung")


PEAL = [rung(60), rung(61), rung(62)]


def home(at_s=130, by="us", label="home"):
    return touch(at_s, label, by=by)


def half(at_s=130, by="us"):
    return home(at_s, by, "home_half")


def reached(found, name):
    return next(one for one in found.thresholds if one.threshold == name)


def ways(found, name):
    """Return what would have met a threshold, as sets of (label, times)."""
    return [{(one.label, one.times) for one in way} for way in reached(found, name).would_have]


# -- the foundry's sums ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("marks", "gain"),
    [
        ([mould()], 4),
        ([mould(), mould("partner")], 8),
        ([home()], 18),
        ([half()], 7),
        ([home(), half(by="partner")], 25),
        ([half(), half(by="partner")], 7 + 7 + 6),
        ([home(), home(by="partner")], 36),
        (PEAL, 12),
        (PEAL[:2], 0),
        ([mould(), mould("partner"), *PEAL, home(), home(by="partner")], 56),
    ],
)
def test_what_moulds_bells_and_robots_under_the_belfry_are_worth(marks, gain):
    found = came_to(*marks)
    assert (found.gain, found.cost, found.net_points) == (gain, 0, gain)


@pytest.mark.parametrize(
    ("marks", "met"),
    [
        ([*PEAL, home()], ["tenor"]),
        ([mould(), home()], []),
        ([*PEAL, half(), half(by="partner")], ["tenor"]),
        ([*3 * [mould()], *PEAL, home()], ["tenor"]),
        ([*4 * [mould()], *PEAL, home()], ["tenor", "great_bell"]),
        ([*2 * [mould()], *PEAL, home(), half(by="partner")], ["tenor", "great_bell"]),         # 45 exactly
        ([mould(), mould("partner"), home(), home(by="partner")], ["tenor"]),
        ([*3 * [mould()], home(), home(by="partner")], ["tenor", "great_bell"]),
        ([home(), home(by="partner")], ["tenor"]),
        ([], []),
    ],
)
def test_which_thresholds_are_met(marks, met):
    assert [one.threshold for one in came_to(*marks).thresholds if one.met] == met


def test_a_threshold_of_30_is_met_by_two_robots_wholly_under_or_by_one_and_three_bells():
    """Of at most four events no other set reaches it; the shorter one comes first."""
    assert ways(came_to(), "tenor") == [{("home", 2)}, {("home", 1), ("rung", 3)}]


def test_a_threshold_of_45_is_met_by_two_robots_wholly_under_and_three_moulds():
    """Those are five events, which nobody is told at once; after the first mould the other four are."""
    assert ways(came_to(), "great_bell") == []
    assert ways(came_to(mould()), "great_bell") == [{("home", 2), ("mould", 2)}]


# -- what would have met a threshold ----------------------------------------------------------------------------------


def test_fifteen_points_were_missing():
    found = came_to(*PEAL, home())
    assert (reached(found, "great_bell").have, reached(found, "great_bell").met) == (30, False)
    assert ways(found, "great_bell") == [
        {("home", 1)}, {("mould", 2), ("home_half", 1)}, {("mould", 4)}, {("mould", 1), ("rung", 3)},
        {("home_half", 1), ("rung", 3)},
    ]  # fmt: skip


def test_half_home_might_have_been_home():
    """With one robot partly under beside it, ours wholly under takes the place of ours partly under: 18 for 7 and the
    balance of 6. With a mould of 4 these are the 9 that were missing."""
    found = came_to(*PEAL, mould(), half(), half(by="partner"))
    assert reached(found, "great_bell").have == 36
    assert ways(found, "great_bell") == [{("mould", 1), ("home", 1)}, {("home", 2)}, {("mould", 3)}, {("rung", 3)}]
    assert reached(found, "great_bell").would_have[1][0].title == "Robot wholly under"


def test_a_threshold_that_was_met_misses_nothing():
    assert reached(came_to(home(), home(by="partner")), "tenor").would_have == ()


LADLES = replace(
    FOUNDRY,
    stakes=(Stake(id="poured", title="Poured", points=3, to="us"),),
    thresholds=(Threshold(id="t", title="T", points=30, counts=("poured",)),),
)


def test_many_of_one_kind_may_be_missing():
    assert ways(came_to(game=LADLES), "t") == [{("poured", 10)}]
    assert ways(came_to(*[touch(60 + n, "poured") for n in range(9)], game=LADLES), "t") == [{("poured", 1)}]


def test_what_a_cap_forbids_is_no_way():
    capped = replace(LADLES, stakes=(replace(LADLES.stakes[0], most=9),))
    assert reached(came_to(game=capped), "t").would_have == ()


def test_no_way_leads_over_the_opponents():
    theirs = replace(LADLES, stakes=(replace(LADLES.stakes[0], by=("opponent",)),))
    assert reached(came_to(game=theirs), "t").would_have == ()


# Wherever a round stands, four events that are told together are enough for these thresholds.
NEAR = replace(FOUNDRY, thresholds=(FOUNDRY.thresholds[0], replace(FOUNDRY.thresholds[1], points=44)))
EVENTS = [mould(), mould("partner"), rung(), home(), half(), home(by="partner"), half(by="partner")]


@given(st.lists(st.sampled_from(EVENTS)))
@settings(max_examples=settings.default.max_examples // 2)
def test_each_way_meets_and_none_holds_another(marks):
    """Played as marks by robots that have not done so yet, each way meets the threshold; one less of it does not."""
    found = came_to(*marks, game=NEAR)
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
        at_s, robots = (132, ("us", "partner")) if label in STATES else (5, ("us",))      # of others all count alike
        sets = [[*one, touch(at_s + len(one) / 100, label, by=by)] for one in sets for by in robots]
    return any(reached(came_to(*one, game=NEAR), threshold.threshold).met for one in sets)


# -- what counts ------------------------------------------------------------------------------------------------------


def test_unclear_marks_count_neither_way_and_are_told():
    found = came_to(touch(118.2), touch(120))
    contact, spilled = found.dues[:2]
    assert (contact.times, contact.times_at_most) == (1, 2)
    assert (spilled.times, spilled.times_at_most) == (0, 1)
    assert [one.mark.begin_ns for one in contact.unclear] == [ns(118.2)]
    assert (found.cost, found.cost_at_most) == (9, 32)


ENDGAME = replace(
    FOUNDRY, stakes=tuple(replace(stake, during="no_contact") if stake.label.startswith("home") else stake
                        for stake in FOUNDRY.stakes)
)  # fmt: skip


@pytest.mark.parametrize(
    ("marks", "times"),
    [
        ([home(110)], (1, 0)),                                  # home before the window began, and still there in it
        ([home(130)], (1, 0)),
        ([home(130), home(136)], (1, 0)),                       # a second press says nothing new
        ([half(130), home(133)], (1, 0)),                       # half in, then fully
        ([home(130), half(133)], (0, 1)),                       # out again by half
        ([home(130), touch(133, "home_none")], (0, 0)),         # and gone
        ([home(130), half(133), undo(1)], (1, 0)),
        ([home(130), half(131, by="partner")], (1, 1)),
        ([home(130), home(131, by="partner")], (2, 0)),
        ([home(139.5)], (0, 0)),                                # too near the window's end to tell
        ([home(141.5)], (0, 0)),
        ([home(130, by="opponent")], (0, 0)),
    ],
)
def test_home_is_a_state_and_the_newest_of_each_robot_counts(marks, times):
    dues = {due.stake: due.times for due in came_to(*marks, game=ENDGAME).dues}
    assert (dues["under"], dues["half_under"]) == times


def test_home_too_near_the_end_leaves_a_threshold_open():
    found = came_to(*PEAL, home(139.5), game=ENDGAME)
    assert (reached(found, "tenor").have, reached(found, "tenor").met) == (12, None)
    assert (found.gain, found.gain_at_most) == (12, 30)


def test_a_stake_counts_whose_marks_it_says():
    ours = replace(FOUNDRY, stakes=(replace(FOUNDRY.stakes[0], by=("us",)),), thresholds=())
    marks = [touch(120), touch(121, by="us"), touch(122, by="partner"), touch(123, by="opponent")]
    assert came_to(*marks, game=ours).cost == 18
    theirs = replace(ours, stakes=(replace(ours.stakes[0], by=("opponent",), to="us"),))
    assert came_to(*marks, game=theirs).gain == 9


def test_a_mark_counts_once_however_many_spans_it_meets():
    spans = [replace(TIMES[0], n=1, end_ns=ns(125)), replace(TIMES[0], n=2, begin_ns=ns(130))]
    assert came_to(push(120, 133), times=spans).cost == 9


def test_in_a_window_that_never_came_nothing_counts():
    assert came_to(touch(120), times=()).cost == 0


def test_a_push_without_an_end_counts_where_it_began_inside():
    assert came_to(held_on(120)).cost == 9
    assert (came_to(held_on(110)).cost, came_to(held_on(110)).cost_at_most) == (0, 9)


@given(st.lists(st.floats(110, 144).map(lambda at_s: touch(at_s)), max_size=9), st.integers(1, 4), st.integers(1, 4))
def test_every_so_many_and_at_most_so_often(marks, every, most):
    stake = replace(FOUNDRY.stakes[0], every=every, most=most, during="")
    found = came_to(*marks, game=replace(FOUNDRY, stakes=(stake,), thresholds=()))
    assert found.cost == 9 * min(len(marks) // every, most)


# -- the bundled games ------------------------------------------------------------------------------------------------


def test_a_round_of_the_bundled_game():
    """Its own numbers, read off its file: 12 for three rung, 18 for home, 9 a touch, 14 for two once; 30 and 45."""
    loaded = load(None, ["full"], "nothing").plans[0]
    times = window_times(loaded.timeline, STARTED)             # endgame [111 s, 136 s), no contact [118 s, 140 s)
    marks = [*PEAL, home(130), touch(120), touch(124), touch(128)]
    found = points(loaded.game, marks, times, ended_ns=ENDED_NS)
    assert (found.cost, found.gain, found.net_points) == (3 * 9 + 14, 12 + 18, -11)
    assert [(one.threshold, one.met) for one in found.thresholds] == [("tenor", True), ("great_bell", False)]
    # 15 are missing: a partner's 18; its 7 and two moulds of 4; three more bells and its 7, or a mould; four moulds
    assert ways(found, "great_bell") == [
        {("home", 1)}, {("mould", 2), ("home_half", 1)}, {("home_half", 1), ("rung", 3)}, {("mould", 4)},
        {("mould", 1), ("rung", 3)},
    ]  # fmt: skip


@pytest.mark.parametrize("name", bundle.names("plans"))
def test_every_threshold_of_a_bundled_game_can_be_met(name):
    """By few enough events to be told; the great bell takes five, but no more than four once three bells are rung."""
    loaded = load(None, [name], "nothing").plans[0]
    found, rung = (points(loaded.game, marks, (), ended_ns=ENDED_NS + S) for marks in ((), PEAL))
    assert all(one.met is False for one in (*found.thresholds, *rung.thresholds))
    assert {one.threshold for one in found.thresholds if not one.would_have} <= {"great_bell"}
    assert all(one.would_have for one in rung.thresholds)
