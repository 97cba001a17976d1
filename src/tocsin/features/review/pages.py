"""Draw what was chosen: an evening on one page, a season or all matches on two at most."""

from collections.abc import Mapping
from pathlib import Path

from tocsin.export.drawing.flow import Form, Size
from tocsin.features.review import evening_page, season_page
from tocsin.features.review.chosen import Chosen

FORMS: dict[str, Form] = {".pdf": "pdf", ".png": "png", ".svg": "svg"}
SIZES: tuple[Size, ...] = ("a4", "phone")


def page_of(chosen: Chosen, out: Path, size: Size, names: Mapping[str, str], *, example: bool = False) -> bytes:
    """Return the page as a file whose name says its form, with people's ``names`` by key; equal runs give equal bytes.
    """
    draw = evening_page.draw if chosen.review.scope == "evening" else season_page.draw
    kind = FORMS[out.suffix.lower()]
    return draw(chosen.review, chosen.rows, kind=kind, size=size, names=names, example=example)
