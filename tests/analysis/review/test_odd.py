"""Odd rounds: by whom and what they are measured, what is marked, and how often by chance."""

import math

import numpy as np
import pytest

from tests.support.analysis.review_rows import a_push, a_row
from tests.support.analysis.season_teams import season_rows
from tests.support.analysis.season_worlds import TWO_CREWS, World
from tocsin.analysis.review.answer import Lacking
from tocsin.analysis.review.odd import NEW_BASELINE, odd_answer
from tocsin.analysis.review.rounds import rounds_of
from tocsin.analysis.seasons.rounds_chart import chance_of_any, chart_of


def evenings_of(times_s, each=10, first=0, **facts):
    """Return pushes of so many an evening, in their order."""
    days = [f"2031-{month:02d}-{day:02d}" for month in (2, 3) for day in range(1, 29)]
    return [
        a_push(k % each + 1, time_s, evening=days[first + k // each], **facts) for k, time_s in enumerate(times_s)
    ]


def usual(n, seed=1):
    return np.exp(1 + 0.2 * np.random.default_rng(seed).standard_normal(n)).round(3).tolist()


def test_the_limit_is_that_of_the_first_forty_and_only_later_rounds_are_marked():
    times = usual(60)
    times[5], times[50] = 30.0, 30.0
    rows = evenings_of(times)
    answer = odd_answer(rounds_of(rows))
    assert answer.marked == (rows[50].folder,)
    assert (answer.figure("odd").count, answer.figure("odd").rounds, answer.figure("odd").evenings) == (1, 20, 2)
    # A second way: the median, and the median difference of neighbours over 0.954, of the logarithms.
    logs = np.log(times[:40])
    limit = math.exp(np.median(logs) + 3.5 * np.median(np.abs(np.diff(logs))) / 0.954)
    assert answer.figure("odd_limit").value == pytest.approx(limit, rel=1e-3)
    assert answer.figure("odd_by_chance").value == pytest.approx(
        chance_of_any(chart_of(times), 10, seed=3), abs=0.03
    )
    # The page of an evening marks its own rounds alone; that of the whole season is frozen.
    assert odd_answer(rounds_of(rows), rows[40].evening).figure("odd").rounds == 10
    assert odd_answer(rounds_of(rows), rows[40].evening).marked == ()
    assert odd_answer(rounds_of(rows), rows[50].evening).marked == answer.marked
    assert odd_answer(rounds_of(rows), rows[0].evening).figures == ()


def test_forty_pushes_are_needed():
    for n, more, evenings in ((0, 41, 5), (20, 21, 3), (40, 1, 1)):
        answer = odd_answer(rounds_of(evenings_of(usual(n))))
        assert answer.lacking == (
            Lacking(question="odd", figure="odd", counted="pushes", more=more, evenings=evenings),
        )
        assert (answer.figures, answer.verdict) == ((), "")
    assert odd_answer(rounds_of(evenings_of(usual(41)))).lacking == ()


@pytest.mark.parametrize(
    "new", [{"leads_s": {"break_off": 4.5}}, {"plan": "Quiet"}, {"people": {"driver": "d2"}}, {"crew": "B"}]
)
def test_a_new_lead_plan_or_driver_has_a_baseline_of_its_own(new):
    rows = [*evenings_of(usual(40)), *evenings_of([30.0] * 5, first=4, **new)]
    answer = odd_answer(rounds_of(rows))
    assert (answer.marked, answer.verdict) == ((), NEW_BASELINE)
    assert answer.lacking[0].more == 36


def test_a_lead_that_the_lot_moved_is_no_other_lead():
    shifts = [(-1.0, 0.0, 1.0)[k % 3] for k in range(60)]
    rows = [
        a_push(k % 10 + 1, time, evening=f"2031-02-{1 + k // 10:02d}", shift_s=shift,
               leads_s={"break_off": 4.0 + shift})
        for k, (time, shift) in enumerate(zip(usual(60), shifts, strict=True))
    ]  # fmt: skip
    assert odd_answer(rounds_of(rows)).figure("odd").rounds == 20


def test_a_push_without_an_end_is_odd_only_if_it_surely_lasted_and_makes_no_baseline_shorter():
    never = [a_push(k, 0.0, at_most_s=None, evening="2031-03-01") for k in (1, 2)]
    longer = a_push(3, 31.0, at_most_s=None, evening="2031-03-01")
    answer = odd_answer(rounds_of([*evenings_of(usual(40)), *never, longer]))
    assert answer.marked == (longer.folder,)
    # Half of the baseline never ended, or all took the same: there is no limit, and no more rounds would give one.
    for rows in ([a_push(k % 10 + 1, 0.0, at_most_s=None, evening=f"2031-02-{k // 10 + 1:02d}") for k in range(50)],
                 evenings_of([3.0] * 50)):  # fmt: skip
        found = odd_answer(rounds_of(rows))
        assert (found.figures, found.lacking[0].more, found.lacking[0].evenings) == ((), 0, 0)
    some = odd_answer(rounds_of(evenings_of(usual(30)) + [
        a_push(k, 0.5, at_most_s=None, evening="2031-03-02") for k in range(1, 11)
    ] + evenings_of(usual(10, seed=4), first=40)))  # fmt: skip
    assert some.figure("odd_limit").value > odd_answer(rounds_of(evenings_of(usual(50)))).figure("odd_limit").value


def test_what_does_not_count_is_not_charted():
    rows = evenings_of(usual(40))
    day = {"evening": "2031-03-01"}
    late = [a_push(1, 30.0, counted=False, **day), a_push(2, 30.0, half_speed=True, **day), a_row(3, **day)]
    assert odd_answer(rounds_of([*rows, *late])).marked == ()


def test_marks_come_about_as_often_as_the_page_says():
    """Simulated teams of two drivers in which nothing differs: evenings with a mark, beside what pages say on average.
    Of six seasons little is known: tests/benchmarks/season_coverage.py counts many."""
    came, said = [], []
    for seed in range(6):
        rounds = rounds_of(season_rows(World(crews=TWO_CREWS, evenings=14), seed))
        answer = odd_answer(rounds)
        odd = answer.figure("odd")
        marked = {folder.split("/")[0] for folder in answer.marked}
        came.append(len(marked) / odd.evenings)
        said.append(answer.figure("odd_by_chance").value)
    assert np.mean(said) < 0.15
    assert np.mean(came) < np.mean(said) + 0.1


def test_equal_rows_give_equal_figures():
    rows = evenings_of(usual(60))
    assert odd_answer(rounds_of(rows)) == odd_answer(rounds_of(reversed(rows)))
