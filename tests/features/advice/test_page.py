"""The page of advice: nothing on top of anything else, letters for a phone, equal bytes, all that the terminal says."""

from datetime import date
from functools import cache

import pytest
from msgspec.structs import replace

from tests.support.analysis.review_pages import assert_tidy
from tocsin.analysis.decisions.posterior import drawn_from
from tocsin.config.file_cache import NOTHING_SHARED
from tocsin.config.write.starter import copy_bundled
from tocsin.export.drawing.fitting import CAP
from tocsin.export.drawing.page_style import LEAST_CAPITAL_MM
from tocsin.features.advice.advise import advise
from tocsin.features.advice.advised_plan import load_advised
from tocsin.features.advice.details import details
from tocsin.features.advice.known import Known
from tocsin.features.advice.page import advice_pages, draw
from tocsin.features.advice.words import line_lines, sentence
from tocsin.features.records.example_season import example_season

SEASON = example_season()
PLAN = load_advised("full", None, "nothing", NOTHING_SHARED)
SIZES = ("a4", "phone")
CASES = {
    "advised": {}, "frozen": {"events": (date(2031, 2, 25),), "look": True}, "few": {"evenings": 1},
    "hangs": {"second": (0.05, 1.0)}, "two evenings": {"evenings": 2}, "none": {"evenings": 0},
    "ahead": {"ahead": -4.0}, "dear seconds": {"second": (3.0, 4.0)},
}  # fmt: skip


def reckoned(name, season=SEASON.rows):
    """Return advice, reckoned anew."""
    case = dict(CASES[name])
    count = case.pop("evenings", None)
    evenings = sorted({row.evening for row in season})[-count if count else None :]
    rows = [row for row in season if row.evening in evenings] if count != 0 else []
    known = Known(today=date.fromisoformat(SEASON.today), second=(0.75, 1.0), invented=True)
    return advise(PLAN, rows, replace(known, **case))


@cache
def document(name):
    """Return advice by the season as it is: reckoned once, since nothing changes it."""
    return reckoned(name)


@pytest.fixture(scope="module")
def again():
    """Return advice that was reckoned a second time, from the grid on."""
    document("advised")
    drawn_from.cache_clear()
    return reckoned("advised")


@pytest.fixture(scope="module", params=CASES)
def told(request):
    return document(request.param)


@pytest.mark.parametrize("size", SIZES)
def test_no_text_meets_another_one_or_leaves_the_page(told, size):
    for page in (*advice_pages(told, size=size), *advice_pages(told, size=size, tall=True)):
        assert_tidy(page)
        assert min(label.em_mm * CAP for label in page.parts.labels) >= LEAST_CAPITAL_MM


def test_on_paper_it_is_one_sheet_and_says_all_that_the_terminal_says(told):
    (page,) = advice_pages(told, size="a4")
    assert (page.width_mm, page.height_mm) == (210, 297)
    read = " ".join(label.string for label in page.parts.labels)
    words = [sentence(told), *(text for pair in details(told) for text in pair), *line_lines(told)]
    assert all(word in read for text in words for word in text.split())
    assert "INVENTED EXAMPLE" in read
    assert read.count("FROZEN") == (told.event == "2031-02-25"), "said once"


@pytest.mark.parametrize("kind", ["pdf", "svg", "png"])
def test_equal_advice_has_equal_bytes(kind, again):
    one, two = (draw(advice, kind=kind, size="phone") for advice in (document("advised"), again))
    assert one == two
    assert b"Made by Tocsin" in one


def test_the_picture_has_the_curve_todays_lead_the_advised_one_and_what_check_wants():
    (page,) = advice_pages(document("advised"), size="a4")
    read = [label.string for label in page.parts.labels]
    assert "now: 4 s" in read
    assert "then: 3.5 s" in read
    assert "check wants 3.3 s" in read
    assert any(text.startswith("Where it is flat there is nothing to win: ") for text in read)
    (curve,) = (stroke for stroke in page.parts.strokes if stroke.kind == "tone")
    assert len(curve.points) > 15


def test_where_check_asks_for_more_than_is_worth_it_one_sentence_says_why_both_are_right():
    found = document("dear seconds")
    answer = found.told
    assert answer.curve.flat_to_s < answer.least_s < answer.now_s
    said = dict(details(found))["check"]
    assert said == (
        f"`tocsin check` wants {answer.least_s:g} s: it leaves room for nine in ten pushes. This weighs points: a lead "
        f"beyond {answer.curve.flat_to_s:g} s costs more than it saves. Both are right."
    )
    (page,) = advice_pages(found, size="a4")
    read = " ".join(label.string for label in page.parts.labels).replace("\u00a0", " ")
    assert "Both are right." in read
    assert f"check wants {answer.least_s:g} s" in read
    # Where the limit lies in the flat part, below it, or less than a step of the curve beyond, there is nothing to say.
    for least_s in (0.0, answer.curve.flat_to_s, answer.curve.flat_to_s + 0.2):
        assert "check" not in dict(details(replace(found, leads=(replace(answer, least_s=least_s), *found.leads[1:]))))


def test_where_a_season_saw_fewer_contacts_advice_says_what_each_of_them_counts():
    """The season's page tells that contacts fell as the lead went from 3 to 4 s; advice takes half a second back."""
    found = document("advised")
    answer = found.told
    season = answer.season
    assert (season.evening, season.before_s, season.after_s) == ("2031-01-21", 3.0, 4.0)
    assert (season.before, season.after) == ((19, 100), (9, 260))
    assert dict(details(found))["season"] == (
        "The season's page counts contacts alone: in 19 of 100 rounds with 3 s, in 9 of 260 with 4 s. This goes by "
        "when pushes end after the call, and also counts the play that a longer lead costs."
    )
    (page,) = advice_pages(found, size="a4")
    assert "season's page counts" in " ".join(label.string for label in page.parts.labels).replace("\u00a0", " ")

    def told_with(season, lead_s):
        changed = replace(answer, season=season, change=replace(answer.change, lead_s=lead_s))
        return dict(details(replace(found, leads=(changed, *found.leads[1:])))).get("season", "")

    rose = replace(season, before=season.after, after=season.before)
    back = replace(season, before_s=4.0, after_s=3.0)
    assert told_with(season, 4.5) == "", "both are for a longer one"
    assert "instead: by that a longer lead saves contacts" in told_with(rose, 4.5)
    assert told_with(rose, 3.5) == ""
    assert told_with(back, 2.5) == ""
    assert told_with(replace(season, before=(19, 100), after=(38, 200)), 3.5) == "", "as many as before"
    assert told_with(None, 3.5) == ""
    # A season's page tells no share of fewer than three evenings.
    assert document("two evenings").told.season is None


def test_a_bundled_plan_is_changed_in_a_copy(tmp_path):
    """Its line there is the same one, and gives the lead that is advised."""
    found = document("advised")
    where, line = line_lines(found)
    assert found.bundled
    assert where == (
        "plans/full.toml comes with Tocsin and stays as it is. `tocsin init my_team --examples` writes a copy of your "
        "own: in my_team/examples/plans/full.toml, line 20, write this."
    )
    copy_bundled(tmp_path)
    plan = tmp_path / "plans" / "full.toml"
    lines = plan.read_text("utf-8").split("\n")
    lines[19] = line.strip()
    plan.write_text("\n".join(lines), "utf-8")
    changed = load_advised(str(plan), None, "nothing", NOTHING_SHARED)
    assert changed.lead_s("break_off") == found.told.change.lead_s
    own = advise(changed, SEASON.rows, Known(today=date.fromisoformat(SEASON.today), second=(0.75, 1.0)))
    assert not own.bundled
