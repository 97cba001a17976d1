"""The season that comes with Tocsin is what its simulator makes, and says that it is invented."""

import itertools
from collections import Counter
from datetime import date, datetime

from tests.support.analysis.season_example import TEAM, example_file, path, text_of
from tocsin.analysis.decisions.choice import Advice, choose
from tocsin.analysis.decisions.season import Terms, break_off_question
from tocsin.analysis.review.better import better_answer
from tocsin.analysis.review.evening import evening_review
from tocsin.analysis.seasons.rounds_chart import chart_of
from tocsin.config import bundle
from tocsin.features.records.example_season import FORMAT, example_rows, example_season
from tocsin.model.evening import is_same_evening


def test_the_file_is_what_the_simulator_makes():
    # Else: python -m tests.support.analysis.season_example
    assert path().read_text(encoding="utf-8") == text_of(example_file())


def test_it_comes_with_the_program_and_says_that_it_is_invented():
    assert bundle.holds(path())
    assert f'"format": "{FORMAT}"' in path().read_text(encoding="utf-8")
    assert example_season().invented.startswith("Invented: nobody drove these rounds.")
    assert "(invented)" in example_season().project.name


def test_it_is_a_season_of_twenty_evenings_and_four_people_in_two_crews():
    rows = example_rows()
    assert len({row.evening for row in rows}) == TEAM.evenings == 20
    assert {row.people["driver"] for row in rows} == {row.people["operator"] for row in rows} == {"ash", "elm", "fir",
                                                                                                "oak"}
    assert {row.crew for row in rows if row.kind == "drill"} == {"A", "B"}
    assert {row.drill for row in rows} == {"Break off", "Turn", "Fork", ""}
    assert Counter(row.kind for row in rows)["match"] == 9
    assert [row.wall for row in rows] == sorted(row.wall for row in rows)
    assert len({row.folder for row in rows}) == len(rows)


def test_its_project_fits_its_rows():
    season = example_season()
    project, last = season.project, season.rows[-1]
    assert {row.game for row in season.rows} == {"Casting Day"}
    assert date.fromisoformat(season.today) > date.fromisoformat(last.local[:10])
    assert project.question is not None
    assert project.question.since <= season.rows[0].evening
    # Not frozen: its next event is more than a week ahead.
    assert (date.fromisoformat(project.event.dates[0]) - date.fromisoformat(season.today)).days > 7


def test_one_lead_was_changed_in_mid_season():
    leads = [row.leads_s["break_off"] for row in example_rows() if not row.shift_s]
    assert leads == sorted(leads)
    assert set(leads) == {3.0, 4.0}


def test_each_evening_is_one():
    by_evening: dict[str, list[float]] = {}
    for row in example_rows():
        by_evening.setdefault(row.evening, []).append(_seconds(row.wall))
    for begins in by_evening.values():
        assert all(is_same_evening(one, other) for one, other in itertools.pairwise(begins))


def _seconds(wall: str) -> float:
    return datetime.fromisoformat(wall).timestamp()


def test_it_has_something_to_show():
    """What the simulator was told is found: the question of the month, its one odd round, what is not known yet."""
    season = example_season()
    answer = better_answer(season.rows, season.project.question)
    named = [one for one in answer.comparisons if one.named]
    assert [(one.verdict, one.less) for one in named] == [("better", "calling")]
    assert {one.verdict for one in answer.comparisons if not one.named} == {"not_yet"}
    assert answer.lacking
    last = evening_review([row for row in season.rows if row.evening == season.rows[-1].evening])
    assert last.trusted
    assert last.answer("contact").figure("contact").count > 0
    rows = [row for row in season.rows if row.people["driver"] == "fir" and row.push_at_call and row.counted]
    since = [row for row in rows if row.plan == "Full" and row.drill == "Break off" and row.evening >= "2031-01-21"]
    chart = chart_of([row.break_off_at_least_s or 0.01 for row in since])
    assert [row.round for row in since if chart.is_odd(row.break_off_at_least_s)] == [TEAM.slow[0].round]


def test_a_change_is_advised():
    season = example_season()
    terms = Terms(lead_s=4.0, contact=9.0, second=season.project.second, least_s=3.3)
    asked = break_off_question(
        season.rows, terms, today=date.fromisoformat(season.today), plan="Full", lead="break_off",
        events=map(date.fromisoformat, season.project.event.dates),
    )  # fmt: skip
    found = choose(asked.question, asked.times, asked.records, seed=asked.seed)
    assert isinstance(found, Advice)
    assert found.lead_s == 3.5
