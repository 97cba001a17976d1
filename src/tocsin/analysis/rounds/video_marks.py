"""Read marks from a video: a table of times, aligned by one or two moments of the match seen in the video."""

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import msgspec

from tocsin.analysis.csv_table import TableError, rows_of, shown
from tocsin.model.mark import Mark
from tocsin.model.timeline.point import Point
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

COLUMNS = ("time", "label", "until", "by")
SCALE_ERROR_NS = 1 * NS_PER_S          # two moments that disagree by more are not of one match, or the wrong ones
VIDEO_ERROR_NS = 200 * NS_PER_MS       # a frame that a person stops at (estimate, no source)
BY = ("", "us", "partner", "opponent")
_TIME = re.compile(r"(?:(?P<h>\d{1,2}):)?(?:(?P<min>\d{1,3}):)?(?P<s>\d{1,6}(?:[.,]\d{1,9})?)s?")
_LABEL = re.compile(r"[a-z][a-z0-9_]*")


class VideoMark(NamedTuple):
    """One row: times of the video in nanoseconds."""

    begin_ns: int
    end_ns: int | None
    label: str
    by: str


class Seen(NamedTuple):
    """A moment of the match, and its time in the video."""

    video_ns: int
    point: Point


class Alignment(msgspec.Struct, frozen=True, kw_only=True):
    """The video time of each anchor's zero, in nanoseconds, and the error that this adds to marks."""

    zeros_ns: dict[str, int]
    error_ns: int


def video_time_ns(text: str) -> int | None:
    """Return the nanoseconds of a time as video players show it, or None.

    >>> video_time_ns("83.4"), video_time_ns("1:23.4"), video_time_ns("1:02:03"), video_time_ns("soon")
    (83400000000, 83400000000, 3723000000000, None)
    """
    found = _TIME.fullmatch(text.strip())
    if found is None:
        return None
    hours, minutes = found["h"], found["min"]
    if minutes is None:                    # one colon: minutes and seconds
        hours, minutes = None, hours
    whole, _, digits = found["s"].replace(",", ".").partition(".")
    seconds_ns = int(whole) * NS_PER_S + int(digits.ljust(9, "0") or 0)
    return (int(hours or 0) * 3600 + int(minutes or 0) * 60) * NS_PER_S + seconds_ns


def read_table(text: str) -> tuple[VideoMark, ...]:
    """Return the marks of a CSV with the columns time, label, until, by (the last two may be left out). Raises
    TableError with every mistake."""
    problems: list[str] = []
    marks = []
    for line, cells in rows_of(text, COLUMNS, COLUMNS[:2]):
        wrong = list(_problems(cells))
        problems += [tr("line {line}: {why}", line=line, why=why) for why in wrong]
        if not wrong:
            end_ns = video_time_ns(cells["until"]) if cells["until"] else None
            marks.append(VideoMark(video_time_ns(cells["time"]) or 0, end_ns, cells["label"], cells["by"]))
    if problems:
        raise TableError(problems)
    return tuple(marks)


def align(seen: Sequence[Seen]) -> Alignment:
    """Return the video times of a match's anchors from the moments seen in the video (at least one).

    Several moments of one anchor are averaged; half of their disagreement is added to the error. Raises ValueError with
    a sentence if they disagree by more than a second.
    """
    zeros: dict[str, list[int]] = {}
    for one in seen:
        zeros.setdefault(one.point.anchor, []).append(one.video_ns - one.point.offset_ns)
    apart_ns = max(max(found) - min(found) for found in zeros.values())
    if apart_ns > SCALE_ERROR_NS:
        raise ValueError(f"the moments disagree by {apart_ns / NS_PER_S:.1f} s: one of them is another moment")
    return Alignment(
        zeros_ns={anchor: round(sum(found) / len(found)) for anchor, found in zeros.items()},
        error_ns=VIDEO_ERROR_NS + apart_ns // 2,
    )


def on_clock(marks: Sequence[VideoMark], zero_ns: int, error_ns: int) -> tuple[Mark, ...]:
    """Return marks on the shared clock, for a video that began at ``zero_ns``."""
    return tuple(
        Mark(
            label=mark.label, begin_ns=zero_ns + mark.begin_ns,
            end_ns=None if mark.end_ns is None else zero_ns + mark.end_ns, by=mark.by, error_ns=error_ns,
        )
        for mark in marks
    )  # fmt: skip


def _problems(cells: dict[str, str]) -> Iterator[str]:
    for column in ("time", "until"):
        if (cells[column] or column == "time") and video_time_ns(cells[column]) is None:
            yield tr("'{cells}' is not a video time; write 83.4 or 1:23.4", cells=shown(cells[column]))
    begin_ns, end_ns = video_time_ns(cells["time"]), video_time_ns(cells["until"])
    if begin_ns is not None and end_ns is not None and end_ns < begin_ns:
        yield tr("it ends ({cells}) before it begins ({cells_2})", cells=cells["until"], cells_2=cells["time"])
    if not _LABEL.fullmatch(cells["label"]):
        label = shown(cells["label"])
        yield tr(
            "'{label}' is not a label; write contact, turned, home, home_half, home_none or one of your own",
            label=label,
        )
    if cells["by"] not in BY:
        yield tr("write us, partner or opponent, not '{cells}'", cells=shown(cells["by"]))
