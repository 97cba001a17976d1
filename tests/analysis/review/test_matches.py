"""Practice beside matches: least data, what is taken, limits against second opinions, and no verdict."""

import math

import numpy as np
import pytest
from msgspec.structs import replace
from statsmodels.stats.proportion import confint_proportions_2indep

from tests.support.analysis.review_rows import a_push, a_row
from tests.support.analysis.seasons import evening_times
from tocsin.analysis.review.answer import Lacking
from tocsin.analysis.review.matches import matches_answer
from tocsin.analysis.review.rounds import rounds_of
from tocsin.analysis.seasons.season_share import season_share

DAYS = [f"2031-02-{day:02d}" for day in range(1, 29)]
MATCH = {"kind": "match", "drill": "", "session": "", "round": 0, "crew": "", "at": "event"}


def practice_of(evenings, times, **facts):
    return [
        a_push(k + 1, float(times[place][k]), evening=day, **facts)
        for place, day in enumerate(DAYS[:evenings]) for k in range(len(times[place]))
    ]  # fmt: skip


def matches_of(days, times, **facts):
    return [
        a_push(k + 1, float(times[place][k]), evening=f"2031-03-{1 + place:02d}",
               folder=f"match {place} {k}", **{**MATCH, **facts})
        for place in range(days) for k in range(len(times[place]))
    ]  # fmt: skip


def test_shares_and_their_difference():
    """Newcombe's limits for as many rounds as they are worth; statsmodels for these same broken numbers."""
    practice = [a_push(k, 3.0, evening=day, contacts=int(k <= x)) for day, x in zip(DAYS, (2, 1, 3, 2), strict=False)
                for k in range(1, 11)]  # fmt: skip
    matches = [
        a_push(k, 3.0, evening="2031-03-01", folder=f"m{k}", contacts=int(k <= 5), **MATCH) for k in range(1, 13)
    ]
    answer = matches_answer(rounds_of(practice + matches, "Break off"))
    one, other = season_share([(2, 10), (1, 10), (3, 10), (2, 10)]), season_share([(5, 12)])
    for of, share, count, rounds in (("practice", one, 8, 40), ("match", other, 5, 12)):
        found = answer.figure("contact", of)
        assert (found.count, found.rounds, found.value) == (count, rounds, count / rounds)
        assert (found.low, found.high) == (share.low, share.high)
    found = answer.figure("contact", "difference")
    low, high = confint_proportions_2indep(
        other.effective_count, other.effective_rounds, one.effective_count, one.effective_rounds, method="newcomb"
    )
    assert (found.value, found.low, found.high) == pytest.approx((5 / 12 - 8 / 40, low, high))
    assert answer.verdict == ""


def test_contacts_are_of_pushes_on_at_the_call_and_of_rounds_as_planned():
    """What the lot moved, or took a channel from, is no match's like; nor is one that pushed nobody at the call."""
    times = [[3.0, 3.1, 3.2, 3.3]] * 4
    rows = practice_of(4, times, shift_s=0.0, late_start_s=0.0, draw_out="none") + matches_of(2, times)
    usual = matches_answer(rounds_of(rows, "Break off"))
    assert (usual.figure("contact", "practice").rounds, usual.figure("contact", "match").rounds) == (16, 8)
    for facts in ({"shift_s": -1.0}, {"shift_s": 1.0}, {"late_start_s": 0.5}, {"draw_out": "rumble"}):
        more = [a_push(k, 3.15, evening=DAYS[0], folder=f"x{k}", contacts=1, **facts) for k in range(20, 30)]
        found = matches_answer(rounds_of(rows + more, "Break off"))
        for of in ("practice", "match", "difference"):
            assert found.figure("contact", of) == usual.figure("contact", of)
        # Times are from the call, wherever it came.
        assert found.figure("break_off", "practice").rounds == 26
    for push in (False, None):
        more = [a_row(k, evening=DAYS[0], folder=f"x{k}", push_at_call=push) for k in range(20, 30)]
        more += [a_row(k, evening="2031-03-01", folder=f"m{k}", push_at_call=push, **MATCH) for k in range(10)]
        assert matches_answer(rounds_of(rows + more, "Break off")).figures == usual.figures
    # The least is asked of what is compared: seven such matches are not enough, nor are seven such rounds.
    few = [row for row in rows if row.folder != "match 1 3"]
    (lacks,) = [one for one in matches_answer(rounds_of(few, "Break off")).lacking if one.figure == "contact"]
    assert (lacks.counted, lacks.more) == ("matches", 1)
    few = [replace(row, shift_s=float(row.round > 1)) if row.drill else row for row in rows]
    (lacks,) = matches_answer(rounds_of(few, "Break off")).lacking
    assert (lacks.figure, lacks.counted, lacks.more) == ("contact", "evenings", 4)


def test_eight_matches_and_three_evenings_are_needed():
    times = [[3.0, 3.1, 3.2, 3.3]] * 10

    def asked(evenings, days):
        return matches_answer(rounds_of(practice_of(evenings, times) + matches_of(days, times), "Break off"))

    def lacks(figure, counted, more, evenings):
        return Lacking(
            question="matches", figure=figure, of="difference", counted=counted, more=more, evenings=evenings
        )

    assert asked(3, 0).lacking == (lacks("contact", "matches", 8, 1), lacks("break_off", "matches", 8, 1))
    assert asked(3, 1).lacking == (lacks("contact", "matches", 4, 1), lacks("break_off", "matches", 4, 1))
    assert asked(2, 2).lacking == (lacks("contact", "evenings", 1, 1), lacks("break_off", "evenings", 1, 1))
    assert asked(3, 2).lacking == ()
    assert {(one.name, one.of) for one in asked(3, 2).figures} == {
        (name, of) for name in ("contact", "break_off") for of in ("practice", "match", "difference")
    }
    # A drill without pushes is not compared, and lacks nothing.
    still = [a_row(k, evening=day) for day in DAYS[:3] for k in range(1, 9)]
    found = matches_answer(rounds_of(still + matches_of(2, times), "Break off"))
    assert (found.figures, found.lacking) == ((), ())
    assert matches_answer(rounds_of(matches_of(5, times), "")).figures == ()


def test_only_matches_of_this_game_that_count_and_were_watched():
    times = [[3.0, 3.1, 3.2, 3.3]] * 4
    rows = practice_of(4, times) + matches_of(2, times)
    for facts in ({"game": "other"}, {"counted": False}, {"watched": None}, {"kind": "reaction"}):
        more = [a_row(k, evening="2031-04-01", folder=f"x{k}", contacts=1, **{**MATCH, **facts}) for k in range(20)]
        assert matches_answer(rounds_of(rows + more, "Break off")).figure("contact", "match").rounds == 8
    other = [a_row(k, evening="2031-04-01", folder=f"d{k}", drill="Turn", contacts=1) for k in range(10)]
    found = matches_answer(rounds_of(rows + other, "Break off"))
    assert (found.figure("contact", "practice").rounds, found.figure("contact", "match").rounds) == (16, 8)


def test_what_only_a_video_can_tell_widens_the_limits_from_none_to_all():
    times = [[3.0, 3.1, 3.2, 3.3]] * 4
    rows = practice_of(4, times)
    sure, all_, none = (
        matches_answer(rounds_of([*rows, *(
            a_push(k, 3.0, evening="2031-04-01", folder=f"u{k}", contacts=int(k < contacts),
                   contacts_unclear=int(k < contacts + unclear), **MATCH)
            for k in range(12)
        )], "Break off")) for contacts, unclear in ((2, 4), (6, 0), (2, 0))
    )  # fmt: skip
    match, difference = sure.figure("contact", "match"), sure.figure("contact", "difference")
    assert (match.value, match.at_most, match.count, match.rounds) == (2 / 12, 6 / 12, 2, 12)
    assert match.low == none.figure("contact", "match").low
    assert match.high == all_.figure("contact", "match").high
    assert difference.value == 4 / 12
    assert difference.low == none.figure("contact", "difference").low
    assert difference.high == all_.figure("contact", "difference").high


def test_middle_values_of_many_evenings_are_those_of_a_bootstrap_of_evenings():
    """Ten evenings and ten event days: whole ones drawn anew, all at once."""
    rng = np.random.default_rng(4)
    usual, there = evening_times(rng, 10, 8, 0.1), 1.2 * evening_times(rng, 10, 4, 0.1)
    found = matches_answer(rounds_of(practice_of(10, usual) + matches_of(10, there), "Break off"))
    assert found.figure("break_off", "match").value == pytest.approx(np.median(there))
    difference = found.figure("break_off", "difference")
    assert difference.value == pytest.approx(np.median(there) - np.median(usual))
    assert (difference.low, difference.high) == pytest.approx(_drawn_anew(there, usual), abs=0.12)


def _drawn_anew(there, usual, draws=2000):
    rng = np.random.default_rng(9)
    middles = [
        np.median(one[rng.integers(len(one), size=(draws, len(one)))].reshape(draws, -1), axis=1)
        for one in (there, usual)
    ]
    return tuple(np.quantile(middles[0] - middles[1], (0.025, 0.975)))


@pytest.mark.parametrize(("days", "matches", "correlation"), [(1, 10, 0.0), (1, 10, 0.15), (3, 5, 0.05)])
def test_few_event_days_have_wide_enough_limits(days, matches, correlation):
    """Simulated, matches as practice: asked 92 % and more; of so few seasons at least eight in ten must hold."""
    held, seasons = 0, 25
    for seed in range(seasons):
        rng = np.random.default_rng(seed)
        usual, there = evening_times(rng, 12, 9, correlation), evening_times(rng, days, matches, correlation)
        found = matches_answer(rounds_of(practice_of(12, usual) + matches_of(days, there), "Break off"))
        difference = found.figure("break_off", "difference")
        held += difference.low <= 0 <= difference.high
    assert held >= 0.8 * seasons


def test_pushes_that_never_ended_open_a_limit():
    times = [[3.0, 3.1, 3.2, 3.3]] * 6
    never = matches_of(2, [[0.0] * 8] * 2, at_most_s=None)
    found = matches_answer(rounds_of(practice_of(6, times) + never, "Break off")).figure("break_off", "difference")
    assert (found.value, found.high) == (None, None)
    assert found.low == pytest.approx(-3.15, abs=0.6)
    assert math.isfinite(found.low)


def test_equal_rows_give_equal_figures():
    rng = np.random.default_rng(4)
    rows = practice_of(5, evening_times(rng, 5, 8)) + matches_of(2, evening_times(rng, 2, 5))
    assert matches_answer(rounds_of(rows, "Break off")) == matches_answer(rounds_of(reversed(rows), "Break off"))
