"""The parts of a card that are placed: texts, blocks, and pieces that keep together. Pure; lengths in mm."""

from collections.abc import Sequence
from typing import Literal

import msgspec

from tocsin.export.drawing.fitting import Fitted
from tocsin.export.rows import NOBREAK

Kind = Literal[
    "title", "rule", "column", "heading", "reading", "word", "minor_reading", "minor_word", "detail", "note", "form",
    "print",
]  # fmt: skip

BLACK, DIM = 0.0, 0.27          # grey as a share of white; DIM is #454545: contrast 9.6 to white


class CardText(msgspec.Struct, frozen=True, kw_only=True):
    """A line of text: the left end of its baseline, measured from the top left corner."""

    x_mm: float
    y_mm: float
    string: str
    em_mm: float
    bold: bool
    kind: Kind
    grey: float = BLACK


class Rectangle(msgspec.Struct, frozen=True, kw_only=True):
    """A rectangle: filled (bars, lines), or with ``line_mm`` a frame of that thickness."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    grey: float = BLACK
    line_mm: float = 0.0


class CardPiece(msgspec.Struct, frozen=True, kw_only=True):
    """Texts and blocks that keep together, ``height_mm`` tall. A ``heading`` needs something below it. ``above`` stands
    above a piece that begins a further column."""

    height_mm: float
    texts: tuple[CardText, ...] = ()
    blocks: tuple[Rectangle, ...] = ()
    heading: bool = False
    above: "CardPiece | None" = None

    def moved(self, x_mm: float, y_mm: float) -> "CardPiece":
        """Return the piece that far to the right and down."""
        texts = (msgspec.structs.replace(text, x_mm=text.x_mm + x_mm, y_mm=text.y_mm + y_mm) for text in self.texts)
        blocks = (msgspec.structs.replace(item, x_mm=item.x_mm + x_mm, y_mm=item.y_mm + y_mm) for item in self.blocks)
        return msgspec.structs.replace(self, texts=tuple(texts), blocks=tuple(blocks))


def written(fit: Fitted, kind: Kind, x_mm: float = 0.0, y_mm: float = 0.0, grey: float = BLACK) -> CardPiece:
    """Return a fitted text as a piece whose top left corner is there."""
    texts = tuple(
        CardText(
            x_mm=x_mm, y_mm=y_mm + line.baseline_mm, string=line.string.replace(NOBREAK, " "), em_mm=fit.em_mm,
            bold=fit.bold, kind=kind, grey=grey,
        )
        for line in fit.lines
    )  # fmt: skip
    return CardPiece(height_mm=fit.height_mm, texts=texts)


def stacked(pieces: Sequence[CardPiece], gap_mm: float = 0.0) -> CardPiece:
    """Return pieces one below the other."""
    y_mm = 0.0
    moved: list[CardPiece] = []
    for piece in pieces:
        moved.append(piece.moved(0.0, y_mm))
        y_mm += piece.height_mm + gap_mm
    return together(moved, max(0.0, y_mm - gap_mm))


def together(pieces: Sequence[CardPiece], height_mm: float) -> CardPiece:
    """Return pieces, which have their places, as one."""
    return CardPiece(
        height_mm=height_mm,
        texts=tuple(text for piece in pieces for text in piece.texts),
        blocks=tuple(block for piece in pieces for block in piece.blocks),
    )
