"""What a box has to do, reckoned from a plan's timeline: its motor each millisecond, its strip each frame.

The timeline's firings decide (``model.timeline``); patterns in whole milliseconds and colours in whole numbers are
those of the export. Times are the box's own milliseconds. A box polls its plan each millisecond, so what is due, and in
time, is given when the position is there; the first poll of a match lies 250 ms (a person's lateness) and the contact's
20 ms behind its begin.
"""

from typing import NamedTuple

from tocsin.export.robot.light import colours, look
from tocsin.export.robot.pattern import shaking
from tocsin.units import NS_PER_MS

LATE_MS = 250
SURE_MS = 20
RING_OUT_MS = 2000
OVER_MS = 5000
BLACK = (0, 0, 0)


class Stretch(NamedTuple):
    """A segment as a box lived it: its rank, the millisecond of its position 0, those of its first poll and of the next
    one's."""

    rank: int
    began_ms: int
    first_ms: int
    until_ms: int


class Box:
    """The expectation of one plan, for one role (None: nobody), on a strip."""

    def __init__(self, source, role, leds):
        self._timeline, self._patterns = source.timeline, source.plan.patterns
        self._role, self._leds = role, leds
        self._anchors = [segment.anchor for segment in self._timeline.segments]

    @property
    def segments(self):
        """The segments of the plan."""
        return self._timeline.segments

    def motor(self, stretches, end_ms):
        """Return (ms, strong, weak) in percent, whenever that changes, from the first stretch on."""
        given = sorted(self._given(stretches))
        shown, playing, found = (0, 0), None, []
        for ms in range(stretches[0].first_ms, end_ms):
            coming = None
            while given and given[0][0] <= ms:
                _, _, firing = given.pop(0)
                if coming is None or firing.priority >= coming.priority:
                    coming = firing
            if playing is not None and ms - playing[1] >= self._shaking(playing[0]).lasts_ms:
                playing = None
            if coming is not None and (playing is None or coming.priority >= playing[0].priority):
                playing = (coming, ms)
            now = (0, 0) if playing is None else self._level(playing[0], ms - playing[1])
            if now != shown:
                found.append((ms, *now))
                shown = now
        return found

    def strip(self, stretches, ms):
        """Return the colours that a strip should show at a millisecond, before any guard."""
        stretch = next((one for one in stretches if one.first_ms <= ms < one.until_ms), None)
        if stretch is None:
            return [BLACK] * self._leds
        at_ms, first_at_ms = ms - stretch.began_ms, stretch.first_ms - stretch.began_ms
        lit = [one for one in self._rows("light", stretch.rank) if self._lit(one, at_ms, first_at_ms, stretch.rank)]
        if not lit:
            return [BLACK] * self._leds
        firing = max(lit, key=lambda one: (one.priority, one.begin.offset_ns, one.no))
        shown = look(firing.pattern, self._patterns.light[firing.pattern], firing.lasts_ns)
        due_ms, until_ms = up(firing.begin.offset_ns), self._until_ms(firing)
        if until_ms is None:
            return colours(shown, self._leds, at_ms - due_ms, 1, 1)
        whole_ms = until_ms - due_ms if until_ms else shown.lasts_ms
        return colours(shown, self._leds, at_ms - due_ms, whole_ms - (at_ms - due_ms), whole_ms)

    def _given(self, stretches):
        for stretch in stretches:
            for firing in self._rows("rumble", stretch.rank):
                if firing.role != self._role:
                    continue
                at_ms = self._given_at_ms(firing, stretch.first_ms - stretch.began_ms, stretch.rank)
                if at_ms is not None and stretch.began_ms + at_ms < stretch.until_ms:
                    yield stretch.began_ms + at_ms, firing.no, firing

    def _given_at_ms(self, firing, first_at_ms, rank):
        """Return the position at which a firing is given, None for one that was missed. What was due before the first
        segment began was left out."""
        due_ms, until_ms = up(firing.begin.offset_ns), self._until_ms(firing)
        at_ms = max(due_ms, first_at_ms)
        in_time = at_ms <= (firing.begin.offset_ns + firing.late_limit_ns) // NS_PER_MS and (rank > 0 or due_ms >= 0)
        return at_ms if in_time or until_ms is None or at_ms < until_ms else None

    def _lit(self, firing, at_ms, first_at_ms, rank):
        due_ms, until_ms = up(firing.begin.offset_ns), self._until_ms(firing)
        if until_ms is None:
            return at_ms >= due_ms
        if until_ms:
            return due_ms <= at_ms < until_ms
        lasts_ms = max(1, firing.lasts_ns // NS_PER_MS)
        return due_ms <= at_ms < due_ms + lasts_ms and self._given_at_ms(firing, first_at_ms, rank) is not None

    def _rows(self, channel, rank):
        variant = self._timeline.default_variant
        return [
            firing for firing in self._timeline.firings
            if firing.channel == channel and firing.begin.anchor == self._anchors[rank] and firing.when in ("", variant)
        ]  # fmt: skip

    def _until_ms(self, firing):
        """Return 0 for no end, None for one that hangs on what the box does not know yet."""
        if firing.until is None:
            return 0
        return up(firing.until.offset_ns) if firing.until.anchor == firing.begin.anchor else None

    def _shaking(self, firing):
        return shaking(firing.pattern, self._patterns.rumble[firing.pattern], firing.lasts_ns)

    def _level(self, firing, ago_ms):
        return next((step.strong, step.weak) for step in self._shaking(firing).steps if ago_ms < step.end_ms)


def up(ns):
    """Return nanoseconds as milliseconds, rounded up."""
    return -(-ns // NS_PER_MS)
