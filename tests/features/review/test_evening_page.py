"""The evening page: nothing on top of anything else, letters for a phone, equal bytes, no names unasked."""


import calendar
import io
import os
import re
import subprocess
import sys
from html import unescape

import pypdf
import pytest
from msgspec.structs import replace

from tests.support import texts
from tests.support.analysis.review_pages import NAMES, TEAMS, assert_tidy, evening, review_of_evening, team
from tests.support.export.elsewhere import printed_elsewhere
from tests.support.thinned import crossed
from tocsin.analysis.review.answer import Answer, Lacking
from tocsin.export.drawing.page_style import SIZES, STYLES
from tocsin.features.review.evening_page import evening_pages
from tocsin.features.review.pages import draw
from tocsin.features.review.parts import lackings

every_size = pytest.mark.parametrize("size", SIZES)
# ISO 216, upright (from memory).
A4_MM = (210, 297)


def pages(name, size="a4", place=-1, **options):
    review, rows = review_of_evening(name, place), evening(name, place)
    return evening_pages(review, rows, size=size, **{"names": {}, **options})


def strings(found):
    return [label.string for page in found for label in page.parts.labels]


def read(found):
    return " ".join(strings(found))


# -- nothing meets, nothing leaves ------------------------------------------------------------------------------------


@crossed(name=TEAMS, size=SIZES)
def test_no_text_meets_another_one_and_an_evening_is_one_sheet(name, size):
    found = pages(name, size, names=NAMES, example=True)
    for page in found:
        assert_tidy(page, cut=size == "screen")
    sizes = {(page.width_mm, page.height_mm) for page in found}
    assert sizes == {(STYLES[size].width_mm, STYLES[size].height_mm)}
    if size == "a4":
        assert (len(found), sizes) == (1, {A4_MM})


@pytest.mark.parametrize("name", ["busy with long names", "f never ended", "one round"])
def test_a_phone_s_picture_is_one_tall_page(name):
    (page,) = pages(name, "phone", place=0, tall=True)
    assert_tidy(page)
    assert page.width_mm == 90


@pytest.mark.parametrize("place", range(0, 20, 3))
def test_a_whole_season_of_pages_is_tidy(place):
    for page in pages("twenty evenings", "a4", place):
        assert_tidy(page)


def test_the_screen_s_picture_has_the_pixels_of_a_screen():
    rows = evening("a plain")
    data = draw(review_of_evening("a plain"), rows, kind="png", size="screen", names={})
    width, height = (int.from_bytes(data[at : at + 4], "big") for at in (16, 20))
    assert (width, height) == (1280, 720)


# -- what stands there ------------------------------------------------------------------------------------------------


def test_the_page_tells_the_day_the_drill_the_sentence_and_numbers_with_their_limits():
    told = read(pages("a plain"))
    for text in ("Break off, evening of Thu 2031-01-16", "plan Full", "lead 4 s", "10 of 10 rounds count.",
                 "Film the field next time: of 5 rounds only a video can tell.", "0 of 10",
                 "5 more: only a video can tell", "(0 to 76 of 100)", "Not yet:", "Still pushing",
                 "Above the line", "The longer the line", "Left out: 2 rounds: driven at half speed"):  # fmt: skip
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
        data = draw(review_of_evening("busy"), rows, kind=kind, names=names)
        assert (b"Tocsin d1 d2 o1 o2" in data) is bool(names)


@every_size
def test_an_invented_example_says_so_on_each_page(size):
    for page in (*pages("a plain", size, example=True, tall=True), *pages("a plain", size, example=True)):
        assert "invented" in read([page]).lower()
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
    rows, review = evening("a plain"), review_of_evening("a plain")
    many = tuple(
        Lacking(question="better", figure="difference", of=f"coach {number}", counted="pairs", more=number, evenings=1)
        for number in range(1, 41)
    )
    longer = replace(review, answers=(*review.answers, Answer(question="better", lacking=many)))
    (page,) = evening_pages(longer, rows, size="a4", names={})
    assert_tidy(page)
    told = [text for text in strings([page]) if text.startswith("Not yet:")]
    assert f"And {len(lackings(longer)) - len(told)} more." in strings([page])


# -- equal bytes ------------------------------------------------------------------------------------------------------

# Evening and season in one process, since it takes long to start on a busy machine.
SCRIPT = """
import hashlib
from tests.support.analysis.review_pages import evening, team
from tocsin.analysis.review.evening import evening_review
from tocsin.analysis.review.season import season_review
from tocsin.features.review.pages import draw
rows = evening("f never ended")
season = team("three evenings")
for kind, size in (("pdf", "a4"), ("svg", "phone"), ("png", "screen")):
    for review, of in (
        (evening_review(rows), rows), (season_review(season), season)
    ):
        print(hashlib.sha256(draw(review, of, kind=kind, size=size, names={})).hexdigest())
"""


@pytest.mark.devices
def test_equal_reviews_give_equal_bytes_whatever_a_user_has_set(tmp_path, capsys):
    exec(compile(SCRIPT, "script", "exec"), {})
    here = capsys.readouterr().out.split()
    assert len(set(here)) == 6
    assert printed_elsewhere(tmp_path, SCRIPT).split() == here


def test_a_pdf_for_a_phone_has_several_pages():
    rows = evening("a plain")
    file = pypdf.PdfReader(io.BytesIO(draw(review_of_evening("a plain"), rows, kind="pdf", size="phone", names={})))
    assert len(file.pages) > 1
    assert "Film the field next time" in file.pages[0].extract_text()


# -- every text is marked ---------------------------------------------------------------------------------------------

DRAWN = """
import sys
from tests.support.analysis.review_pages import evening, review_of_season, team
from tocsin.analysis.review.evening import evening_review
from tocsin.features.review.pages import draw
rows, season = evening("turns", 0), "l matches slower"
for review, of in (
    (evening_review(rows), rows), (review_of_season(season), team(season))
):
    sys.stdout.buffer.write(draw(review, of, kind="svg", names={}, example=True))
"""


@pytest.mark.devices
def test_all_that_pages_say_stands_in_the_list_of_texts(tmp_path):
    """In a language in which every text stands between marks only what teams wrote stands outside of them."""
    marked = {**os.environ, **texts.wrapped(tmp_path / "locale"), "PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run([sys.executable, "-c", DRAWN], env=marked, capture_output=True, timeout=280, check=False)
    assert done.returncode == 0, done.stderr
    told = " ".join(unescape(line) for line in re.findall("<!-- (.*?) -->", done.stdout.decode(), re.S))
    assert told.count(texts.WRAPPED[0]) > 150
    written = {word for name in ("turns", "l matches slower") for row in team(name)
               for word in f"{row.drill} {row.plan} {row.setup}".lower().split()}  # fmt: skip
    outside = {word.lower() for word in texts.unmarked(told)} - written - {day.lower() for day in calendar.day_abbr}
    assert outside == set()
