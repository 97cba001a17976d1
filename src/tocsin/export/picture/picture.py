"""A picture of a plan: periods, windows, every firing in its channel's lane, the end of the match larger.

One page, A4 lying, or for the wall A4 or A3 with larger letters, the words and the leads. Grey, so that it prints and
reads the same for any eyes; equal inputs give equal bytes. Notes, such as what `tocsin check` finds, stand as small
numbers where they belong, with a list beneath.
"""

from collections.abc import Sequence

from tocsin.errors import UsageError
from tocsin.export.drawing.letters import DEJAVU
from tocsin.export.drawing.printing import Form, drawn
from tocsin.export.picture.notes import PictureNote
from tocsin.export.picture.sheet import Sheet, lay_out
from tocsin.export.picture.style import SHEET, WALL_PAGES, WALLS, Wall
from tocsin.export.source import Source
from tocsin.translation import tr

__all__ = ["FORMS", "WALLS", "Form", "PictureNote", "Wall", "picture", "picture_layout"]

MOST_MOMENTS = 250                     # on one page; the largest plan that comes with Tocsin has some fifteen
FORMS: tuple[Form, ...] = ("svg", "png", "pdf")


def picture(source: Source, form: Form, wall: Wall | None = None, notes: Sequence[PictureNote] = ()) -> bytes:
    """Return the picture of a plan as a file of that form, one page; with ``wall`` the page for a wall of that size.

    Raises as ``picture_layout``.
    """
    sheet = picture_layout(source, wall, notes)
    return drawn(sheet, form, "picture", source.title, source.origin_lines[0])


def picture_layout(source: Source, wall: Wall | None = None, notes: Sequence[PictureNote] = ()) -> Sheet:
    """Return what stands where on the picture. Raises UsageError (exit 2) if the plan has more than MOST_MOMENTS."""
    moments = sum(max(1, len(cue.at)) for cue in source.plan.cues)
    if moments > MOST_MOMENTS:
        raise UsageError(
            tr(
                "a picture has room for {most_moments} moments at which cues come; this plan has {moments:,}",
                most_moments=MOST_MOMENTS, moments=moments,
            ),
            hint=tr("the table shows them all: leave out -o"),
        )
    return lay_out(source, SHEET if wall is None else WALL_PAGES[wall], DEJAVU, notes)
