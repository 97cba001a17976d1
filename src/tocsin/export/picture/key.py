"""The picture's key: what lines, grounds, dots and hatchings mean, of what the plan has. Pure."""

from tocsin.export.drawing.shapes import FELT, HELD, OutlinedBox, Parts, Pen, ShapeRow, Stroke, joined, middle
from tocsin.export.occurrences import display_in_words
from tocsin.export.picture.bars import TAIL_DOTS, hatch_of, line_of
from tocsin.export.picture.style import PictureStyle
from tocsin.export.source import Source
from tocsin.translation import tr

_SAMPLE_MM = 7.0
_GAP_MM = 1.2
_BETWEEN_MM = 5.0


def key(source: Source, style: PictureStyle, pen: Pen) -> ShapeRow:
    """Return the key in as many rows as it takes."""
    height_mm = 1.7 * style.rule_em
    parts, x_mm, y_mm = [], 0.0, 0.0
    for sample, text in _items(source, height_mm * 0.62):
        text = pen.cut(text, style.inner_mm - _SAMPLE_MM - _GAP_MM, style.rule_em)
        width_mm = _SAMPLE_MM + _GAP_MM + pen.width(text, style.rule_em)
        if x_mm and x_mm + width_mm > style.inner_mm:
            x_mm, y_mm = 0.0, y_mm + height_mm
        label = pen.label(text, x_mm + _SAMPLE_MM + _GAP_MM, y_mm + middle(0.0, height_mm, style.rule_em),
                          style.rule_em, "key")  # fmt: skip
        parts += [sample.moved(x_mm, y_mm + height_mm * 0.19), Parts(labels=(label,))]
        x_mm += width_mm + _BETWEEN_MM
    return ShapeRow(joined(parts).moved(style.margin_mm, 0.0), y_mm + height_mm)


def _items(source: Source, height_mm: float) -> list[tuple[Parts, str]]:
    firings = source.timeline.firings
    priorities = sorted({firing.priority for firing in firings})
    found: list[tuple[Parts, str]] = []
    if len(priorities) > 1:
        low, high = priorities[0], priorities[-1]
        half_mm = _SAMPLE_MM / 2 - 0.4
        frames = [
            _box(0.0, half_mm, height_mm, line_mm=line_of(low), fill=1.0),
            _box(_SAMPLE_MM - half_mm, half_mm, height_mm, line_mm=line_of(high), fill=1.0),
        ]
        found.append(
            (Parts(boxes=tuple(frames)), tr("priority {low} and {high}: the thicker, the higher", low=low, high=high)),
        )
    if any(firing.sustained for firing in firings):
        found.append((_sample(height_mm, fill=HELD), tr("held until its end")))
    if any(not firing.sustained and firing.channel in ("light", "screen") for firing in firings):
        found.append((_sample(height_mm, fill=1.0), tr("as long as its pattern")))
    if any(firing.channel in ("rumble", "sound") for firing in firings):
        steps = (_box(0.2, 2.0, height_mm, fill=FELT), _box(3.6, 2.0, height_mm, fill=FELT))
        frame = _box(0.0, _SAMPLE_MM, height_mm, line_mm=line_of(1), fill=1.0)
        found.append((Parts(boxes=(frame, *steps)), tr("felt or heard")))
    if any(not firing.sustained and firing.until is not None for firing in firings):
        tail = Stroke(points=((0.0, height_mm / 2), (_SAMPLE_MM, height_mm / 2)), kind="key", line_mm=0.25,
                      dots=TAIL_DOTS)  # fmt: skip
        found.append((Parts(strokes=(tail,)), tr("until then a pad that comes back gets one pulse")))
    return [*found, *_variants(source, height_mm)]


def _variants(source: Source, height_mm: float) -> list[tuple[Parts, str]]:
    used = {firing.when for firing in source.timeline.firings if firing.when}
    return [
        (
            _sample(height_mm, fill=1.0, hatch=hatch_of(variant.id, source.timeline.variants)),
            tr("only: {title}", title=variant.title),
        )
        for variant in source.game.variants if variant.id in used
    ]  # fmt: skip


def _sample(height_mm: float, fill: float, hatch: str = "") -> Parts:
    return Parts(boxes=(_box(0.0, _SAMPLE_MM, height_mm, line_mm=line_of(1), fill=fill, hatch=hatch),))


def _box(
    x_mm: float, width_mm: float, height_mm: float, *, fill: float, line_mm: float = 0.0, hatch: str = ""
) -> OutlinedBox:
    return OutlinedBox(
        x_mm=x_mm, y_mm=0.0, width_mm=width_mm, height_mm=height_mm, kind="key", fill=fill, line_mm=line_mm,
        hatch=hatch,
    )  # fmt: skip


def how_to_read(source: Source) -> str:
    """Return in words what the display shows and what stands where."""
    flags = tr("Each flag says what is called and what the display shows then; its pole stands where it begins.")
    return f"{display_in_words(source.timeline)} {flags}"
