"""Blocks on pages: one below the other, on one page or on as many as they need. Pure; lengths in mm."""

from collections.abc import Sequence

from tocsin.export.drawing.letters import DEJAVU
from tocsin.export.drawing.look import Look, Picture
from tocsin.export.drawing.page_style import STYLES, Size
from tocsin.export.drawing.printing import Form, PageKind, drawn, drawn_sheets
from tocsin.export.drawing.shapes import OutlinedBox, Page, Parts, Pen, ShapeRow, joined, stacked
from tocsin.translation import tr

_FRAME_MM = 0.5                        # of a bar
_APART_EM = 1.6                        # between two pictures side by side
HAIR_MM = 1e-6                        # what sums of lengths are off by at most

__all__ = [
    "HAIR_MM", "Form", "Size", "invented", "look_of", "on_pages", "one_page", "printed", "side_by_side", "tall_page",
]  # fmt: skip


def look_of(size: Size) -> Look:
    """Return what a page of that size is drawn with."""
    return Look(STYLES[size], Pen(DEJAVU))


def on_pages(blocks: Sequence[ShapeRow], look: Look, *, each: ShapeRow | None = None) -> tuple[Page, ...]:
    """Return the blocks on as many pages as they need, ``each`` of which begins with that; none is parted, so one that
    is taller has a taller page."""
    style = look.style
    above = [each] if each else []
    room_mm = style.height_mm - 2 * style.margin_mm - sum(row.height_mm + style.gap_mm for row in above)
    pages: list[list[ShapeRow]] = []
    used_mm = 0.0
    for block in blocks:
        gap_mm = style.gap_mm if block.close_mm is None else block.close_mm
        more_mm = block.height_mm + (gap_mm if pages and pages[-1] else 0.0)
        if not pages or used_mm + more_mm > room_mm + HAIR_MM:
            pages.append([])
            used_mm, more_mm = 0.0, block.height_mm
        pages[-1].append(block)
        used_mm += more_mm
    return tuple(one_page(stacked([*above, *page], style.gap_mm), look) for page in pages)


def tall_page(blocks: Sequence[ShapeRow], look: Look) -> Page:
    """Return the blocks on one page that is as tall as they are."""
    return one_page(stacked(blocks, look.style.gap_mm), look, as_tall=True)


def side_by_side(
    pictures: Sequence[Picture], plot_mm: float, look: Look, *, height_mm: float | None = None
) -> ShapeRow:
    """Return pictures side by side, their plots ``plot_mm`` tall, or what ``height_mm`` leaves beside their texts."""
    inner_mm = look.style.inner_mm
    each_mm = (inner_mm - (len(pictures) - 1) * _APART_EM * look.em_mm) / len(pictures)
    drawn = [
        one.drawn(each_mm, plot_mm if height_mm is None else height_mm - one.texts_mm(each_mm, look), look)
        for one in pictures
    ]
    step_mm = each_mm + _APART_EM * look.em_mm
    placed = [one.parts.moved(place * step_mm, 0.0) for place, one in enumerate(drawn)]
    return ShapeRow(joined(placed), max(one.height_mm for one in drawn))


def one_page(content: ShapeRow, look: Look, *, as_tall: bool = False) -> Page:
    """Return a page with its content at the top; ``as_tall`` as the content where that is not the page's own height."""
    style = look.style
    least_mm = content.height_mm + 2 * style.margin_mm
    height_mm = least_mm if as_tall or least_mm > style.height_mm + HAIR_MM else style.height_mm
    parts = content.parts.moved(style.margin_mm, style.margin_mm)
    return Page(width_mm=style.width_mm, height_mm=height_mm, parts=parts)


def printed(pages: Sequence[Page], form: Form, kind: PageKind, title: str, creator: str) -> bytes:
    """Return the pages as one file: a PDF with all of them, else one picture of them one below the other."""
    if form == "pdf":
        return drawn_sheets(pages, kind, title, creator)
    return drawn(pages[0] if len(pages) == 1 else below_each_other(pages), form, kind, title, creator)


def below_each_other(pages: Sequence[Page]) -> Page:
    """Return pages as one that is as tall as all of them."""
    whole = stacked([ShapeRow(page.parts, page.height_mm) for page in pages])
    return Page(width_mm=max(page.width_mm for page in pages), height_mm=whole.height_mm, parts=whole.parts)


def invented(look: Look) -> ShapeRow:
    """Return the bar that says that nothing of the page is about a real team."""
    text = look.text(
        tr("INVENTED EXAMPLE: no such team, made by a simulator"), look.style.inner_mm - 2 * look.em_mm, look.em_mm,
        "note", bold=True,
    )  # fmt: skip
    high_mm = text.height_mm + 0.7 * look.em_mm
    frame = OutlinedBox(
        x_mm=0.0, y_mm=0.0, width_mm=look.style.inner_mm, height_mm=high_mm, kind="note", line_mm=_FRAME_MM
    )
    return ShapeRow(joined([Parts(boxes=(frame,)), text.parts.moved(look.em_mm, 0.45 * look.em_mm)]), high_mm)
