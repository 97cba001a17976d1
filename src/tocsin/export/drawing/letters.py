"""The letters of pages: those of DejaVu Sans, which comes with matplotlib, measured as they are drawn."""

from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from tocsin.export.drawing.fitting import Extent

if TYPE_CHECKING:
    from matplotlib.font_manager import FontProperties

_FILES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}


class DejaVu:
    """The letters of DejaVu Sans, regular and bold, measured without hinting."""

    @staticmethod
    @lru_cache(maxsize=50_000)
    def extent(text: str, bold: bool) -> Extent:
        """Return the room that a text takes, in ems."""
        from matplotlib.textpath import TextToPath

        width, height, below = TextToPath().get_text_width_height_descent(text, font(bold, 100.0), False)
        return Extent(width / 100, (height - below) / 100, below / 100)

    @staticmethod
    @cache
    def has(letter: str) -> bool:
        """Return whether both weights have the letter."""
        from matplotlib.font_manager import get_font

        return all(get_font(str(font_path(bold))).get_char_index(ord(letter)) for bold in (False, True))


DEJAVU = DejaVu()                      # one for all layouts: what is fitted once with it is known


@cache
def font_path(bold: bool) -> Path:
    """Return the file of the font of a weight."""
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf" / _FILES[bold]


def font(bold: bool, size_pt: float) -> "FontProperties":
    """Return the font at a size in points."""
    from matplotlib.font_manager import FontProperties

    return FontProperties(fname=font_path(bold), size=size_pt)
