"""The pages on which a plan is pictured, and how large things are on each. Lengths in mm, letters in mm an em."""

from typing import Literal

import msgspec

Wall = Literal["a4", "a3"]
WALLS: tuple[Wall, ...] = ("a4", "a3")


class PictureStyle(msgspec.Struct, frozen=True, kw_only=True):
    """A page after ISO 216, lying, and the sizes on it. ``wall``: with the words, the leads and the form below."""

    width_mm: float
    height_mm: float
    margin_mm: float
    gutter_mm: float                # left of each panel, for the names of its rows
    title_em: float
    rule_em: float
    word_em: float                  # of calls
    detail_em: float                # of what is said about them
    lane_em: float                  # of patterns and words in the lanes, and of the lanes' names
    band_em: float                  # of periods and windows
    tick_em: float
    note_em: float
    print_em: float
    lane_most_mm: float             # of one row of a lane in the larger panel
    flags_most_mm: tuple[float, float]      # room for the calls' words: in the panel of the whole match, in the larger
    notes_most_mm: float            # of the list of notes
    details: bool = True            # whether calls' words have all that is said about them beneath
    list_em: float = 0.0            # of the words and leads on a wall
    list_most_mm: float = 0.0
    wall: bool = False

    @property
    def inner_mm(self) -> float:
        """The width between the margins."""
        return self.width_mm - 2 * self.margin_mm

    def scaled(self, factor: float, details: bool = True, words: float = 1.0) -> "PictureStyle":
        """Return the page with the panels' letters and rows that much larger, and so much room for words and lists."""
        return msgspec.structs.replace(
            self,
            details=details,
            flags_most_mm=(self.flags_most_mm[0] * words, self.flags_most_mm[1] * words),
            notes_most_mm=self.notes_most_mm * words,
            list_most_mm=self.list_most_mm * words,
            gutter_mm=self.gutter_mm * factor,
            word_em=self.word_em * factor,
            detail_em=self.detail_em * factor,
            lane_em=self.lane_em * factor,
            band_em=self.band_em * factor,
            tick_em=self.tick_em * factor,
            lane_most_mm=self.lane_most_mm * factor,
        )


SHEET = PictureStyle(
    width_mm=297.0, height_mm=210.0, margin_mm=9.0, gutter_mm=25.0,
    title_em=5.2, rule_em=2.5, word_em=2.8, detail_em=2.05, lane_em=2.2, band_em=2.5, tick_em=2.1,
    note_em=2.3, print_em=1.9, lane_most_mm=6.8, flags_most_mm=(45.0, 60.0), notes_most_mm=42.0,
)  # fmt: skip
# Letters on a wall: read from 1.0 to 1.5 m, see ``card.page``; the lists beneath from closer by.
WALL_PAGES: dict[Wall, PictureStyle] = {
    "a4": PictureStyle(
        width_mm=297.0, height_mm=210.0, margin_mm=8.0, gutter_mm=29.0,
        title_em=6.4, rule_em=2.6, word_em=3.7, detail_em=2.4, lane_em=2.6, band_em=3.0, tick_em=2.6,
        note_em=2.3, print_em=1.8, lane_most_mm=5.5, flags_most_mm=(40.0, 55.0), notes_most_mm=34.0,
        list_em=3.3, list_most_mm=44.0, wall=True,
    ),
    "a3": PictureStyle(
        width_mm=420.0, height_mm=297.0, margin_mm=10.0, gutter_mm=40.0,
        title_em=9.0, rule_em=3.6, word_em=5.4, detail_em=3.4, lane_em=3.6, band_em=4.2, tick_em=3.6,
        note_em=3.0, print_em=2.3, lane_most_mm=8.0, flags_most_mm=(60.0, 80.0), notes_most_mm=50.0,
        list_em=4.8, list_most_mm=64.0, wall=True,
    ),
}  # fmt: skip
