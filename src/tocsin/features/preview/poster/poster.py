"""A poster of a plan: each cue as seen, felt and heard, with what to do, for the pit's wall. One sheet or several.

Readable in grey; equal inputs give equal bytes. How large letters are, and why: ``style``.
"""

from tocsin.errors import UsageError
from tocsin.export.drawing.letters import DEJAVU
from tocsin.export.drawing.printing import Form, drawn, drawn_sheets
from tocsin.export.drawing.shapes import Page
from tocsin.export.source import Source
from tocsin.features.preview.poster.sheet import DIGEST, lay_out
from tocsin.features.preview.poster.style import PAPERS, STYLES, Paper
from tocsin.translation import tr

__all__ = ["DIGEST", "PAPERS", "Paper", "poster", "poster_sheets"]

MOST_CUES = 60                         # nobody hangs up more than twenty sheets


def poster(source: Source, form: Form, paper: Paper) -> tuple[bytes, ...]:
    """Return the poster's files, as ``form``: a PDF with all sheets, else a picture a sheet. Raises as
    ``poster_sheets``."""
    sheets = poster_sheets(source, paper)
    creator = source.origin_lines[0]
    if form == "pdf":
        return (drawn_sheets(sheets, "poster", source.title, creator),)
    return tuple(drawn(sheet, form, "poster", source.title, creator) for sheet in sheets)


def poster_sheets(source: Source, paper: Paper) -> tuple[Page, ...]:
    """Return what stands where on the sheets. Raises UsageError (exit 2) if the plan has more than MOST_CUES."""
    if len(source.plan.cues) > MOST_CUES:
        raise UsageError(
            tr(
                "a poster has room for {most_cues} cues; this plan has {count:,}", most_cues=MOST_CUES,
                count=len(source.plan.cues),
            ),
            hint=tr("the table shows them all: leave out --poster"),
        )
    return lay_out(source, STYLES[paper], DEJAVU)
