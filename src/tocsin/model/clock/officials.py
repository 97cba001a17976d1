"""Find the official moments of a match, which everybody can notice, and which of them a tap means. Pure."""

from typing import Literal, NamedTuple

from tocsin.model.clock.origins import Origin
from tocsin.model.rig import StartBy
from tocsin.model.timeline.timeline import MATCH, Point, Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_S

NEAR_NS = 3 * NS_PER_S                 # a tap means no moment that is further away by the present clock
NONE_NEAR = tr("no official moment within 3 s")
MOST_COMING = 2                        # more are not read in a match
# How a moment is noticed: the display counts down to it; it is a signal whose time is roughly known, or is not.
Notice = Literal["counted", "warned", "sudden"]


class Official(NamedTuple):
    """An official moment that everybody can notice."""

    point: Point
    text: str
    notice: Notice


def officials_of(timeline: Timeline, by: StartBy) -> tuple[Official, ...]:
    """Return the official moments of a match: begins and ends of the periods in which robots play, begins of windows.

    ``by`` is how the clock is started. Of several at one time only the most noticeable is returned.
    """
    found: dict[Point, Official] = {}

    def add(point: Point, text: str, notice: Notice) -> None:
        found.setdefault(point, Official(point, text, notice))

    played = [slot for slot in timeline.periods if slot.kind not in ("pause", "settle")]
    for slot in played:
        notice = _notice(slot.anchor, slot.begin_ns, by)
        add(Point(slot.anchor, slot.begin_ns), tr("{title} begins", title=slot.title), notice)
    for slot in played:
        if slot.end_ns is not None:
            add(Point(slot.anchor, slot.end_ns), tr("{title} ends", title=slot.title), "counted")
    anchors = {segment.anchor for segment in timeline.segments}
    for span in timeline.windows:
        if span.begin.anchor in anchors:
            add(span.begin, span.title, "warned")
    return tuple(found.values())


def _notice(anchor: str, begin_ns: int, by: StartBy) -> Notice:
    """Return how the begin of a period is noticed: within its segment the clock counts down to it."""
    if begin_ns > 0 or (anchor == MATCH and by in ("count_in", "countdown")):
        return "counted"
    return "sudden"


def nearest(officials: tuple[Official, ...], origin: Origin, at_ns: int) -> Official | None:
    """Return the official moment nearest to a tap at ``at_ns``, by the origin of its segment, or None."""
    own = [moment for moment in officials if moment.point.anchor == origin.anchor]
    found = min(own, key=lambda moment: abs(behind_ns(moment, origin, at_ns)), default=None)
    return None if found is None or abs(behind_ns(found, origin, at_ns)) > NEAR_NS else found


def coming(officials: tuple[Official, ...], origin: Origin, at_ns: int) -> str:
    """Return in words which official moments of the segment come next after ``at_ns``, and in how many seconds."""
    waits = [(-behind_ns(moment, origin, at_ns), moment.text) for moment in officials
             if moment.point.anchor == origin.anchor]  # fmt: skip
    ahead = [tr("{text} in {wait}", text=text, wait=_wait(left_ns)) for left_ns, text in sorted(waits) if left_ns > 0]
    return tr("next: {ahead}", ahead=", ".join(ahead[:MOST_COMING])) if ahead else tr("none comes any more")


def _wait(left_ns: int) -> str:
    seconds = round(left_ns / NS_PER_S)
    return f"{seconds} s" if seconds < 60 else f"{seconds // 60}:{seconds % 60:02d}"


def behind_ns(moment: Official, origin: Origin, at_ns: int) -> int:
    """Return by how much a time lies behind a moment, in real time."""
    return at_ns - origin.real_ns(moment.point.offset_ns)
