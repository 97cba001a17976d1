"""The evening page: nothing on top of anything else, letters for a phone, equal bytes, no names unasked."""


import hashlib
import io

import pypdf
import pytest
from msgspec.structs import replace

from tests.support.analysis.review_pages import NAMES, TEAMS, assert_tidy, evening
from tests.support.export.elsewhere import printed_elsewhere
from tocsin.analysis.review.answer import Answer, Lacking
from tocsin.analysis.review.evening import evening_review
from tocsin.export.drawing.page_style import SIZES
from tocsin.features.review.evening_page import draw, evening_pages

every_size = pytest.mark.parametrize("size", SIZES)
# ISO 216, upright (from memory).
A4_MM = (210, 297)


def pages(name, size="a4", place=-1, **options):
    rows = evening(name, place)
    return evening_pages(evening_review(rows), rows, size=size, **{"names": {}, **options})


def strings(found):
    return [label.string for page in found for label in page.parts.labels]


def read(found):
    return " ".join(strings(found))


# -- nothing meets, nothing leaves ------------------------------------------------------------------------------------


@every_size
@pytest.mark.parametrize("name", TEAMS)
def test_no_text_meets_another_one_or_leaves_the_page(name, size):
    for page in pages(name, size, names=NAMES, example=True):
        assert_tidy(page)
    for page in pages(name, size, place=0, tall=True):
        assert_tidy(page)


@pytest.mark.parametrize("place", range(20))
def test_a_whole_season_of_pages_is_tidy(place):
    for page in pages("twenty evenings", "a4", place):
        assert_tidy(page)


@pytest.mark.parametrize("name", TEAMS)
def test_an_evening_is_one_sheet_of_a4(name):
    (page,) = pages(name, names=NAMES, example=True)
    assert (page.width_mm, page.height_mm) == A4_MM


@pytest.mark.parametrize("name", TEAMS)
def test_a_phone_has_pages_of_its_size_or_one_tall_page(name):
    assert {(page.width_mm, page.height_mm) for page in pages(name, "phone")} == {(90, 160)}
    (tall,) = pages(name, "phone", tall=True)
    assert tall.width_mm == 90


def test_the_screen_s_picture_has_the_pixels_of_a_screen():
    rows = evening("a plain")
    data = draw(evening_review(rows), rows, kind="png", size="screen", names={})
    width, height = (int.from_bytes(data[at : at + 4], "big") for at in (16, 20))
    assert (width, height) == (1280, 720)


# -- what stands there ------------------------------------------------------------------------------------------------


def test_the_page_tells_the_day_the_drill_the_sentence_and_numbers_with_their_limits():
    told = read(pages("a plain"))
    for text in ("Evening of 2031-01-16", "Break off", "plan Full", "lead 4 s", "10 of 10 rounds count.",
                 "Nothing new, and that is fine.", "0 of 10", "(0 to 76 of 100)", "not yet", "Still pushing",
                 "Above the line", "The longer the line", "Left out: 2 driven at half speed"):  # fmt: skip
        assert text in told


@every_size
def test_nobody_is_named_unless_it_is_asked_for(size):
    assert not any(name in read(pages("busy", size)) for name in NAMES.values())
    if size != "screen":
        assert "Wilhelmina-Konstantina" in read(pages("busy", size, names=NAMES))


@pytest.mark.parametrize("kind", ["pdf", "svg", "png"])
def test_a_file_says_by_key_whose_names_it_shows(kind):
    rows = evening("busy")
    for names in ({}, NAMES):
        data = draw(evening_review(rows), rows, kind=kind, names=names)
        assert (b"Tocsin d1 d2 o1 o2" in data) is bool(names)


@every_size
def test_an_invented_example_says_so_on_each_page(size):
    for page in pages("a plain", size, example=True, tall=True):
        assert "invented example" in read([page]).lower()
    assert "invented" not in read(pages("a plain", size)).lower()


@every_size
def test_nothing_is_told_where_a_third_of_the_rounds_is_lost(size):
    found = pages("half lost", size)
    told = read(found)
    assert "Nothing else is told." in told
    assert not any(word in told for word in ("Still pushing", "Rounds:", "early", "of 100"))
    assert [area for page in found for area in page.parts.areas] == []


@every_size
@pytest.mark.parametrize("name", ["busy", "f never ended"])
def test_nothing_has_a_colour(name, size):
    for page in pages(name, size):
        assert all(len(set(area.colour)) == 1 for area in page.parts.areas)
        assert all(label.colour is None for label in page.parts.labels)


def test_what_has_no_room_in_the_list_is_counted():
    rows = evening("a plain")
    review = evening_review(rows)
    many = tuple(
        Lacking(question="better", figure="difference", of=f"coach {number}", counted="pairs", more=number, evenings=1)
        for number in range(1, 41)
    )
    longer = replace(review, answers=(*review.answers, Answer(question="better", lacking=many)))
    (page,) = evening_pages(longer, rows, size="a4", names={})
    assert_tidy(page)
    told = [text for text in strings([page]) if text.startswith("Not yet:")]
    assert f"And {42 - len(told)} more." in strings([page])


# -- equal bytes ------------------------------------------------------------------------------------------------------

SCRIPT = """
import hashlib
from tests.support.analysis.review_pages import evening
from tocsin.analysis.review.answer import Answer, Lacking
from tocsin.analysis.review.evening import evening_review
from tocsin.features.review.evening_page import draw
rows = evening("f never ended")
for kind, size in (("pdf", "a4"), ("svg", "phone"), ("png", "screen")):
    print(hashlib.sha256(draw(evening_review(rows), rows, kind=kind, size=size, names={})).hexdigest())
"""


@pytest.mark.devices
def test_equal_reviews_give_equal_bytes_whatever_a_user_has_set(tmp_path):
    rows = evening("f never ended")
    here = [
        hashlib.sha256(draw(evening_review(rows), rows, kind=kind, size=size, names={})).hexdigest()
        for kind, size in (("pdf", "a4"), ("svg", "phone"), ("png", "screen"))
    ]
    assert printed_elsewhere(tmp_path, SCRIPT).split() == here


def test_a_pdf_for_a_phone_has_several_pages():
    rows = evening("a plain")
    file = pypdf.PdfReader(io.BytesIO(draw(evening_review(rows), rows, kind="pdf", size="phone", names={})))
    assert len(file.pages) > 1
    assert "Nothing new" in file.pages[0].extract_text()
