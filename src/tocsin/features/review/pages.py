"""Draw what was chosen: an evening on one page, a season or all matches on two at most, a question on its own."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from tocsin.analysis.review.answer import Review
from tocsin.analysis.seasons.row import Row
from tocsin.export.drawing.flow import Form, Size, printed
from tocsin.features.review.chosen import Chosen, ReviewRequest
from tocsin.features.review.evening_page import evening_pages
from tocsin.features.review.parts import creator
from tocsin.features.review.question_page import question_pages
from tocsin.features.review.season_page import season_pages
from tocsin.features.review.told import title

FORMS: dict[str, Form] = {".pdf": "pdf", ".png": "png", ".svg": "svg"}
SIZES: tuple[Size, ...] = ("a4", "phone")


def page_of(
    chosen: Chosen, wish: ReviewRequest, out: Path, size: Size, names: Mapping[str, str], *, example: bool = False
) -> bytes:
    """Return the page as a file whose name says its form, with people's ``names`` by key; equal runs give equal bytes.
    Where a question is asked for it is that question's."""
    kind = FORMS[out.suffix.lower()]
    if wish.look is not None:
        pages = question_pages(chosen, wish, size=size, names=names, example=example, tall=kind != "pdf")
        return printed(pages, kind, "review", title(chosen.review), creator(chosen.rows, names))
    return draw(chosen.review, chosen.rows, kind=kind, size=size, names=names, example=example)


def draw(
    review: Review, rows: Sequence[Row], *, kind: Form, size: Size = "a4", names: Mapping[str, str],
    example: bool = False,
) -> bytes:  # fmt: skip
    """Return a review's pages as a file of that kind, with people's ``names`` by key, none if it is empty.

    ``rows`` are those that the review was made of; ``example`` marks the pages as invented.
    """
    placed = evening_pages if review.scope == "evening" else season_pages
    pages = placed(review, rows, size=size, names=names, example=example, tall=kind != "pdf")
    return printed(pages, kind, "review", title(review), creator(rows, names))
