"""Cut out one cue, ready to be played by hand: its own firings alone, at their place in the match. Pure.

The clock starts a second ahead of the cue, so that screens show the same as in a match: the official display, the
windows, the shrinking frame. A repeating cue comes with its repeats, in their rhythm. A cue too long for a preview is
cut. A cue on a call or a mark has no fixed time: it is shown early in the last period in which people drive.
"""

from collections.abc import Sequence

import msgspec

from tocsin.export.occurrences import shown_at
from tocsin.model.moment import Moment, format
from tocsin.model.plan import CHANNELS, ChannelName, Cue, Plan, Role
from tocsin.model.timeline.timeline import Firing, Point, Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_S, format_clock

AHEAD_NS = NS_PER_S                    # the clock starts so long before the cue
LONGEST_NS = 8 * NS_PER_S              # a cue is shown for so long at most
_CALL = "call."


class CuePreview(msgspec.Struct, frozen=True, kw_only=True):
    """A cue and its part of the match.

    ``moment`` is the official display's reading as it comes, or a phrase if it does not hang on the match. The
    ``timeline`` holds its firings only; the cue begins at ``begin``, and all of it lasts ``lasts_ns``. ``times`` is how
    often it comes in the preview, ``cut`` says what is left out, or is empty.
    """

    cue: str
    word: str
    roles: tuple[Role, ...]
    patterns: dict[ChannelName, str]
    moment: str
    begin: Point
    timeline: Timeline
    lasts_ns: int
    times: int = 1
    cut: str = ""

    @property
    def at(self) -> Point:
        """The point at which the clock starts."""
        return Point(self.begin.anchor, max(0, self.begin.offset_ns - AHEAD_NS))

    @property
    def wait_ns(self) -> int:
        """The nanoseconds before the clock starts: a cue at the very begin of the match has no second ahead of it."""
        return AHEAD_NS - (self.begin.offset_ns - self.at.offset_ns)

    @property
    def title(self) -> str:
        """The cue, its moment, and how often it comes."""
        return f"{self.cue}, {self.moment}" + (tr(", {times} times", times=self.times) if self.times > 1 else "")

    @property
    def about(self) -> str:
        """The word, for whom, and the patterns."""
        patterns = ", ".join(f"{channel} {name}" for channel, name in self.patterns.items())
        return tr(
            "{word}, for {roles} ({patterns})", word=self.word.upper(),
            roles=", ".join(self.roles) or tr("nobody named"), patterns=patterns,
        )


def previews_of(plan: Plan, timeline: Timeline) -> tuple[CuePreview, ...]:
    """Return the plan's cues in order of time: one preview for each occurrence, or for a series of repeats.

    A cue that may also be given by hand is shown only at its own moments.
    """
    cues = {cue.id: cue for cue in plan.cues}
    together: dict[tuple[str, int], list[Firing]] = {}
    for firing in timeline.firings:
        together.setdefault((firing.cue, firing.n), []).append(firing)
    series: list[list[Firing]] = []
    newest: dict[str, list[Firing]] = {}
    for (cue_id, _), firings in together.items():
        known = newest.get(cue_id)
        if known is not None and firings[0].begin.anchor == f"{_CALL}{cue_id}":
            continue
        if known is not None and _follows(cues[cue_id], known[-1], firings[0]):
            known += firings
        else:
            newest[cue_id] = firings
            series.append(firings)
    return tuple(_preview(cues[firings[0].cue], firings, timeline) for firings in series)


def _follows(cue: Cue, last: Firing, first: Firing) -> bool:
    """Return whether an occurrence is the next repeat after another."""
    if cue.every_ns is None or last.begin.anchor != first.begin.anchor:
        return False
    return first.begin.offset_ns - last.begin.offset_ns == cue.every_ns


def _preview(cue: Cue, firings: Sequence[Firing], timeline: Timeline) -> CuePreview:
    first = firings[0]
    begin = _place(first.begin, timeline)
    kept = [f for f in firings if f.begin.offset_ns - first.begin.offset_ns < LONGEST_NS]
    shortened = [_shortened(f, first.begin, begin) for f in kept]
    played = tuple(msgspec.structs.replace(firing, no=no) for no, firing in enumerate(shortened))
    patterns = {firing.channel: firing.pattern for firing in played}
    return CuePreview(
        cue=cue.id,
        word=first.word,
        roles=cue.roles,
        patterns={channel: patterns[channel] for channel in CHANNELS if channel in patterns},
        moment=_moment(first.begin, timeline),
        begin=begin,
        timeline=msgspec.structs.replace(
            timeline, firings=played, default_variant=first.when or timeline.default_variant
        ),
        lasts_ns=max(_end_ns(firing) for firing in played) - begin.offset_ns,
        times=len({firing.n for firing in played}),
        cut=_cut(firings, kept),
    )  # fmt: skip


def _place(begin: Point, timeline: Timeline) -> Point:
    if any(segment.anchor == begin.anchor for segment in timeline.segments):
        return begin
    slot = next((slot for slot in reversed(timeline.periods) if slot.kind == "driver"), timeline.periods[0])
    return Point(slot.anchor, slot.begin_ns + AHEAD_NS)


def _shortened(firing: Firing, first: Point, begin: Point) -> Firing:
    """Return a firing whose series begins at ``begin`` instead of ``first``, cut to what a preview shows."""
    offset_ns = firing.begin.offset_ns - first.offset_ns
    own = Point(begin.anchor, begin.offset_ns + offset_ns)
    left_ns = LONGEST_NS - offset_ns
    held_ns = _held_ns(firing)
    until = None if firing.until is None else Point(
        own.anchor, own.offset_ns + (left_ns if held_ns is None else min(held_ns, left_ns))
    )  # fmt: skip
    return msgspec.structs.replace(
        firing, begin=own, until=until, when="", lasts_ns=min(firing.lasts_ns, left_ns)
    )


def _held_ns(firing: Firing) -> int | None:
    """Return how long a firing with an ``until`` lasts; None if that is known in a match only, or it has none."""
    until = firing.until
    return None if until is None or until.anchor != firing.begin.anchor else until.offset_ns - firing.begin.offset_ns


def _end_ns(firing: Firing) -> int:
    lasts_ns = _held_ns(firing) if firing.sustained else None
    return firing.begin.offset_ns + (firing.lasts_ns if lasts_ns is None else lasts_ns)


def _cut(firings: Sequence[Firing], kept: Sequence[Firing]) -> str:
    """Return what a preview leaves out."""
    longest = format_clock(LONGEST_NS)
    times, shown = (len({firing.n for firing in found}) for found in (firings, kept))
    if shown < times:
        return tr("the first {shown} of its {times} times", shown=shown, times=times)
    held = [firing for firing in firings if firing.sustained]
    if any(_held_ns(firing) is None for firing in held):
        return tr("shown for {longest} at most, in a match until a person acts", longest=longest)
    first_ns = firings[0].begin.offset_ns
    whole_ns = max(_end_ns(firing) for firing in firings) - first_ns
    return (
        tr("shown for {longest}, in a match for {whole}", longest=longest, whole=format_clock(whole_ns))
        if whole_ns > LONGEST_NS
        else ""
    )


def _moment(begin: Point, timeline: Timeline) -> str:
    """Return when a cue comes, as people say it."""
    if begin.anchor.startswith(_CALL):
        return tr("by hand")
    return shown_at(timeline, begin) or format(Moment(begin.anchor, "begin", offset_ns=begin.offset_ns))
