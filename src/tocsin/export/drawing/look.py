"""What pictures of reviews and advice are drawn with: pen, sizes, texts around a plot. Pure; lengths in mm."""

from collections.abc import Callable
from typing import NamedTuple

from tocsin.export.drawing.fitting import Type, fitted
from tocsin.export.drawing.page_style import PageStyle
from tocsin.export.drawing.shapes import BLACK, DIM, LabelKind, Parts, Pen, ShapeRow, stacked

_MOST_LINES = 12                       # of any text


class Look(NamedTuple):
    """How large things are, and what writes."""

    style: PageStyle
    pen: Pen

    @property
    def em_mm(self) -> float:
        """The size of plain text."""
        return self.style.text_em

    def text(
        self, text: str, width_mm: float, em_mm: float, kind: LabelKind = "detail", *, bold: bool = False,
        grey: float = BLACK, lines: int = _MOST_LINES,
    ) -> ShapeRow:  # fmt: skip
        """Return a text over a width, in as many lines as it needs; beyond ``lines`` it is cut."""
        fit = fitted(text, width_mm, Type(em_mm, em_mm, bold=bold, lines=lines), self.pen.letters)
        return ShapeRow(self.pen.written(fit, kind, grey=grey).parts, fit.height_mm + 0.2 * em_mm)

    def room(self, height_mm: float) -> ShapeRow:
        """Return an empty row."""
        return ShapeRow(Parts(), height_mm)


class Tall(NamedTuple):
    """How tall a plot may be, in mm."""

    least_mm: float
    most_mm: float


class Picture(NamedTuple):
    """A picture: its ``title``, how its ``plot`` is drawn in a width and height, the one ``sentence`` that reads it.

    ``tall`` says how tall the plot may be in a width; one that has rows has but one height.
    """

    title: str
    plot: Callable[[float, float, Look], Parts]
    sentence: str
    tall: Callable[[float, Look], Tall]

    def drawn(self, width_mm: float, plot_mm: float, look: Look) -> ShapeRow:
        """Return title, plot and sentence, the plot so tall as it may be where ``plot_mm`` are left for it."""
        least_mm, most_mm = self.tall(width_mm, look)
        tall_mm = max(least_mm, min(most_mm, plot_mm))
        return stacked([
            *self._above(width_mm, look),
            ShapeRow(self.plot(width_mm, tall_mm, look), tall_mm),
            *self._below(width_mm, look),
        ])  # fmt: skip

    def texts_mm(self, width_mm: float, look: Look) -> float:
        """Return how tall the texts around the plot are."""
        return stacked([*self._above(width_mm, look), *self._below(width_mm, look)]).height_mm

    def _above(self, width_mm: float, look: Look) -> list[ShapeRow]:
        title = look.text(self.title, width_mm, look.style.heading_em, "heading", bold=True)
        return [title, look.room(0.25 * look.em_mm)]

    def _below(self, width_mm: float, look: Look) -> list[ShapeRow]:
        return [look.room(0.25 * look.em_mm), look.text(self.sentence, width_mm, look.em_mm, "rule", grey=DIM)]


def between(least_em: float, most_em: float) -> Callable[[float, Look], Tall]:
    """Return that a plot may be so many ems of its text tall, whatever its width."""
    return lambda width_mm, look: Tall(least_em * look.em_mm, most_em * look.em_mm)
