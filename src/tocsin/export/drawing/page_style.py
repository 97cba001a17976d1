"""The sizes of reviews' and advice's pages. Lengths in mm, letters in mm an em (capitals, digits: 0.73 of that tall).

The smallest letter of any page is 2.6 mm tall where a page is printed in its size: a page of 90 mm fills a phone
that is 70 mm wide, and there it is still 2 mm tall, as most letters there are (common practice, no source).
"""

from typing import Literal

import msgspec

from tocsin.export.drawing.fitting import CAP

Size = Literal["a4", "phone", "screen"]
SIZES: tuple[Size, ...] = ("a4", "phone", "screen")
LEAST_CAPITAL_MM = 2.6
_TEXT_EM = LEAST_CAPITAL_MM / CAP + 0.004


class PageStyle(msgspec.Struct, frozen=True, kw_only=True):
    """A page and the sizes on it.

    ``columns`` is how many numbers stand side by side, ``plot_mm`` how tall a picture is where nothing else decides,
    ``mark_mm`` the radius of a round's mark, ``line_mm`` how thick lines are.
    """

    width_mm: float
    height_mm: float
    margin_mm: float
    title_em: float
    headline_em: float
    heading_em: float
    number_em: float
    text_em: float
    gap_mm: float
    columns: int
    plot_mm: float
    mark_mm: float
    line_mm: float

    @property
    def inner_mm(self) -> float:
        """The width between the margins."""
        return self.width_mm - 2 * self.margin_mm


STYLES: dict[Size, PageStyle] = {
    # After ISO 216, upright.
    "a4": PageStyle(
        width_mm=210.0, height_mm=297.0, margin_mm=12.0, title_em=6.4, headline_em=5.2, heading_em=4.1, number_em=6.4,
        text_em=_TEXT_EM, gap_mm=3.4, columns=3, plot_mm=52.0, mark_mm=1.35, line_mm=0.3,
    ),
    "phone": PageStyle(
        width_mm=90.0, height_mm=160.0, margin_mm=4.5, title_em=5.4, headline_em=5.0, heading_em=4.3, number_em=5.6,
        text_em=_TEXT_EM, gap_mm=3.4, columns=2, plot_mm=50.0, mark_mm=1.3, line_mm=0.3,
    ),
    # 1280 x 720 pixels, 220 an inch; what is read from a desk away.
    "screen": PageStyle(
        width_mm=1280.2 / 220 * 25.4, height_mm=720.2 / 220 * 25.4, margin_mm=5.0, title_em=4.6, headline_em=6.6,
        heading_em=4.4, number_em=6.4, text_em=3.9, gap_mm=2.0, columns=3, plot_mm=45.0, mark_mm=1.7, line_mm=0.4,
    ),
}  # fmt: skip
