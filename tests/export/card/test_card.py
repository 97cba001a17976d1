"""Cards as files: read back from PDF and SVG."""

import hashlib
import io
import re
import xml.etree.ElementTree as ET
from functools import cache

import pypdf
import pytest

from tests.support.export.card_sources import CARDS, laid_out
from tests.support.export.elsewhere import printed_elsewhere
from tests.support.export.exported_plans import bundled
from tocsin.export.card.card import SIZES, card_layout, card_pdf, card_svg

# ISO 216: A4 is 210 mm x 297 mm, A6 105 mm x 148 mm; it tolerates 1.5 mm up to 150 mm, 2 mm up to 600 mm (from memory).
ISO_216_MM = {"a4": (210, 297), "a6": (105, 148)}
POINT_MM = 25.4 / 72
both_sizes = pytest.mark.parametrize("size", SIZES)
# Cards that differ in kind; a PDF takes a second, most of it for the fonts in it.
DRAWN = [("full", "a4"), ("full", "a6"), ("doors", "a6"), ("long words", "a6"), ("unknown times", "a4")]
SVG = "{http://www.w3.org/2000/svg}"


def drawn(draw, source, size):
    """Return the card of a plan, drawn by ``draw``."""
    return draw(source, card_layout(source, size))


@cache
def pdf_of(name, size):
    return drawn(card_pdf, CARDS[name](), size)


@cache
def svg_of(name, size):
    return drawn(card_svg, CARDS[name](), size)


def read(pdf):
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    assert len(pages) == 1
    return pages[0]


def words(text):
    """Return what is read, without line ends; the PDF's own blanks are where gaps between letters are."""
    return re.sub(r"\s+", "", text)


@both_sizes
def test_pages_have_the_sizes_of_the_standard(size):
    width_mm, height_mm = ISO_216_MM[size]
    box = read(pdf_of("full", size)).mediabox
    assert float(box.width) * POINT_MM == pytest.approx(width_mm, abs=0.1)
    assert float(box.height) * POINT_MM == pytest.approx(height_mm, abs=0.1)
    root = ET.fromstring(svg_of("full", size))
    assert float(root.get("width").removesuffix("pt")) * POINT_MM == pytest.approx(width_mm, abs=0.1)
    assert float(root.get("height").removesuffix("pt")) * POINT_MM == pytest.approx(height_mm, abs=0.1)


@pytest.mark.parametrize(("name", "size"), DRAWN)
def test_the_pdf_holds_every_text_of_the_card_and_so_does_the_svg(name, size):
    strings = [text.string for text in laid_out(name, size).parts.labels]
    extracted = words(read(pdf_of(name, size)).extract_text())
    missing = [string for string in strings if words(string) not in extracted]
    assert missing == []
    # In SVG letters are outlines, one group a text, each under a comment that holds the text.
    comments = re.findall(r"<!-- (.*?) -->", svg_of(name, size))
    assert len(comments) == len(strings)
    assert [words(comment).replace("-", "") for comment in comments] == [
        words(s).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace("-", "") for s in strings
    ]  # fmt: skip


def test_the_readings_of_the_full_plan_can_be_read_back_from_its_pdf():
    # In the order of the match; 0:05 to 0:01 is folded.
    text = read(pdf_of("full", "a6")).extract_text()
    readings = ["0:11", "1:35", "0:34", "0:23", "0:22", "0:18", "0:10", "0:05", "0:01", "0:00"]
    assert re.findall(r"\d:\d\d", text.split("Crews step in, from 0:11")[1].replace("from 1:37", "")) == readings


def luminance(value):
    """Relative luminance of a grey 0 to 1: WCAG 2.2, definition of relative luminance (W3C, 2023)."""
    return value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4


def contrast_to_white(value):
    return 1.05 / (luminance(value) + 0.05)


def test_contrast_is_that_of_the_standard():
    # Computed from the definition: #595959 on white 7.0047, #767676 4.5422.
    assert contrast_to_white(0x59 / 255) == pytest.approx(7.0047, abs=1e-4)
    assert contrast_to_white(0x76 / 255) == pytest.approx(4.5422, abs=1e-4)


@pytest.mark.parametrize(("name", "size"), DRAWN)
def test_all_is_grey_with_a_contrast_of_seven_at_least(name, size):
    svg = svg_of(name, size)
    colours = re.findall(r"(?:fill|stroke): (#[0-9a-f]{6})", svg)
    assert colours.count("#ffffff") == 1                             # the page itself
    assert len(colours) > 1
    for colour in set(colours) - {"#ffffff"}:
        red, green, blue = (colour[at : at + 2] for at in (1, 3, 5))
        assert red == green == blue
        assert contrast_to_white(int(red, 16) / 255) >= 7
    operators = read(pdf_of(name, size)).get_contents().get_data().decode("latin-1")
    assert re.findall(r"[\d.] (?:rg|RG|k|K|sc|SC|scn|SCN)\b", operators) == []
    _the_page_itself, on_it = operators.split("\nf\n", maxsplit=1)
    greys = {float(grey) for grey in re.findall(r"([\d.]+) [gG]\b", on_it)}
    assert min(greys) == 0
    assert min(contrast_to_white(grey) for grey in greys) >= 7


def test_fonts_come_with_the_pdf():
    fonts = [font.get_object() for font in read(pdf_of("full", "a6"))["/Resources"]["/Font"].values()]
    assert fonts
    for font in fonts:
        descendant = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        assert "DejaVuSans" in font["/BaseFont"]
        assert "/FontFile2" in descendant["/FontDescriptor"].get_object()


def test_files_say_what_they_are_and_hold_no_date():
    pdf = pdf_of("full", "a6")
    creator = "Made by Tocsin 9.9.9. Do not edit: change the plan and export it again."
    assert pypdf.PdfReader(io.BytesIO(pdf)).metadata == {
        "/Title": "Casting Day: Full", "/Creator": creator, "/Keywords": "tocsin-page: card",
    }  # fmt: skip
    assert b"CreationDate" not in pdf
    svg = svg_of("full", "a6")
    assert ET.fromstring(svg).find(f"{SVG}title").text == "Casting Day: Full"
    assert "<dc:date>" not in svg


def test_codes_in_a_plan_s_words_stay_words():
    ET.fromstring(svg_of("long words", "a6"))
    text = read(pdf_of("long words", "a6")).extract_text()
    assert "$x^2$" in text
    assert "<b>more</b>" in text


def test_equal_plans_make_equal_bytes():
    assert drawn(card_svg, bundled("full"), "a4") == svg_of("full", "a4")
    assert drawn(card_pdf, bundled("full"), "a6") == pdf_of("full", "a6")
    assert pdf_of("doors", "a6") != pdf_of("full", "a6")


# What draws takes long to load, so the one process that is asked about its bytes is asked about that too.
CHILD = """
import hashlib, sys
from tocsin.export.card.card import card_layout, card_pdf, card_svg
assert "matplotlib" not in sys.modules, "loaded before a card is asked for"
from tests.support.export.exported_plans import bundled
doors = bundled("doors")
layout = card_layout(doors, "a6")
data = card_pdf(doors, layout) + card_svg(doors, layout).encode()
assert "matplotlib.pyplot" not in sys.modules, "it would look for a display"
assert "tkinter" not in sys.modules, "no window"
print(hashlib.sha256(data).hexdigest())
"""


@pytest.mark.devices
def test_another_process_with_own_settings_makes_the_same_card_and_loads_what_draws_only_then(tmp_path):
    made_here = pdf_of("doors", "a6") + svg_of("doors", "a6").encode()
    assert printed_elsewhere(tmp_path, CHILD) == hashlib.sha256(made_here).hexdigest()
