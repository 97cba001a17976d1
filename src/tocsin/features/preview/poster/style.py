"""The sizes of a poster's sheets. Lengths in mm, letters in mm an em (capitals and digits are 0.73 of that tall).

What is read from 3 m are a cue's word and the display's reading: their capitals are a two hundredth of the distance
tall at least, 15 mm, as on cards (common practice, no source). Pulses and tones are shapes, and read from there too.
For whom it is, and why, is smaller: that is read beforehand, from 1 m.
"""

from typing import Literal

import msgspec

from tocsin.export.drawing.fitting import CAP

Paper = Literal["a3", "a4"]
PAPERS: tuple[Paper, ...] = ("a3", "a4")
READ_FROM_MM = 3000.0
LEAST_CAPITAL_MM = READ_FROM_MM / 200
_LEAST_EM = LEAST_CAPITAL_MM / CAP


class PosterStyle(msgspec.Struct, frozen=True, kw_only=True):
    """A sheet after ISO 216, upright, and the sizes on it."""

    width_mm: float
    height_mm: float
    margin_mm: float
    title_em: float
    word_em: float                  # of a cue's word and reading
    least_em: float                 # the smallest that they may be for the distance
    do_em: float                    # of the plan's reason, which says what to do
    about_em: float                 # for whom, until when, what comes before; and what is said above pulses and tones
    tick_em: float
    print_em: float
    gap_mm: float                   # between what stands side by side or below
    body_least_mm: float            # of the screen, the pulses and the tones of a cue
    body_most_mm: float

    @property
    def inner_mm(self) -> float:
        """The width between the margins."""
        return self.width_mm - 2 * self.margin_mm


STYLES: dict[Paper, PosterStyle] = {
    "a4": PosterStyle(
        width_mm=210.0, height_mm=297.0, margin_mm=9.0, title_em=8.0, word_em=_LEAST_EM, least_em=_LEAST_EM,
        do_em=5.8, about_em=4.5, tick_em=3.2, print_em=2.4, gap_mm=3.0, body_least_mm=33.0, body_most_mm=62.0,
    ),
    "a3": PosterStyle(
        width_mm=297.0, height_mm=420.0, margin_mm=12.7, title_em=11.3, word_em=1.4 * _LEAST_EM, least_em=_LEAST_EM,
        do_em=8.2, about_em=6.4, tick_em=4.5, print_em=3.3, gap_mm=4.2, body_least_mm=46.0, body_most_mm=88.0,
    ),
}  # fmt: skip
