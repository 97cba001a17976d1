"""Pictures as files: what they are, equal bytes, no colour, one page of the right size; the page for the wall."""

import hashlib
import io
import re
import struct
import xml.etree.ElementTree as ET
from functools import cache

import pypdf
import pytest

from tests.support.export.card_sources import CARDS
from tests.support.export.elsewhere import printed_elsewhere
from tocsin.export.picture.picture import FORMS, WALLS, picture, picture_layout

# ISO 216: A4 is 210 mm x 297 mm, A3 297 mm x 420 mm, here lying (from memory).
ISO_216_MM = {None: (297, 210), "a4": (297, 210), "a3": (420, 297)}
POINT_MM = 25.4 / 72
SVG = "{http://www.w3.org/2000/svg}"
MADE = "Made by Tocsin 9.9.9. Do not edit: change the plan and export it again."
every_form = pytest.mark.parametrize("form", FORMS)


@cache
def made(name, form, wall=None):
    return picture(CARDS[name](), form, wall)


@cache
def laid_out(name, wall=None):
    return picture_layout(CARDS[name](), wall)


def page(pdf):
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    assert len(pages) == 1
    return pages[0]


def plain(text):
    """Return what is read, without blanks; the PDF's own blanks are where gaps between letters are."""
    return re.sub(r"\s+", "", text)


@pytest.mark.parametrize("wall", [None, *WALLS])
def test_it_is_one_lying_page_of_the_standard(wall):
    box = page(made("full" if wall else "doors", "pdf", wall)).mediabox
    size_mm = (float(box.width) * POINT_MM, float(box.height) * POINT_MM)
    assert size_mm == pytest.approx(ISO_216_MM[wall], abs=0.1)


def test_the_svg_and_the_png_have_that_form_too():
    root = ET.fromstring(made("quiet", "svg"))
    sides = [float(root.get(side).removesuffix("pt")) * POINT_MM for side in ("width", "height")]
    assert sides == pytest.approx([297, 210], abs=0.1)
    width, height = struct.unpack(">II", made("quiet", "png")[16:24])           # PNG, IHDR: W3C, 3rd edition, 11.2.1
    assert width / height == pytest.approx(297 / 210, rel=1e-3)
    assert width > 2000                         # to be read on a screen when it is enlarged


@every_form
def test_each_file_says_who_made_it_and_holds_no_date(form):
    data = made("doors" if form == "pdf" else "quiet", form)
    assert MADE.encode() in data, "the command line knows its own files by that"
    assert b"CreationDate" not in data
    assert b"dc:date" not in data
    assert (b"Two Doors: Doors" if form == "pdf" else b"Casting Day: Quiet") in data


def test_the_pdf_holds_every_text_of_the_layout():
    read = plain(page(made("doors", "pdf")).extract_text())
    missing = [x.string for x in laid_out("doors").parts.labels if plain(x.string) not in read]
    assert missing == []


def test_codes_in_a_plan_s_words_stay_words():
    svg = made("long words", "svg")
    ET.fromstring(svg)
    assert b"$x^2$" in svg                      # letters are outlines there; a comment holds what they say


def test_everything_is_grey():
    svg = made("doors", "svg").decode()         # it has hatching too
    colours = set(re.findall(r"#[0-9a-fA-F]{6}\b", svg))
    assert len(colours) > 4
    for colour in colours:
        red, green, blue = (colour[at : at + 2] for at in (1, 3, 5))
        assert red == green == blue
    operators = page(made("doors", "pdf")).get_contents().get_data().decode("latin-1")
    triples = re.findall(r"([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG)\b", operators)
    assert [t for t in triples if len(set(t)) > 1] == []


def luminance(value):
    """Relative luminance of a grey 0 to 1: WCAG 2.2, definition of relative luminance (W3C, 2023)."""
    return value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4


def meet(label, box):
    wide = min(label.x_mm + label.width_mm, box.x_mm + box.width_mm) - max(label.x_mm, box.x_mm)
    tall = min(label.y_mm, box.y_mm + box.height_mm) - max(label.y_mm - label.above_mm, box.y_mm)
    return wide > 0 and tall > 0


@pytest.mark.parametrize("name", ["full", "doors"])
def test_letters_have_a_contrast_of_seven_at_least_on_every_ground(name):
    sheet = laid_out(name)
    grounds = []
    for label in sheet.parts.labels:
        ground = min([1.0, *(box.fill for box in sheet.parts.boxes if box.fill is not None and meet(label, box))])
        assert (luminance(ground) + 0.05) / (luminance(label.grey) + 0.05) >= 7, label
        grounds.append(ground)
    assert len(set(grounds)) >= 3               # white, the ground of what is shown larger, that of holds


# -- the page for the wall ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("wall", WALLS)
def test_the_wall_has_the_words_the_leads_and_the_form(wall):
    read = page(made("full", "pdf", wall)).extract_text()
    for text in ("event rules asked", "for", "date", "Leads (how early calls come)"):
        assert plain(text) in plain(read)
    for lead in ("break_off 4s", "last_load 16s"):
        assert plain(lead) in plain(read)
    listed = [x.string for x in laid_out("full", wall).parts.labels if x.kind == "list"]
    # What the display shows and the word; repeats folded.
    assert [text for text in listed if re.match(r"\d:\d\d|by hand", text)] == [
        "0:11", "1:35", "0:34", "0:23", "0:22", "0:18", "0:10", "0:05 to 0:01", "0:00", "by hand",
    ]  # fmt: skip
    assert [text for text in listed if text in ("Pads", "Alive", "Last one", "Call home", "Home", "No touch", "Choose",
                                                "Last five", "Over")] == [
        "Pads", "Alive", "Last one", "Call home", "Home", "No touch", "Choose", "Last five", "Over", "Home",
    ]  # fmt: skip


def test_the_larger_sheet_has_room_for_reasons():
    listed = [x.string for x in laid_out("full", "a3").parts.labels if x.kind == "list"]
    assert "from here on a touch at their floor costs points" in listed


@pytest.mark.parametrize("wall", WALLS)
@pytest.mark.parametrize("name", ["full", "quiet", "doors", "dash"])
def test_letters_are_larger_on_the_wall(name, wall):
    def largest(sheet):
        return max(label.em_mm for label in sheet.parts.labels if label.kind == "callout")

    sheet, on_wall = laid_out("full"), laid_out(name, wall)
    assert largest(on_wall) > 1.05 * largest(sheet)


def test_a_plan_with_more_words_than_room_says_how_many_are_missing():
    listed = [x.string for x in laid_out("crowd of 60", "a4").parts.labels if x.kind == "list"]
    more = next(text for text in listed if text.endswith("more: `tocsin preview` lists all"))
    words = sum(bool(re.match(r"\d:\d\d$", text)) for text in listed)
    assert words + int(more.split()[0]) == 60
    assert words > 20


# -- other processes ----------------------------------------------------------------------------------------------

CHILD = """
import hashlib, sys
import tocsin.export.picture.picture
from tests.support.export.exported_plans import bundled
assert "matplotlib" not in sys.modules, "loaded before a picture is asked for"
data = b"".join(tocsin.export.picture.picture.picture(bundled("doors"), form) for form in ("svg", "png", "pdf"))
assert "matplotlib.pyplot" not in sys.modules
assert "tkinter" not in sys.modules
print(hashlib.sha256(data).hexdigest())
"""


@pytest.mark.devices
def test_another_process_with_a_user_s_own_settings_makes_equal_bytes(tmp_path):
    made_here = b"".join(made("doors", form) for form in ("svg", "png", "pdf"))
    assert printed_elsewhere(tmp_path, CHILD) == hashlib.sha256(made_here).hexdigest()
