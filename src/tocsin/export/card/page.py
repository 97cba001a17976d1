"""The two sizes of a card, and how large letters are on each.

What follows from where a card is read (common practice, no source): letters are read at ease when they are a two
hundredth of the distance tall, and at a glance, under stress, when they are a hundred and twentieth.

* A6 on a wrist, 0.6 m from the eyes: digits at least 5 mm tall, words at least 3 mm.
* A4 on a desk or pit wall, 1.0 to 1.5 m: digits at least 8 mm tall, words at least 5 mm.

What is not for people to say, reasons and the small print are smaller: they are read beforehand, from close by.
"""

from typing import Literal, NamedTuple

Size = Literal["a4", "a6"]
SIZES: tuple[Size, ...] = ("a4", "a6")


class Range(NamedTuple):
    """The largest and smallest size of letters, in mm an em (digits and capitals are 0.73 of that tall)."""

    most_mm: float
    least_mm: float

    def at(self, share: float) -> float:
        """Return the size that is ``share`` of the way from the smallest to the largest."""
        return self.least_mm + share * (self.most_mm - self.least_mm)


class Paper(NamedTuple):
    """A page after ISO 216 and its sizes; ``columns`` is how many variants have room side by side."""

    width_mm: float
    height_mm: float
    margin_mm: float
    columns: int
    digest: int                 # hexadecimal digits of a digest that are printed
    reading: Range
    word: Range
    minor_reading: Range
    minor_word: Range
    detail: Range
    heading: Range
    gap: Range
    title_mm: float
    rule_mm: float
    caution_mm: float
    print_mm: float

    @property
    def inner_mm(self) -> float:
        """The width between the margins."""
        return self.width_mm - 2 * self.margin_mm


PAGES: dict[Size, Paper] = {
    "a6": Paper(
        width_mm=105.0, height_mm=148.0, margin_mm=5.0, columns=3, digest=12,
        reading=Range(17.0, 6.9), word=Range(9.0, 4.2),
        minor_reading=Range(7.5, 3.9), minor_word=Range(4.6, 3.2),
        detail=Range(3.3, 2.35), heading=Range(3.4, 2.6), gap=Range(1.8, 0.6),
        title_mm=4.6, rule_mm=2.35, caution_mm=2.2, print_mm=1.9,
    ),
    "a4": Paper(
        width_mm=210.0, height_mm=297.0, margin_mm=12.0, columns=4, digest=64,
        reading=Range(33.0, 11.0), word=Range(18.0, 7.0),
        minor_reading=Range(14.0, 7.0), minor_word=Range(9.0, 5.0),
        detail=Range(6.0, 3.4), heading=Range(6.0, 4.0), gap=Range(3.4, 1.0),
        title_mm=9.0, rule_mm=4.2, caution_mm=3.6, print_mm=2.8,
    ),
}  # fmt: skip
