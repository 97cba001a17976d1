"""The page of advice: nothing on top of anything else, letters for a phone, equal bytes, all that the terminal says."""

from datetime import date

import pytest
from msgspec.structs import replace

from tests.support.analysis.review_pages import assert_tidy
from tocsin.config.file_cache import NOTHING_SHARED
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
    "ahead": {"ahead": -4.0},
}  # fmt: skip


def document(name, season=SEASON.rows):
    case = dict(CASES[name])
    count = case.pop("evenings", None)
    evenings = sorted({row.evening for row in season})[-count if count else None :]
    rows = [row for row in season if row.evening in evenings] if count != 0 else []
    known = Known(today=date.fromisoformat(SEASON.today), second=(0.75, 1.0), invented=True)
    return advise(PLAN, rows, replace(known, **case))


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
    assert ("FROZEN" in read) is (told.event == "2031-02-25")


@pytest.mark.parametrize("kind", ["pdf", "svg", "png"])
def test_equal_advice_has_equal_bytes(kind):
    one, two = (draw(document("advised"), kind=kind, size="phone") for _ in range(2))
    assert one == two
    assert b"Made by Tocsin" in one


def test_the_picture_has_the_curve_todays_lead_the_advised_one_and_what_check_wants():
    (page,) = advice_pages(document("advised"), size="a4")
    read = [label.string for label in page.parts.labels]
    assert "now: 4 s" in read
    assert "then: 3.5 s" in read
    assert "check wants 3.4 s" in read
    assert any(text.startswith("Where it is flat there is nothing to win: ") for text in read)
    (curve,) = (stroke for stroke in page.parts.strokes if stroke.kind == "tone")
    assert len(curve.points) > 15
