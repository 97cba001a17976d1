"""Pairs by lot from rows: what is a pair, what is left out, what is said, and what takes how long."""

import math

import numpy as np
import pytest
from hypothesis import settings
from scipy import stats

from tests.support.analysis.dealt_seasons import (
    BREAK_OFF,
    SETUPS,
    changed,
    evening_rows,
    exact,
    later,
    season_rows,
)
from tocsin.analysis.review.answer import Lacking
from tocsin.analysis.review.better import better_answer
from tocsin.analysis.review.headline import headline
from tocsin.analysis.review.season import season_review
from tocsin.analysis.review.words.answers import line
from tocsin.analysis.seasons.evidence import evidence_of_seconds, evidence_of_yes, pairs_for, pairs_for_shares
from tocsin.model.drill import Drill, Vary
from tocsin.model.project import Question

COACH, SETUP = Question(asks="coach", since="2031-01-01"), Question(asks="setup", since="2031-01-01")
OF_COACH = "coach: calling / silent: break_off"
ONLY_COACH = Drill(
    name="Break off", trains="", place="field", plan="full", rounds=12, half_speed=2,
    vary=Vary(coach=("silent", "calling")),
)  # fmt: skip


def by_coach(silent_s, calling_s=4.0):
    return lambda row: exact(silent_s if row.coach == "silent" else calling_s)


def noisy(rng, of=lambda row: 0.0, spread=0.6):
    return lambda row: exact(max(0.05, 4.0 + of(row) + rng.normal(0, spread)))


def one_of(answer, of):
    return next(one for one in answer.comparisons if one.of == of)


def test_an_evening_holds_five_pairs_for_the_coach_and_three_for_each_two_of_three():
    answer = better_answer(evening_rows(BREAK_OFF, 0, by_coach(4.0)), COACH)
    told = {(one.of, one.pairs, one.left_out) for one in answer.comparisons if one.outcome == "break_off"}
    edges = [(f"setup: {one} / {two}", 3, 0) for one, two in zip(
        ("far end", "far end", "middle"), ("middle", "their edge", "their edge"), strict=True
    )]  # fmt: skip
    shifts = [(f"shift_s: {two}", 3, 0) for two in ("-1 s / 0 s", "-1 s / +1 s", "0 s / +1 s")]
    assert told == {(OF_COACH, 5, 0), *((f"{of}: break_off", *rest) for of, *rest in edges + shifts)}
    # The question comes first, and alone is compared by what else the drill gives.
    assert [one.named for one in answer.comparisons] == [True] + [False] * 7
    assert {one.of for one in answer.comparisons if one.outcome != "break_off"} == {
        "coach: calling / silent: contact"
    }


def test_evidence_is_that_of_the_pairs_differences_in_their_order():
    """Against a second way: the blocks written out by hand."""
    rows = season_rows(BREAK_OFF, 6, noisy(np.random.default_rng(1), lambda row: -0.4 * (row.coach == "silent")))
    by_place = {(row.session, row.round): row for row in rows}
    differences = []
    for evening in range(6):
        for first in range(3, 12, 2):
            two = sorted((by_place[f"s{evening}", number] for number in (first, first + 1)), key=lambda row: row.coach)
            differences.append(two[1].break_off_at_most_s - two[0].break_off_at_most_s)
    expected = evidence_of_seconds(differences)
    answer = better_answer(rows, COACH)
    found, difference = answer.figure("evidence", OF_COACH), answer.figure("difference", OF_COACH)
    assert (found.value, found.rounds, found.evenings) == (pytest.approx(expected.evidence), 60, 6)
    assert difference.value == pytest.approx(np.mean(differences))
    assert (difference.low, difference.high) == (pytest.approx(expected.low), pytest.approx(expected.high))
    assert one_of(answer, OF_COACH).needed == 20


def test_a_question_needs_twenty_and_what_is_beside_it_twenty_times_its_number():
    rows = season_rows(BREAK_OFF, 3, by_coach(4.0))
    needed = {one.of: one.needed for one in better_answer(rows, COACH).comparisons}
    assert needed.pop(OF_COACH) == 20
    assert set(needed.values()) == {20 * 7}                            # by contact; each two set-ups, each two shifts
    # Three set-ups are three comparisons, each by times; by contact they are beside it.
    found = better_answer(rows, SETUP).comparisons
    assert [one.needed for one in found if one.named] == [60, 60, 60]
    assert {one.needed for one in found if not one.named} == {20 * 7}
    # Nobody named one, or said since when: all are beside each other.
    assert {one.needed for one in better_answer(rows).comparisons} == {20 * 7}
    asked = better_answer(rows, Question(asks="setup")).comparisons
    assert {(one.named, one.needed) for one in asked} == {(False, 20 * 10)}
    assert [one.factor for one in asked[:6]] == ["setup"] * 6


def test_a_new_question_starts_at_zero_with_the_next_evening():
    rows = season_rows(ONLY_COACH, 4, by_coach(3.0))                       # 7, 14, 21, 28 January
    for since, pairs in (("2031-01-06", 20), ("2031-01-07", 15), ("2031-01-20", 10), ("2031-01-28", 0)):
        answer = better_answer(rows, Question(asks="coach", since=since))
        assert sum(one.pairs for one in answer.comparisons if one.named and one.outcome == "break_off") == pairs
    assert answer.lacking == (Lacking(question="better", figure="evidence", counted="pairs", more=5, evenings=1),)
    assert answer.verdict == ""
    # What others show beside it began before.
    beside = better_answer(season_rows(BREAK_OFF, 4, by_coach(3.0)), Question(asks="setup", since="2031-01-28"))
    assert one_of(beside, OF_COACH).pairs == 20


def test_verdicts_and_who_had_less():
    nothing = better_answer(season_rows(ONLY_COACH, 4, by_coach(4.0)), COACH)
    assert (nothing.verdict, one_of(nothing, OF_COACH).less) == ("not_yet", "")
    found = better_answer(season_rows(ONLY_COACH, 4, by_coach(3.0)), COACH)
    assert (found.verdict, one_of(found, OF_COACH).less) == ("surely_better", "silent")
    assert better_answer(season_rows(ONLY_COACH, 4, by_coach(5.0)), COACH).comparisons[0].less == "calling"
    first = next(n for n in range(5, 20) if evidence_of_seconds([-1.0] * n).evidence >= 20)
    evening = season_rows(ONLY_COACH, 4, by_coach(3.0))
    some = [row for row in evening if not row.half_speed][:2 * first]
    assert better_answer(some, COACH).verdict == "better"
    assert [one.of for one in better_answer(some, COACH).lacking] == ["coach: calling / silent: contact"]
    # Equal within 0.2 s, and more than 60 pairs: nothing is better, and nobody need wait.
    rng = np.random.default_rng(5)
    equal = better_answer(season_rows(ONLY_COACH, 16, noisy(rng, spread=0.1)), COACH)
    assert equal.verdict == "no_difference"
    assert better_answer(season_rows(ONLY_COACH, 12, noisy(rng, spread=0.1)), COACH).verdict == "not_yet"
    assert not [one for one in equal.lacking if one.of == OF_COACH]


def test_what_is_left_out_is_counted_beside():
    rows = evening_rows(ONLY_COACH, 0, by_coach(3.0))
    at = {row.round: row for row in rows}

    def without(*changes, drop=()):
        new = {row.round: row for row in changes}
        kept = [new.get(row.round, row) for row in rows if row.round not in drop]
        return one_of(better_answer(kept, COACH), OF_COACH)

    assert without().pairs == 5
    dropped = without(changed(at[3], counted=False, taken_out="dropped"))
    assert (dropped.pairs, dropped.left_out, dropped.bounded) == (4, 1, 0)
    missing = without(drop=(12,))
    assert (missing.pairs, missing.left_out) == (4, 1)
    no_push = without(changed(at[5], break_off_at_least_s=None, break_off_at_most_s=None, push_at_call=False))
    assert (no_push.pairs, no_push.left_out, no_push.bounded) == (4, 1, 0)
    for most in (6.0, None):
        bounded = without(changed(at[5], break_off_at_least_s=0.0, break_off_at_most_s=most))
        assert (bounded.pairs, bounded.left_out, bounded.bounded) == (4, 1, 1)
    # Repeated: the round that was played again stands beside the one that was taken out.
    again = changed(at[7], folder="again", wall=later(at[8], 1))
    repeated = one_of(
        better_answer([*rows[:6], changed(at[7], counted=False, taken_out="repeated"), *rows[7:], again], COACH),
        OF_COACH,
    )
    assert (repeated.pairs, repeated.left_out) == (4, 1)


def test_of_three_only_the_pairs_of_the_round_that_is_missing_are_left_out():
    rows = evening_rows(BREAK_OFF, 0, by_coach(4.0))
    lost = rows[3]
    found = better_answer([changed(row, counted=row.counted and row is not lost) for row in rows], SETUP)
    for one in found.comparisons:
        if one.factor == "setup" and one.outcome == "break_off":
            assert (one.pairs, one.left_out) == ((2, 1) if lost.setup in (one.first, one.second) else (3, 0))


def test_two_crews_have_blocks_of_their_own():
    """They take turns after each round, and each has its own pace: a pair across crews would be off by 2 s."""
    rows = evening_rows(
        ONLY_COACH, 0, lambda row: exact(4.0 + 2.0 * (row.crew == "B") - 0.5 * (row.coach == "silent")), crews="AB"
    )
    answer = better_answer(rows, COACH)
    assert (one_of(answer, OF_COACH).pairs, one_of(answer, OF_COACH).left_out) == (10, 0)
    assert answer.figure("difference", OF_COACH).value == pytest.approx(-0.5)


def test_rounds_that_people_chose_give_no_verdict():
    """The same rounds, but chosen: no drill dealt them, so there is no block."""
    rows = season_rows(ONLY_COACH, 8, by_coach(2.0))
    chosen = [changed(row, dealt_of={}) for row in rows]
    matches = [changed(row, kind="match", drill="", session="", round=0, dealt_of={}) for row in rows]
    for one in (chosen, matches):
        answer = better_answer(one, COACH)
        assert (answer.comparisons, answer.figures, answer.verdict) == ((), (), "")
        assert [lack.more for lack in answer.lacking] == [5]


def test_least_data():
    rows = [row for row in season_rows(ONLY_COACH, 2, by_coach(3.0)) if not row.half_speed]
    few = better_answer(rows[:8], COACH)
    assert few.figure("evidence", OF_COACH) is None
    assert few.lacking[0] == Lacking(
        question="better", figure="difference", of=OF_COACH, counted="pairs", more=1, evenings=1
    )
    assert better_answer(rows[:10], COACH).figure("difference", OF_COACH).value == -1.0
    assert better_answer([], None).lacking[0].more == 5


def test_how_many_more_are_needed_if_all_goes_on_as_so_far():
    """The first guess of a season of 0.5 s at 0.6 s a round: some 32 pairs in the middle of seasons, 5 an evening."""
    more = []
    for seed in range(40):
        came = noisy(np.random.default_rng(seed), lambda row: -0.5 * (row.coach == "silent"))
        answer = better_answer(season_rows(ONLY_COACH, 2, came), COACH)
        if answer.verdict == "not_yet":
            lack = answer.lacking[0]
            assert (lack.of, lack.figure, lack.counted) == (OF_COACH, "evidence", "pairs")
            assert lack.evenings == math.ceil(lack.more / 5)
            more.append(lack.more)
    assert 12 <= np.median(more) <= 45
    # Where nothing differs nobody waits longer than for the least that matters.
    equal = better_answer(season_rows(ONLY_COACH, 8, by_coach(4.0)), COACH).lacking[0]
    assert 0 < equal.more < pairs_for(0.2, 0.6 * math.sqrt(2))


def test_contacts_are_compared_with_their_shares():
    def came(row):
        touches = {"silent": (1, 2, 3, 4, 5, 6, 7), "calling": (8,)}[row.coach]
        return {**exact(4.0), "contacts": int(int(row.session[1:]) in touches), "contacts_unclear": 0}

    rows = season_rows(ONLY_COACH, 9, came)
    of = "coach: calling / silent: contact"
    answer = better_answer(rows, COACH)
    one, evidence = one_of(answer, of), answer.figure("evidence", of)
    assert evidence.value == pytest.approx(evidence_of_yes([0] * 5 + [1] * 35 + [-1] * 5).evidence)
    assert (one.verdict, one.less, one.needed) == ("surely_better", "calling", 20)
    calling, silent = answer.figure("contact", f"{of}: calling"), answer.figure("contact", f"{of}: silent")
    assert (calling.count, calling.rounds, silent.count, silent.rounds) == (5, 45, 35, 45)
    assert calling.low < 5 / 45 < calling.high
    # A contact that only a video can tell is neither.
    unclear = [changed(row, contacts=0, contacts_unclear=1) if row.session == "s8" else row for row in rows]
    assert one_of(better_answer(unclear, COACH), of).pairs == 40


def test_beside_what_is_better_by_time_stand_the_contacts_of_both():
    """Seen: "better" by 0.1 s while rounds with a contact were twice as many."""
    def came(row):
        quick = row.coach == "calling"
        return {**exact(3.0 if quick else 4.0), "contacts": int(quick and row.session == "s1"), "clean": None}

    rows = season_rows(BREAK_OFF, 9, came)
    for question in (COACH, SETUP, None):                              # asked, beside, and where nobody asked
        answer = better_answer(rows, question)
        assert one_of(answer, OF_COACH).less == "calling"
        calling, silent = (answer.figure("contact", f"{OF_COACH}: {value}") for value in ("calling", "silent"))
        assert (calling.count, calling.rounds, silent.count, silent.rounds) == (5, 45, 0, 45)
        said = line(answer)
        assert "better" not in said
        assert "Coach calling: pushes end 1.0 s sooner than coach silent" in said
        assert "Contact in 5 of 45 rounds with coach calling, in 0 of 45 with coach silent: that may be" in said
        assert "calling" not in headline(season_review(rows, question=question))
    # Nothing of it where nothing is better.
    equal = better_answer(season_rows(BREAK_OFF, 3, by_coach(4.0)), COACH)
    assert equal.figure("contact", f"{OF_COACH}: calling") is None


def test_a_drill_without_pushes_is_compared_by_the_turn_and_never_by_a_contact_that_cannot_be():
    def turn(row):
        seconds = 1.0 + (row.coach == "silent")
        return {"turn_at_least_s": seconds, "turn_at_most_s": seconds, "push_at_call": False}

    rows = season_rows(ONLY_COACH, 4, turn)
    answer = better_answer(rows, COACH)
    assert [(one.outcome, one.less) for one in answer.comparisons] == [("turn", "calling")]
    # One push that somebody marked by mistake changes nothing of that.
    rows[2] = changed(rows[2], **exact(1.0))
    found = better_answer(rows, COACH).comparisons
    assert [one.outcome for one in found if one.named] == ["turn"]


@pytest.mark.parametrize(("true_s", "promised"), [(1.0, 16), (0.5, 32)])
def test_power_from_rows_is_that_of_the_pairs(true_s, promised):
    """Medians of simulated seasons (0.6 s a round), as tests/benchmarks/season_coverage.py measures from pairs; here
    from rows, an evening at a time."""
    needed = []
    for seed in range(settings.default.max_examples):
        rng, rows = np.random.default_rng(1000 + seed), []
        for evening in range(3 * promised // 5):
            rows += evening_rows(ONLY_COACH, evening, noisy(rng, lambda row: -true_s * (row.coach == "silent")))
            if evening >= promised // 10 and "better" in better_answer(rows, COACH).verdict:
                break
        else:
            evening = math.inf
        needed.append(5 * (evening + 1))
    # Of so few seasons the middle is known to some 15 %, and evenings are whole.
    assert promised * 0.65 <= np.median(needed) <= promised * 1.35 + 5


def test_in_seasons_in_which_nothing_differs_few_pages_find_something():
    """All comparisons of 16 evenings, looked at after each; asked: at most 5 of 100 seasons."""
    seasons = settings.default.max_examples
    false = 0
    for seed in range(seasons):
        rows = season_rows(BREAK_OFF, 16, noisy(np.random.default_rng(seed)))
        found = better_answer(rows, COACH).comparisons
        false += any("better" in one.verdict for one in found)
    assert false <= stats.binom.ppf(1 - 1 / 6000, seasons, 0.05)


@pytest.mark.parametrize(("first", "second"), [(0.3, 0.15), (0.5, 0.25), (0.3, 0.1)])
def test_about_so_many_pairs_tell_two_shares_apart(first, second):
    rng = np.random.default_rng(9)
    told = pairs_for_shares(first, second)
    drawn = (rng.random((600, 3 * told)) < second).astype(float) - (rng.random((600, 3 * told)) < first)
    for needed, pairs in ((20, told), (160, pairs_for_shares(first, second, needed=160))):
        seen = sum("better" in evidence_of_yes(one[:pairs].tolist(), needed=needed).verdict for one in drawn)
        assert seen / len(drawn) == pytest.approx(0.5, abs=0.1)
    assert pairs_for_shares(first, first) is None
    assert pairs_for_shares(0.0, 0.0) is None
    # What was seen so far counts.
    assert pairs_for_shares(first, second, fewer=4) < told < pairs_for_shares(first, second, more=4)


def test_the_setups_of_two_drills_are_no_pairs():
    other = Drill(
        name="Turn", trains="", place="field", plan="full", rounds=9, vary=Vary(setups=(*SETUPS[:2], "corner"))
    )  # fmt: skip
    rows = season_rows(BREAK_OFF, 3, by_coach(4.0))
    rows += [changed(row, session=f"t{row.session}") for row in season_rows(other, 2, by_coach(4.0))]
    pairs = {one.of: one.pairs for one in better_answer(rows, SETUP).comparisons if one.outcome == "break_off"}
    assert pairs["setup: far end / middle: break_off"] == 3 * 3 + 2 * 3
    assert pairs["setup: corner / middle: break_off"] == 6
    assert "setup: corner / their edge: break_off" not in pairs
