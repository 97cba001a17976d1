"""Find when the official display changes to a time that people read off it, such as ``0:22``. Pure.

Most times are shown in several periods. Where a moment is asked for on the command line, a time alone is that of the
last period in which robots play; ``auto@0:22`` names another one. Files know moments only (``model.moment``): there
``0:22`` could as well be how long something lasts.
"""

import re
from typing import NamedTuple

from tocsin.model.moment import MomentError, parse
from tocsin.model.timeline.point import PeriodSlot, Point
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_S

_SHOWN = re.compile(r"(?:(?P<id>[a-z][a-z0-9_]*)(?:@|[ \t]+))?(?P<min>[0-9]{1,3}):(?P<s>[0-5][0-9])")


class NotShownError(MomentError):
    """The display does not show a time, or not there."""


class Shown(NamedTuple):
    """A period in which the display shows a time, and the point at which it changes to it."""

    slot: PeriodSlot
    point: Point


def shown_text(seconds: int) -> str:
    """Return a number of seconds as the display shows it: ``0:22``."""
    return f"{seconds // 60}:{seconds % 60:02d}"


def changes_to(timeline: Timeline, seconds: int) -> tuple[Shown, ...]:
    """Return where the display changes to this many seconds, in the order of the match: once a period at the most. What
    a period begins with is shown from its begin on."""
    found: dict[Point, Shown] = {}
    for slot in timeline.periods:
        span = _left(timeline, slot)
        if span is None:
            continue
        most_ns, least_ns = span
        left_ns = seconds * NS_PER_S + (NS_PER_S if timeline.digits == "floor" else 0)
        if left_ns > most_ns and seconds == _whole(most_ns, timeline) and _begins_anew(timeline, slot):
            left_ns = most_ns
        if least_ns <= left_ns <= most_ns:
            point = Point(slot.anchor, slot.begin_ns + most_ns - left_ns)
            found.setdefault(point, Shown(slot, point))
    return tuple(found.values())


def most_shown_s(timeline: Timeline) -> int:
    """Return the highest number of seconds that the display ever shows, 0 where it counts nothing."""
    spans = [span for slot in timeline.periods if (span := _left(timeline, slot)) is not None]
    return max((_whole(most_ns, timeline) for most_ns, _ in spans), default=0)


def locate_given(text: str, timeline: Timeline) -> Point:
    """Return the point of a moment that was given on the command line: as in files, or as the display's time.

    Raises MomentError; for a time that is not shown there NotShownError, with the periods in which it is.
    """
    match = _SHOWN.fullmatch(text.strip())
    if match is None:
        return timeline.locate(parse(text))
    seconds = 60 * int(match["min"]) + int(match["s"])
    everywhere = changes_to(timeline, seconds)
    wanted = match["id"] or _last_played(timeline)
    here = [one.point for one in everywhere if one.slot.id == wanted or (_of_match(timeline) and not match["id"])]
    if here:
        return here[-1]
    others = tuple(f"{one.slot.id}@{shown_text(seconds)}" for one in everywhere)
    raise NotShownError(
        text, (0, len(text)), tr("a time that the display shows: {ranges}", ranges=_ranges(timeline)), others,
    )


def taken_note(text: str, timeline: Timeline) -> str:
    """Return a note on a time that the display shows in several periods: in which one it was taken, and how another one
    is named. Empty for every other text."""
    match = _SHOWN.fullmatch(text.strip())
    if match is None or match["id"] or _of_match(timeline):
        return ""
    seconds = 60 * int(match["min"]) + int(match["s"])
    every = changes_to(timeline, seconds)
    taken = next((one.slot for one in every if one.slot.id == _last_played(timeline)), None)
    others = [f"{one.slot.id}@{shown_text(seconds)}" for one in every if one.slot != taken]
    if taken is None or not others:
        return ""
    return tr(
        "{match} counts in {title}, the last period; for another one: {others}", match=match[0], title=taken.title,
        others=", ".join(others),
    )


def _of_match(timeline: Timeline) -> bool:
    return timeline.counts == "match"


def _whole(left_ns: int, timeline: Timeline) -> int:
    return -(-left_ns // NS_PER_S) if timeline.digits == "ceil" else left_ns // NS_PER_S


def _left(timeline: Timeline, slot: PeriodSlot) -> tuple[int, int] | None:
    """Return the nanoseconds that are left by the display at a period's begin and end, None where it counts none."""
    if slot.kind == "settle" or slot.end_ns is None:
        return None
    lasts_ns = slot.end_ns - slot.begin_ns
    if not _of_match(timeline):
        return lasts_ns, 0
    begins_ns = {segment.anchor: segment.match_ns for segment in timeline.segments}
    end = timeline.match_end()
    left_ns = begins_ns[end.anchor] + end.offset_ns - begins_ns[slot.anchor] - slot.begin_ns
    return left_ns, left_ns - lasts_ns


def _begins_anew(timeline: Timeline, slot: PeriodSlot) -> bool:
    """Return whether the display jumps at a period's begin: it counts each by itself, or this is the first."""
    return not _of_match(timeline) or slot == timeline.periods[0]


def _last_played(timeline: Timeline) -> str:
    return next((slot.id for slot in reversed(timeline.periods) if slot.kind in ("driver", "autonomous")), "")


def _ranges(timeline: Timeline) -> str:
    told = []
    for slot in timeline.periods:
        span = _left(timeline, slot)
        if span is not None:
            first, last = (shown_text(_whole(left_ns, timeline)) for left_ns in span)
            told.append(tr("{id} {first} to {last}", id=slot.id, first=first, last=last))
    return ", ".join(told)
