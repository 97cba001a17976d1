"""List the timeline as people read it: a row for each occurrence of a cue, its place in its period, the display's
reading.

Tables, cards and previews are made of these rows. All times are the timeline's; none is computed anew.
"""

import msgspec

from tocsin.export.source import Source
from tocsin.model.display.digits import official, rounding
from tocsin.model.plan import ChannelName, Cue, Role
from tocsin.model.timeline.point import PeriodSlot, Point
from tocsin.model.timeline.timeline import Firing, Timeline
from tocsin.translation import tr


class CueOccurrence(msgspec.Struct, frozen=True, kw_only=True):
    """One occurrence of a cue, the ``n``-th from 0.

    ``period`` and ``offset_ns`` are its place: that long after the period's begin; or, with an empty period, after the
    mark or call that it hangs on (``anchor`` names it). ``match_ns`` is nominal match time, None there. ``shown`` is
    the official display's reading at that instant, empty if that is uncertain. ``until_ns`` is nominal match time too,
    None if the cue is not sustained or its end is unknown before the match. ``roles`` are those whom the cue is for,
    ``patterns`` the pattern's id by channel.
    """

    cue: str
    n: int
    word: str
    why: str
    when: str
    anchor: str
    period: str
    offset_ns: int
    match_ns: int | None
    until_ns: int | None
    shown: str
    roles: tuple[Role, ...]
    patterns: dict[ChannelName, str]


def calls(source: Source) -> tuple[CueOccurrence, ...]:
    """Return all occurrences in the timeline's order, those on marks and calls last."""
    together: dict[tuple[str, int], list[Firing]] = {}
    for firing in source.timeline.firings:
        together.setdefault((firing.cue, firing.n), []).append(firing)
    cues = {cue.id: cue for cue in source.plan.cues}
    return tuple(_call(cues[firings[0].cue], source.timeline, firings) for firings in together.values())


def place(timeline: Timeline, point: Point) -> tuple[PeriodSlot, int] | None:
    """Return the period of a point of the match, and the nanoseconds since it began; None for marks and calls.

    Where one period ends and another begins, the point belongs to the later one; behind a segment's last period to that
    one. The end of the match belongs to the period that ends, not to the coasting of robots after it.
    """
    slots = [slot for slot in timeline.periods if slot.anchor == point.anchor and slot.begin_ns <= point.offset_ns]
    if len(slots) > 1 and slots[-1].kind == "settle" and slots[-1].begin_ns == point.offset_ns:
        slots.pop()
    if not slots:
        return None
    slot = slots[-1]
    return slot, point.offset_ns - slot.begin_ns


def shown_at(timeline: Timeline, point: Point) -> str:
    """Return the official display's reading at a point of the match, empty for a mark, a call, an open period."""
    if place(timeline, point) is None:
        return ""
    left_ns = timeline.at({point.anchor: point.offset_ns}).left_ns
    return "" if left_ns is None else official(left_ns, timeline.digits)


def display_in_words(timeline: Timeline) -> str:
    """Return in a sentence what the official display counts, from where if known, and how it rounds."""
    counted = tr("each period down")
    if timeline.counts == "match":
        whole = shown_at(timeline, Point(timeline.segments[0].anchor, 0))
        counted = tr("the whole match down") + (tr(", from {whole}", whole=whole) if whole else "")
    return tr(
        "The official display counts {counted}; it {rounding}.", counted=counted, rounding=rounding(timeline.digits),
    )


def _call(cue: Cue, timeline: Timeline, firings: list[Firing]) -> CueOccurrence:
    first = firings[0]
    found = place(timeline, first.begin)
    untils = [firing.until for firing in firings if firing.until is not None]
    return CueOccurrence(
        cue=first.cue,
        n=first.n,
        word=first.word,
        why=cue.why,
        when=first.when,
        anchor=first.begin.anchor,
        period=found[0].id if found else "",
        offset_ns=found[1] if found else first.begin.offset_ns,
        match_ns=first.match_ns,
        until_ns=_nominal_ns(timeline, untils[0]) if untils else None,
        shown=shown_at(timeline, first.begin),
        roles=cue.roles,
        patterns={firing.channel: firing.pattern for firing in firings},
    )


def _nominal_ns(timeline: Timeline, point: Point) -> int | None:
    begins = {segment.anchor: segment.match_ns for segment in timeline.segments}
    return begins[point.anchor] + point.offset_ns if point.anchor in begins else None
