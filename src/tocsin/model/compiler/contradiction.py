"""Check a timeline that was read from a file: could the compiler have made it? Pure."""

from collections.abc import Iterator

from tocsin.model.timeline.ground import Ground
from tocsin.model.timeline.point import Point
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr
from tocsin.units import MOST_NS


def contradiction(timeline: Timeline) -> str:
    """Return how a timeline contradicts itself, or an empty text; readers then need no further checks."""
    anchors = [segment.anchor for segment in timeline.segments]
    if not anchors or not timeline.periods:
        return tr("it has no periods")
    if len(set(anchors)) < len(anchors):
        return tr("two of its segments use one anchor")
    if any(slot.anchor not in anchors for slot in timeline.periods):
        return tr("a period has no anchor")
    if any(slot.end_ns is not None and slot.end_ns < slot.begin_ns for slot in timeline.periods):
        return tr("a period ends before it begins")
    ground = Ground(segments=timeline.segments, periods=timeline.periods)
    if ground.match_end() is None or ground.last_end() is None:
        return tr("it never ends")
    if any(firing.no != place for place, firing in enumerate(timeline.firings)):
        return tr("its firings are not numbered in their order")
    if not all(-MOST_NS <= ns <= MOST_NS for ns in _times_ns(timeline)):
        return tr("a time is not possible")
    return ""


def _times_ns(timeline: Timeline) -> Iterator[int]:
    """Yield every time in a timeline."""
    yield from timeline.leads.values()
    for segment in timeline.segments:
        yield from (segment.match_ns, segment.lasts_ns or 0)
    for slot in timeline.periods:
        yield from (slot.begin_ns, slot.end_ns or 0)
    for span in timeline.windows:
        yield from (span.begin.offset_ns, span.end.offset_ns)
    for firing in timeline.firings:
        until: Point = firing.until or firing.begin
        yield from (firing.begin.offset_ns, until.offset_ns, firing.match_ns or 0, firing.lasts_ns)
