"""From a season's rows to what a decision rests on."""

import math
from datetime import date

import pytest
from msgspec.structs import replace

from tests.support.analysis.advice_rows import evening_of, push, row, season_rows
from tocsin.analysis.decisions.choice import Advice, Records, Refusal, choose
from tocsin.analysis.decisions.posterior import PRACTICE
from tocsin.analysis.decisions.season import (
    Terms,
    break_off_question,
    break_off_times,
    followed,
    pushed,
    pushes_seen,
    records_of,
    seed_of,
    settled_for,
    usable,
)
from tocsin.analysis.seasons.row import Row

TERMS = Terms(lead_s=4.0, contact=20, second=(0.75, 0.75), pushes=(0.5, 0.5))
TODAY = date(2031, 1, 8)


def test_rows_that_tell_how_a_call_is_answered():
    told = row()
    silent = [
        row(counted=False), row(half_speed=True, counted=False), row(kind="reaction"), row(draw_out="rumble"),
    ]  # fmt: skip
    assert usable([told, *silent, row(draw_out="none")]) == (told, row(draw_out="none"))
    nobody = row(push_at_call=False, break_off_at_least_s=None, break_off_at_most_s=None)
    assert usable([nobody]) == (nobody,)
    assert pushed([told, nobody, row(push_at_call=None)]) == (told,)


def test_times_keep_what_is_only_bounded():
    rows = [push(2.5), row(1, break_off_at_least_s=0.0, break_off_at_most_s=4.0),
            row(break_off_at_least_s=1.0, break_off_at_most_s=None), push(3.0, break_off_by="video")]
    times = break_off_times(rows)
    assert times.lows_s == (2.5, 0.0, 1.0, 3.0)
    assert times.highs_s == (2.5, 4.0, math.inf, 3.0)
    assert times.by_scribe == (True, True, True, False)
    assert times.evenings == ("2031-01-07", "2031-01-14", "2031-01-07", "2031-01-07")


def test_pushes_are_counted_in_matches_alone():
    nobody = {"push_at_call": False, "break_off_at_least_s": None, "break_off_at_most_s": None}
    assert pushes_seen([row()]) is None
    rows = [row(), row(kind="match"), row(kind="video", **nobody), row(kind="match", counted=False),
            row(kind="match", push_at_call=None)]
    assert pushes_seen(rows) == (1, 2)


def test_what_the_records_are_like():
    rows = [push(2.0, evening, number) for evening in range(6) for number in range(1, 5)]
    assert records_of(rows, pushed(rows), today=evening_of(4)) == Records(
        pushes=24, evenings=6, old=0.0, unknown=0.0, uncounted=0.0, rounds=24, clock_spread_s=pytest.approx(0.12),
    )
    # The first evening is 35 days old on the sixth; 28 days are not old.
    assert records_of(rows, pushed(rows), today=evening_of(5)).old == pytest.approx(1 / 6)
    bad = [*rows, *(row(counted=False) for _ in range(6)), row(half_speed=True, counted=False)]
    assert records_of(bad, pushed(bad), today=TODAY).uncounted == pytest.approx(6 / 30)
    assert records_of(bad, pushed(bad), today=TODAY).rounds == 30
    lost = [replace(one, break_off_at_most_s=None) for one in rows[:6]] + rows[6:]
    assert records_of(lost, pushed(lost), today=TODAY).unknown == pytest.approx(0.25)
    off = [row(clock_spread_ms=300.0), row(clock_spread_ms=400.0), row(clock_spread_ms=None)]
    assert records_of(off, pushed(off), today=TODAY).clock_spread_s == pytest.approx(0.125**0.5)
    events = [date(2031, 1, 1), date(2031, 1, 16), date(2031, 3, 1)]
    assert records_of(rows, rows, today=TODAY, events=events).days_to_event == 8
    assert records_of(rows, rows, today=date(2031, 4, 1), events=events).days_to_event is None


def test_a_changed_lead_is_seen_in_what_was_played_and_in_the_file():
    rows = [row(evening, leads_s={"break_off": 4.0, "last_load": 16.0}) for evening in range(4)]
    assert settled_for(rows, "Full", {}) is None
    assert settled_for(rows, "Full", {"break_off": 4.0}) is None
    assert settled_for(rows, "Full", {"break_off": 3.5}) == 0
    assert settled_for(rows, "Other", {"break_off": 3.5}) is None
    later = [*rows, row(4, leads_s={"break_off": 4.0, "last_load": 15.0})]
    assert settled_for(later, "Full", {}) == 1
    later += [row(5, leads_s={"break_off": 4.0, "last_load": 15.0}), row(6, leads_s={"break_off": 9.0}, plan="Other")]
    assert settled_for(later, "Full", {"break_off": 4.0}) == 2
    shifted = [*rows, row(4, shift_s=1.0, leads_s={"break_off": 5.0, "last_load": 16.0})]
    assert settled_for(shifted, "Full", {}) is None


def test_how_far_drivers_use_a_longer_call_up():
    assert followed(season_rows(follows=0.0)).value == pytest.approx(0, abs=0.1)
    half, all_of_it = followed(season_rows(follows=0.5)), followed(season_rows())
    assert half.low < 0.5 < half.high
    assert half.value == pytest.approx(0.5, abs=0.1)
    assert (half.rounds, half.evenings) == (90, 9)
    assert 0 < half.spread < 0.1
    assert all_of_it.value == pytest.approx(1, abs=0.1)
    assert all_of_it.high == 1
    assert followed(season_rows(evenings=1)) is None
    assert followed([replace(one, shift_s=None) for one in season_rows()]) is None


def test_a_question_from_rows_is_answered():
    rows = season_rows(median_s=2.6, break_off_by="video")
    asked = break_off_question(rows, replace(TERMS, lead_s=6.0), today=evening_of(9))
    assert (asked.records.pushes, asked.records.evenings, asked.records.old) == (90, 9, pytest.approx(5 / 9))
    asked = break_off_question(rows, replace(TERMS, lead_s=6.0), today=evening_of(8))
    found = choose(asked.question, asked.times, asked.records, seed=asked.seed)
    assert isinstance(found, Advice)
    assert found.lead_s == 5.0
    assert asked.question.follows == asked.followed.value
    assert asked.runs == tuple(one.folder for one in rows)
    told = break_off_question(rows, TERMS, today=TODAY, plan="Full", lead="break_off")
    assert told.records.evenings_since_change is None
    told = break_off_question(rows, replace(TERMS, lead_s=3.5), today=TODAY, plan="Full", lead="break_off")
    assert told.records.evenings_since_change == 0


def test_a_scribes_lag_is_told_by_pushes_that_a_video_noted_too():
    rows = season_rows(evenings=4)
    assert break_off_question(rows, TERMS, today=TODAY).question.lag == PRACTICE
    both = [replace(one, scribe_lags_s=(0.4, 0.5)) for one in rows[:4]] + rows[4:]
    lag = break_off_question(both, TERMS, today=TODAY).question.lag
    assert (lag.pushes, lag.middle_s) == (8, pytest.approx(0.45))
    assert 0.39 < lag.low_s < 0.42


def test_a_row_that_says_more_than_decisions_read_gives_the_same_seed():
    """Each version may know one thing more of a run: advice on the same rounds stays what it was. Seen: a count of
    marks that rows got moved the example's advice by a hundredth."""

    class Later(Row, frozen=True, kw_only=True, gc=False):
        seen_by: str

    rows = season_rows(evenings=2)
    later = [Later(**{name: getattr(one, name) for name in Row.__struct_fields__}, seen_by="a") for one in rows]
    assert seed_of(later) == seed_of(rows)
    assert seed_of([replace(one, marks_noted=7) for one in rows]) == seed_of(rows)
    assert seed_of([replace(rows[0], break_off_at_most_s=9.0), *rows[1:]]) != seed_of(rows)


def test_equal_rows_give_one_seed_wherever_they_lie():
    rows = season_rows(evenings=2)
    assert seed_of(rows) == seed_of([replace(one, folder="elsewhere") for one in rows])
    assert seed_of(rows) != seed_of(rows[1:])


def answer(rows, *, evening=8, events=(), **changed):
    """Return what is said on an evening of a lead that is a second and more too short, or of another."""
    terms = replace(TERMS, **{"lead_s": 2.5, **changed})
    asked = break_off_question(rows, terms, today=evening_of(evening), plan="Full", lead="break_off", events=events)
    return choose(asked.question, asked.times, asked.records, seed=asked.seed)


def video(**changed):
    return season_rows(**{"break_off_by": "video", "lead_s": 2.5, **changed})


@pytest.mark.parametrize(
    ("rows", "rest", "code"),
    [
        (video(), {"events": [evening_of(9)]}, "frozen"),                                 # 7 days before
        (video(), {"events": [evening_of(8)]}, "frozen"),                                 # the day itself
        (video() + [row(8, number, counted=False) for number in range(50)], {}, "bad records"),
        (video(clock_spread_ms=360.0), {}, "bad records"),
        ([replace(one, break_off_at_most_s=None) if one.round % 4 == 1 else one for one in video()], {}, "bad records"),
        (video(evenings=2, rounds=12), {"evening": 1}, "too few"),
        (video(evenings=3, rounds=7), {"evening": 2}, "too few"),
        (video(), {"evening": 10}, "too few"),                                  # most are older than 28 days
        (video(), {"lead_s": 3.5}, "not settled"),                                        # the file has another lead
        (video(lead_s=3.5), {"lead_s": 3.5}, "nothing to win"),
        (video(lead_s=2.5), {"pushes": (0.01, 0.5)}, "hangs on a number"),
        (video(seed=0, evenings=3, rounds=8, spread=0.3, median_s=2.3, lead_s=3.0), {"lead_s": 3.0, "evening": 2},
         "data do not tell"),
    ],
)  # fmt: skip
def test_each_refusal_is_reached_from_rows(rows, rest, code):
    found = answer(rows, **rest)
    assert isinstance(found, Refusal)
    assert found.code == code
    told = found.code in ("nothing to win", "hangs on a number", "data do not tell")
    assert (found.lead_s is not None) == (found.gain is not None) == told


def test_eight_days_before_an_event_it_speaks():
    assert isinstance(answer(video()), Advice)
    assert isinstance(answer(video(), events=[date(2031, 3, 12)]), Advice)
    assert isinstance(answer(video(), events=[date(2031, 3, 3)]), Advice)                 # it is over
