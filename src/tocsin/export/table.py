"""Write the timeline as a table: a row of text for each occurrence of a cue."""

import csv
import io
from collections.abc import Iterable

from tocsin.export.occurrences import CueOccurrence
from tocsin.model.plan import CHANNELS
from tocsin.readable import readable
from tocsin.units import NS_PER_S

COLUMNS = (
    "match_s", "left", "period", "since_period_s", "until_s", "cue", "n", "word", "for", *CHANNELS, "when", "why",
)  # fmt: skip

_MOST = 32_000                         # characters of a cell: spreadsheets take 32,767 (from memory)


def rows(calls: Iterable[CueOccurrence]) -> list[dict[str, str]]:
    """Return each call as text by column.

    Times are seconds with a dot and no zeros at their end; ``left`` is what the official display reads; a call that
    hangs on a mark or is given by hand has the anchor as its ``period``, and its time since that.
    """
    return [_row(call) for call in calls]


def csv_text(calls: Iterable[CueOccurrence]) -> str:
    """Return the table as CSV (RFC 4180, from memory) with a head line. Words of a plan become no formula."""
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, COLUMNS)
    writer.writeheader()
    writer.writerows({column: _plain(value) for column, value in row.items()} for row in rows(calls))
    return text.getvalue()


def seconds(ns: int) -> str:
    """Return nanoseconds as seconds, without needless zeros.

    >>> seconds(96_000_000_000), seconds(1_250_000_000)
    ('96', '1.25')
    """
    whole, rest = divmod(abs(ns), NS_PER_S)
    digits = f".{rest:09d}".rstrip("0").rstrip(".") if rest else ""
    return f"{'-' if ns < 0 else ''}{whole}{digits}"


def _row(call: CueOccurrence) -> dict[str, str]:
    return {
        "match_s": "" if call.match_ns is None else seconds(call.match_ns),
        "left": call.shown,
        "period": call.period or call.anchor,
        "since_period_s": seconds(call.offset_ns),
        "until_s": "" if call.until_ns is None else seconds(call.until_ns),
        "cue": call.cue,
        "n": str(call.n),
        "word": call.word,
        "for": " ".join(call.roles),
        **{channel: call.patterns.get(channel, "") for channel in CHANNELS},
        "when": call.when,
        "why": call.why,
    }


def _plain(value: str) -> str:
    """Return a cell that spreadsheets take for no formula, however they read it, and in which nothing is hidden."""
    shown = readable(value)[:_MOST]
    # They take one that begins so for a formula, some also behind blanks (common practice, no source).
    return f"'{shown}" if shown.lstrip()[:1] in ("=", "+", "-", "@") else shown
