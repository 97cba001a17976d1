"""The order of a reaction test: balanced, reproducible, not to be guessed."""

import itertools
import math
from collections import Counter

import pytest

from tocsin.analysis.reactions.order import (
    CATCH,
    LONGEST_WAIT_NS,
    SHORTEST_WAIT_NS,
    conditions_of,
    in_order,
    length_ns,
    most_repeats,
    order_of,
)
from tocsin.config import bundle
from tocsin.config.load import load
from tocsin.errors import UsageError
from tocsin.model.plan import CHANNELS, Cue, Plan
from tocsin.units import NS_PER_S

SEEDS = range(200)
QUIET = (("rumble",), ("light",), ("rumble", "light"))
EVERY = in_order([(channel,) for channel in CHANNELS] + list(itertools.combinations(CHANNELS, 2)))
FORMS = [(QUIET[:1], False), (QUIET[:2], False), (QUIET, False), (QUIET, True), (EVERY, False), (EVERY, True)]
each_form = pytest.mark.parametrize(("conditions", "full"), FORMS)


@pytest.fixture(scope="module", params=FORMS, ids=lambda form: f"{len(form[0])}{'-full' if form[1] else ''}")
def orders(request):
    conditions, full = request.param
    return [order_of(conditions, seed, full=full) for seed in SEEDS]


def plan_of(*cues):
    return Plan(name="Bench", game="casting_day", cues=cues)


def cue(*channels, roles=("driver", "operator")):
    return Cue(id="home", at=(), roles=roles, patterns=dict.fromkeys(channels, "any"))


def test_each_condition_comes_equally_often_in_each_block_and_in_all(orders):
    for order in orders:
        for number in range(1, order.blocks() + 1):
            counts = Counter(trial.condition for trial in order.block(number))
            each = [counts[condition] for condition in order.conditions]
            assert max(each) - min(each) <= 1
        totals = [order.signals(condition) for condition in order.conditions]
        assert max(totals) - min(totals) <= 1


def test_it_is_left_to_the_seed_which_of_three_comes_once_more_in_seventy_signals():
    assert {max(QUIET, key=order_of(QUIET, seed).signals) for seed in SEEDS} == set(QUIET)


def test_about_one_trial_in_eight_is_a_catch_and_none_begins_a_block(orders):
    for order in orders:
        scored = [trial for trial in order.trials if not trial.practice]
        assert 0.11 <= sum(trial.condition == CATCH for trial in scored) / len(scored) <= 0.14
        blocks = [order.block(number) for number in range(order.blocks() + 1)]
        assert all(CATCH in [trial.condition for trial in block] for block in blocks)
        assert all(block[0].condition != CATCH for block in blocks)


def repeats_of(block):
    conditions = [trial.condition for trial in block]
    return Counter(later for earlier, later in itertools.pairwise(conditions) if earlier == later)


def test_no_condition_follows_itself_more_often_than_by_chance(orders):
    for order in orders:
        for number in range(order.blocks() + 1):
            block = order.block(number)
            counts = Counter(trial.condition for trial in block)
            repeats = repeats_of(block)
            for condition, count in counts.items():
                # A fair shuffle puts (count / trials) of the same behind each of them, on average.
                assert repeats[condition] <= math.ceil(count * (count - 1) / len(block))


def test_conditions_do_follow_themselves_so_that_none_can_be_ruled_out():
    with_repeats = [bool(repeats_of(order_of(QUIET, seed).block(1)).total()) for seed in SEEDS]
    assert all(with_repeats)


@pytest.mark.parametrize(("count", "trials", "expected"), [(1, 7, 0), (12, 40, 4), (5, 40, 1), (35, 40, 30)])
def test_the_limit_of_repeats_is_the_mean_of_a_fair_shuffle(count, trials, expected):
    assert most_repeats(count, trials) == expected


def test_all_that_may_follow_does(orders):
    """What came tells nothing of what comes: over the seeds each condition is followed by every other."""
    follows = {
        (earlier.condition, later.condition)
        for order in orders for earlier, later in itertools.pairwise(order.block(1))
    }  # fmt: skip
    every = (*orders[0].conditions, CATCH)
    assert set(itertools.product(every, every)) <= follows


def test_waits_are_uniform_between_two_and_ten_seconds(orders):
    waits_ns = sorted(trial.wait_ns for order in orders for trial in order.trials)
    assert waits_ns[0] >= SHORTEST_WAIT_NS == 2 * NS_PER_S
    assert waits_ns[-1] < LONGEST_WAIT_NS == 10 * NS_PER_S
    n = len(waits_ns)
    gap = max(abs(place / n - (wait - SHORTEST_WAIT_NS) / (8 * NS_PER_S)) for place, wait in enumerate(waits_ns))
    assert gap < 1.95 / math.sqrt(n)               # Kolmogorov and Smirnov, 0.1 %


def test_waits_tell_nothing_of_what_comes():
    waits_ns = {condition: [] for condition in (*QUIET, CATCH)}
    for seed in SEEDS:
        for trial in order_of(QUIET, seed).trials:
            waits_ns[trial.condition].append(trial.wait_ns)
    for own in waits_ns.values():
        sure_ns = 4 * 8 * NS_PER_S / math.sqrt(12 * len(own))       # four standard errors of a uniform mean
        assert sum(own) / len(own) == pytest.approx(6 * NS_PER_S, abs=sure_ns)


def test_practice_comes_first_with_each_condition_and_is_short(orders):
    for order in orders:
        practice = order.block(0)
        assert {trial.condition for trial in practice} == {*order.conditions, CATCH}
        assert practice == order.trials[: len(practice)]
        assert all(trial.practice == (trial.block == 0) for trial in order.trials)
        assert length_ns(practice) < 120 * NS_PER_S


def test_the_usual_form_is_two_blocks_of_about_five_minutes():
    for conditions in (QUIET[:1], QUIET, EVERY):
        lengths_s = [length_ns(order_of(conditions, seed).block(n)) / NS_PER_S for seed in SEEDS for n in (1, 2)]
        assert {order_of(conditions, seed).blocks() for seed in SEEDS} == {2}
        assert sum(lengths_s) / len(lengths_s) == pytest.approx(300, abs=10)
        assert min(lengths_s) > 240
        assert max(lengths_s) < 360


def test_the_full_form_gives_each_condition_twenty_times():
    order = order_of(EVERY, 1, full=True)
    assert [order.signals(condition) for condition in EVERY] == [20] * 10
    assert order.blocks() == 6
    assert min(order_of(QUIET, 1, full=True).signals(condition) for condition in QUIET) >= 20


def test_the_length_is_the_waits_and_the_windows_however_soon_they_are_answered():
    trials = order_of(QUIET, 1).trials[:3]
    assert length_ns(trials) == sum(trial.wait_ns for trial in trials) + 3 * 1_500_000_000


@each_form
def test_the_same_seed_gives_the_same_order_and_another_gives_another(conditions, full):
    assert order_of(conditions, 7, full=full) == order_of(conditions, 7, full=full)
    assert len({order_of(conditions, seed, full=full).trials for seed in range(20)}) == 20


def test_a_seed_stands_for_the_same_order_on_every_system():
    """Pinned: a journal may hold the seed alone. Python promises the generator's random() to stay as it is."""
    trials = order_of(QUIET, 1).block(0)
    assert [("+".join(trial.condition), round(trial.wait_ns / NS_PER_S, 3)) for trial in trials] == [
        ("rumble", 9.657), ("rumble", 2.046), ("rumble+light", 8.269), ("light", 8.564), ("", 9.089),
        ("rumble+light", 7.924), ("light", 8.473),
    ]  # fmt: skip


def test_trials_are_numbered_through(orders):
    for order in orders[:5]:
        assert [trial.no for trial in order.trials] == list(range(len(order.trials)))
        assert [trial.block for trial in order.trials] == sorted(trial.block for trial in order.trials)


@pytest.mark.parametrize("wrong", [(), (CATCH,), (("light",), ("light",))])
def test_no_order_without_sensible_conditions(wrong):
    with pytest.raises(ValueError, match="no conditions to order"):
        order_of(wrong, 1)


def test_conditions_are_the_channels_alone_and_the_pairs_of_each_cue():
    plan = plan_of(cue("rumble", "light"), cue("screen"), cue("sound", "light"))
    assert conditions_of(plan) == (
        ("rumble",), ("light",), ("screen",), ("sound",), ("rumble", "light"), ("light", "sound")
    )  # fmt: skip


def test_a_cue_on_three_channels_uses_three_pairs():
    assert conditions_of(plan_of(cue("sound", "light", "rumble")))[3:] == (
        ("rumble", "light"), ("rumble", "sound"), ("light", "sound")
    )  # fmt: skip


def test_a_pad_shakes_only_for_the_roles_of_its_cue():
    plan = plan_of(cue("rumble", "light"), cue("rumble", "screen", roles=("coach",)))
    assert conditions_of(plan, "coach") == (("rumble",), ("light",), ("screen",), ("rumble", "screen"))
    assert conditions_of(plan, "scribe") == (("light",), ("screen",))


def test_what_is_not_there_is_not_asked_for():
    plan = plan_of(cue("rumble", "light", "sound"))
    assert conditions_of(plan, present=("light", "rumble")) == QUIET


def test_a_plan_with_nothing_to_notice_is_refused_with_a_way_out():
    with pytest.raises(UsageError, match="'Bench' has no signal") as caught:
        conditions_of(plan_of(cue("rumble")), present=("light",))
    assert "screen" in caught.value.hint


@pytest.mark.parametrize("name", bundle.names("plans"))
def test_every_bundled_plan_has_something_to_notice_for_each_role_it_calls(name):
    plan = load(None, [name], "nothing").plans[0].plan
    for role in {role for cue in plan.cues for role in cue.roles}:
        conditions = conditions_of(plan, role)
        alone = {condition[0] for condition in conditions if len(condition) == 1}
        assert {channel for condition in conditions for channel in condition} == alone
        assert "rumble" in alone


def test_the_bundled_quiet_plan_asks_for_rumble_light_and_both():
    assert conditions_of(load(None, ["quiet"], "nothing").plans[0].plan, "driver") == QUIET
