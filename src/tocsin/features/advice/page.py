"""Advice on one page: the sentence, what it rests on, what leads are worth, the line to type. Pure; lengths in mm.

For paper (A4) and for a phone; black, greys and shapes; equal inputs give equal bytes. No people stand on it.
"""

from collections.abc import Iterable, Sequence

from tocsin.export.drawing.flow import Form, Size, invented, look_of, on_pages, one_page, printed
from tocsin.export.drawing.look import Look
from tocsin.export.drawing.shapes import BLACK, DIM, OutlinedBox, Page, Parts, ShapeRow, joined, stacked
from tocsin.export.source import MADE_BY
from tocsin.features.advice.answer import AdviceDocument
from tocsin.features.advice.details import close_match_lines, details
from tocsin.features.advice.price_picture import price_picture
from tocsin.features.advice.words import line_lines, said_of, sentence
from tocsin.translation import tr

_LINE_MM = 0.5
_COLUMN_EM = 6.6                       # of the words beside the details, on paper


def draw(document: AdviceDocument, *, kind: Form, size: Size) -> bytes:
    """Return advice as a file of that kind; on a phone a picture is as tall as it needs, a PDF has several pages."""
    return printed(advice_pages(document, size=size, tall=kind != "pdf"), kind, "advice", _title(document), MADE_BY)


def advice_pages(document: AdviceDocument, *, size: Size, tall: bool = False) -> tuple[Page, ...]:
    """Return what stands where."""
    look = look_of(size)
    blocks = [block for block in _blocks(document, look, beside=size == "a4") if block.height_mm]
    if tall and size != "a4":
        return (one_page(stacked(blocks, look.style.gap_mm), look, as_tall=True),)
    return on_pages(blocks, look)


def _title(document: AdviceDocument) -> str:
    return tr("Advice on {plan}", plan=document.plan)


def _blocks(document: AdviceDocument, look: Look, *, beside: bool) -> list[ShapeRow]:
    """Return all that stands on the page, one below the other."""
    style, answer = look.style, document.told
    about = " · ".join(filter(None, [document.game, document.file, _event(document)]))
    blocks = [invented(look)] if document.invented else []
    blocks.append(stacked([
        look.text(_title(document), style.inner_mm, style.title_em, "title", bold=True),
        look.text(about, style.inner_mm, look.em_mm, "detail"),
    ]))  # fmt: skip
    blocks.append(_bold(sentence(document), look))
    if answer.change is not None:
        blocks.append(_typed(line_lines(document), look))
    if answer.curve is not None and answer.now_s is not None:
        then_s = answer.change.lead_s if answer.change else None
        picture = price_picture(answer.curve, answer.now_s, then_s, answer.least_s)
        blocks.append(picture.drawn(style.inner_mm, style.plot_mm, look))
    blocks += _rows(list(details(document)), look, beside=beside)
    texts = [said_of(document, one) for one in document.others]
    blocks += [_list(texts, look), _list(close_match_lines(document), look)]
    foot = tr("Made by Tocsin. It knows your rounds, not the reasons.")
    blocks.append(look.text(foot, style.inner_mm, look.em_mm, "print", grey=DIM))
    return blocks


def _event(document: AdviceDocument) -> str:
    return tr("next event {event}", event=document.event) if document.event else ""



def _bold(text: str, look: Look) -> ShapeRow:
    style = look.style
    rule = OutlinedBox(x_mm=0.0, y_mm=0.0, width_mm=style.inner_mm, height_mm=_LINE_MM, kind="line", fill=BLACK)
    between = ShapeRow(Parts(boxes=(rule,)), _LINE_MM)
    said = look.text(text, style.inner_mm, style.headline_em, "word", bold=True)
    return stacked([between, look.room(0.5 * look.em_mm), said, look.room(0.2 * look.em_mm), between])


def _typed(lines: Sequence[str], look: Look) -> ShapeRow:
    """Return where to type, and in a frame what."""
    style = look.style
    where = look.text(lines[0], style.inner_mm, look.em_mm, "detail")
    if len(lines) == 1:
        return where
    text = look.text(lines[1].strip(), style.inner_mm - 2 * look.em_mm, look.style.heading_em, "screen", bold=True)
    high_mm = text.height_mm + 0.8 * look.em_mm
    frame = OutlinedBox(
        x_mm=0.0, y_mm=0.0, width_mm=style.inner_mm, height_mm=high_mm, kind="note", line_mm=style.line_mm
    )
    placed = joined([Parts(boxes=(frame,)), text.parts.moved(look.em_mm, 0.5 * look.em_mm)])
    return stacked([where, look.room(0.3 * look.em_mm), ShapeRow(placed, high_mm)])


def _rows(told: Sequence[tuple[str, str]], look: Look, *, beside: bool) -> list[ShapeRow]:
    """Return the details: each word beside what it is about, or above it where there is no room."""
    style = look.style
    if not beside:
        return [
            stacked([
                look.text(word, style.inner_mm, look.em_mm, "heading", bold=True),
                look.text(text, style.inner_mm, look.em_mm, "list"),
            ]) for word, text in told
        ]  # fmt: skip
    column_mm = _COLUMN_EM * look.em_mm
    rows = []
    for word, text in told:
        left = look.text(word, column_mm, look.em_mm, "heading", bold=True)
        right = look.text(text, style.inner_mm - column_mm, look.em_mm, "list")
        both = joined([left.parts, right.parts.moved(column_mm, 0.0)])
        rows.append(ShapeRow(both, max(left.height_mm, right.height_mm)))
    return [stacked(rows, 0.35 * look.em_mm)] if rows else []


def _list(texts: Iterable[str], look: Look) -> ShapeRow:
    return stacked([look.text(text.strip(), look.style.inner_mm, look.em_mm, "list") for text in texts])
