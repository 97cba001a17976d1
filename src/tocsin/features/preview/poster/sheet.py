"""The sheets of a poster: head, a few cues, foot. Pure; lengths in mm.

Nothing is cut off: cues for which a sheet has no room stand on the next one, and the sheet before names them.
"""

from collections.abc import Iterator, Sequence

import msgspec

from tocsin.export.drawing.fitting import UNKNOWN, Letters, Type, fitted
from tocsin.export.drawing.shapes import BLACK, DIM, LabelKind, OutlinedBox, Page, Parts, Pen, ShapeRow, joined, stacked
from tocsin.export.occurrences import display_in_words
from tocsin.export.source import CAUTIONS, Source
from tocsin.features.preview.poster.cues import DRIVERS_MOST, Crew, PosterCue, crews
from tocsin.features.preview.poster.lanes import Senses, lanes, scale_of, senses
from tocsin.features.preview.poster.seen import seen, width_of
from tocsin.features.preview.poster.style import PosterStyle
from tocsin.translation import tr

DIGEST = 16                           # hexadecimal digits of a digest that are printed
_MOST_LINES = 12                       # of any text: nobody writes longer ones
_SIZES = (1.0, 0.8, 0.6, 0.45, 0.3)    # of words and readings: smaller ones only where one alone fills a sheet
_MOST_CUES = DRIVERS_MOST              # on a sheet, whoever it is for
_LINE_MM = 0.5
_LARGE = tr("Large: what the display shows then, and the word. Below: what you see, feel, hear.")


class _Plan(msgspec.Struct, frozen=True):
    """What all sheets of one poster share."""

    source: Source
    style: PosterStyle
    pen: Pen
    span_ns: int
    senses: dict[str, Senses]


class _Part(msgspec.Struct, frozen=True):
    """The cues of one sheet, as large as their words may be."""

    title: str
    cues: tuple[PosterCue, ...]
    size: float = 1.0


def lay_out(source: Source, style: PosterStyle, letters: Letters) -> tuple[Page, ...]:
    """Return the sheets of a plan, the drivers' first; a single one that says so if nothing is called."""
    found = crews(source)
    felt = {item.cue.id: senses(source, item) for crew in found for item in crew.cues}
    of = _Plan(source, style, Pen(letters), scale_of(list(felt.values())), felt)
    everything = [item for crew in found for item in crew.cues]
    parts = [part for crew in found for part in _parts(crew, everything, of)] or [_Part(tr("Drive team"), ())]
    return tuple(_page(number, parts, of) for number in range(len(parts)))


def _parts(crew: Crew, everything: Sequence[PosterCue], of: _Plan) -> Iterator[_Part]:
    """Yield the sheets of a crew, each with as many cues as it has room for."""
    left = list(crew.cues)
    while left:
        after = everything.index(left[0])
        for count in range(min(_MOST_CUES, len(left)), 0, -1):
            part = _Part(crew.title, tuple(left[:count]))
            if _fits(part, everything[after + count :], of):
                break
        else:
            sizes = [_Part(crew.title, (left[0],), size) for size in _SIZES]
            part = next((one for one in sizes if _fits(one, everything[after + 1 :], of)), sizes[-1])
        yield part
        left = left[len(part.cues) :]


def _fits(part: _Part, later: Sequence[PosterCue], of: _Plan) -> bool:
    """Return whether all stands on one sheet, its longest foot included."""
    return _spare_mm(part, later[:_MOST_CUES], of) >= 0


def _spare_mm(part: _Part, following: Sequence[PosterCue], of: _Plan) -> float:
    """Return the height that is left where screens, pulses and tones are as low as they may be."""
    style = of.style
    used_mm = _head(part.title, 99, 99, of).height_mm + _foot(following, of).height_mm
    used_mm += sum(_words(item, part.size, of).height_mm + style.body_least_mm + style.gap_mm for item in part.cues)
    return style.height_mm - 2 * style.margin_mm - used_mm


def _page(number: int, parts: Sequence[_Part], of: _Plan) -> Page:
    style, part = of.style, parts[number]
    following = parts[number + 1].cues if number + 1 < len(parts) else ()
    spare_mm = _spare_mm(part, following, of)
    more_mm = max(0.0, spare_mm / max(1, len(part.cues)))
    body_mm = min(style.body_most_mm, style.body_least_mm + more_mm)
    blocks = [_block(item, body_mm, part.size, of) for item in part.cues]
    head = _head(part.title, number + 1, len(parts), of)
    foot = _foot(following, of)
    rest_mm = style.height_mm - 2 * style.margin_mm - sum(row.height_mm for row in (head, *blocks, foot))
    apart_mm = max(0.0, min(3 * style.gap_mm, rest_mm / max(1, len(blocks))))
    above = stacked([head, *blocks], apart_mm)
    placed = [
        above.parts.moved(style.margin_mm, style.margin_mm),
        foot.parts.moved(style.margin_mm, style.height_mm - style.margin_mm - foot.height_mm),
    ]
    return Page(width_mm=style.width_mm, height_mm=style.height_mm, parts=joined(placed))


# -- a cue ------------------------------------------------------------------------------------------------------------


def _words(item: PosterCue, size: float, of: _Plan) -> ShapeRow:
    """Return when, which word, what to do, and for whom."""
    style = of.style
    line = OutlinedBox(x_mm=0.0, y_mm=0.0, width_mm=style.inner_mm, height_mm=_LINE_MM, kind="line", fill=BLACK)
    return stacked([
        ShapeRow(Parts(boxes=(line,)), _LINE_MM + 0.8 * style.gap_mm),
        _called(item, size, style, of.pen),
        ShapeRow(Parts(), 0.7 * style.gap_mm),
        *([_text(item.why, style.do_em, "detail", of)] if item.why else []),
        _text(item.about, style.about_em, "second", of),
        ShapeRow(Parts(), 0.4 * style.gap_mm),
    ])  # fmt: skip


def _block(item: PosterCue, body_mm: float, size: float, of: _Plan) -> ShapeRow:
    """Return a cue: its words, and below them what is seen, felt and heard."""
    style = of.style
    beside_mm = width_of(body_mm) + 1.5 * style.gap_mm
    picture = seen(of.source, item, body_mm, of.pen)
    bars = lanes(of.senses[item.cue.id], of.span_ns, style.inner_mm - beside_mm, body_mm, style, of.pen)
    body = ShapeRow(joined([picture.parts, bars.parts.moved(beside_mm, 0.0)]), body_mm + style.gap_mm)
    return stacked([_words(item, size, of), body])


def _called(item: PosterCue, size: float, style: PosterStyle, pen: Pen) -> ShapeRow:
    """Return the display's reading and the word, side by side if both have room on one line."""
    em_mm, least_mm = size * style.word_em, size * style.least_em
    gap_mm = 0.6 * style.least_em
    one = Type(em_mm, least_mm, bold=True, tight=True)
    reading = fitted(item.reading, 0.62 * style.inner_mm, one, pen.letters)
    left_mm = reading.width_mm + gap_mm
    if len(reading.lines) == 1 and reading.lines[0].string == item.reading:
        word = fitted(item.word, style.inner_mm - left_mm, one._replace(em_mm=reading.em_mm), pen.letters)
        if len(word.lines) == 1 and word.lines[0].string == item.word:
            smaller = fitted(item.reading, style.inner_mm, one._replace(em_mm=word.em_mm), pen.letters)
            base_mm = max(fit.lines[0].baseline_mm for fit in (smaller, word))
            row = [
                pen.written(smaller, "reading", 0.0, base_mm - smaller.lines[0].baseline_mm),
                pen.written(word, "word", left_mm, base_mm - word.lines[0].baseline_mm),
            ]
            below_mm = max(fit.height_mm - fit.lines[0].baseline_mm for fit in (smaller, word))
            return ShapeRow(joined(part.parts for part in row), base_mm + below_mm)
    several = Type(em_mm, least_mm, bold=True, lines=2, tight=True, last_lines=_MOST_LINES)
    reading, word = (fitted(text, style.inner_mm, several, pen.letters) for text in (item.reading, item.word))
    return stacked([pen.written(reading, "reading"), pen.written(word, "word")], 0.15 * least_mm)


# -- head and foot ----------------------------------------------------------------------------------------------------


def _head(title: str, number: int, count: int, of: _Plan) -> ShapeRow:
    told = _LARGE if of.senses else tr("This plan has no calls.")
    return stacked(
        [
            *_titles(
                title, tr("{title} · sheet {number} of {count}", title=of.source.title, number=number, count=count), of,
            ),
            _text(told, of.style.about_em, "rule", of),
            ShapeRow(Parts(), 0.4 * of.style.gap_mm),
        ],
    )  # fmt: skip


def _titles(title: str, names: str, of: _Plan) -> list[ShapeRow]:
    """Return whose sheet it is and of which plan, on one line if there is room."""
    style, pen = of.style, of.pen
    label = pen.label(title, 0.0, style.title_em, style.title_em, "title", bold=True)
    wide_mm = pen.width(names, style.do_em)
    if label.width_mm + style.gap_mm + wide_mm > style.inner_mm:
        return [_text(title, style.title_em, "title", of, bold=True), _text(names, style.do_em, "title", of)]
    right = pen.label(names, style.inner_mm - wide_mm, style.title_em, style.do_em, "title")
    return [ShapeRow(Parts(labels=(label, right)), 1.3 * style.title_em)]


def _foot(following: Sequence[PosterCue], of: _Plan) -> ShapeRow:
    """Return what stands on the next sheet, how to read this one, the cautions, and of which plan it is."""
    style = of.style
    em_mm = style.print_em
    made, game, plan = of.source.short_origin_lines(DIGEST)
    rows = []
    if following:
        named = ", ".join(f"{item.reading} {item.word}" for item in following)
        rows.append(_text(tr("On the next sheet: {named}.", named=named), style.about_em, "note", of))
    rows += [
        _text(_how_to_read(of), em_mm, "rule", of),
        _text(" ".join(CAUTIONS), 1.3 * em_mm, "print", of, bold=True),
        _text(f"{plan}, {game}. {made}", em_mm, "print", of),
    ]
    return stacked([ShapeRow(Parts(), 0.5 * style.gap_mm), *rows], 0.2 * em_mm)


def _how_to_read(of: _Plan) -> str:
    source = of.source
    written = (source.title, *(firing.word for firing in source.timeline.firings))
    lacks = any(not of.pen.letters.has(letter) for text in written for letter in text)
    unknown = tr(" {unknown} is in place of letters that this font lacks.", unknown=UNKNOWN) if lacks else ""
    return tr(
        "{display_in_words} At the left the screen as the cue begins, below it the LED strip. Felt: taller = stronger. "
        "Heard: higher = higher tone; a box = the spoken word. At events the sound is off. Is this sheet still right? "
        "Then the number behind the plan's name, below, is the one that `tocsin preview --poster` prints.{unknown}",
        display_in_words=display_in_words(source.timeline),
        unknown=unknown,
    )


def _text(text: str, em_mm: float, kind: LabelKind, of: _Plan, *, bold: bool = False) -> ShapeRow:
    """Return a text over the width of the sheet, in as many lines as it needs."""
    fit = fitted(text, of.style.inner_mm, Type(em_mm, em_mm, bold=bold, lines=_MOST_LINES), of.pen.letters)
    grey = DIM if kind == "second" else BLACK
    return ShapeRow(of.pen.written(fit, kind, grey=grey).parts, fit.height_mm + 0.15 * em_mm)
