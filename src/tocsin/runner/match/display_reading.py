"""Say which change of the official display a typed time means, and keep what a reading of it changed, to be undone."""

from typing import NamedTuple

from tocsin.journal import records
from tocsin.model.clock.officials import Official, behind_ns
from tocsin.model.clock.origins import Origin
from tocsin.model.clock.sync import FAR_NS, Sync
from tocsin.model.mark import KEYS, places_of
from tocsin.model.timeline.shown import changes_to, shown_text
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_S

UNDO_NS = 30 * NS_PER_S                # so long the key that takes back takes a reading back; then it is for marks


class _Before(NamedTuple):
    """The clock before a reading that was taken at ``at_ns``."""

    at_ns: int
    sync: Sync
    origin: Origin


class DisplayReadings:
    """The readings of the display in one match."""

    def __init__(self, timeline: Timeline) -> None:
        self._timeline = timeline
        self._before: _Before | None = None

    def meant(self, seconds: int, origin: Origin, at_ns: int) -> Official | None:
        """Return the change of the display to this many seconds that is nearest to ``at_ns`` by the clock, None where
        the part of the match that is on shows no such time."""
        here = [one for one in changes_to(self._timeline, seconds) if one.point.anchor == origin.anchor]
        shown = shown_text(seconds)
        found = [
            Official(one.point, tr("{shown} of {title}", shown=shown, title=one.slot.title), "counted") for one in here
        ]
        return min(found, key=lambda moment: abs(behind_ns(moment, origin, at_ns)), default=None)

    def taken(self, at_ns: int, sync: Sync, origin: Origin) -> None:
        """Keep what was before a reading."""
        self._before = _Before(at_ns, sync, origin)

    def forget(self) -> None:
        """Let no reading be taken back any more."""
        self._before = None

    def undone(self, now_ns: int, kept: list[records.Record]) -> _Before | None:
        """Return what was before the newest reading, once, if that is what a person takes back now: it is no older than
        ``UNDO_NS``, and no mark by a key that stands is newer."""
        before, self._before = self._before, None
        marks = records.marks_of(kept)
        newest_ns = max((marks[place].at_ns for place in places_of(marks, KEYS)), default=0)
        if before is None or now_ns - before.at_ns > UNDO_NS:
            return None
        if newest_ns > before.at_ns:
            self._before = before
            return None
        return before


def tapped_text(moment: Official, off_ns: int) -> str:
    """Return what a tap says about the clock, which was ``off_ns`` early."""
    text, off_s = moment.text, abs(off_ns) / NS_PER_S
    if off_ns > 0:
        return tr("{text}: {off:.2f} s later than by the clock", text=text, off=off_s)
    return tr("{text}: {off:.2f} s earlier than by the clock", text=text, off=off_s)


def read_text(moment: Official, off_s: float) -> str:
    """Return what a reading does to the clock, which was ``off_s`` early."""
    if off_s > 0:
        return tr("{text}: clock {off:.2f} s back", text=moment.text, off=off_s)
    return tr("{text}: clock {off:.2f} s forward", text=moment.text, off=-off_s)


def too_far(moment: Official, off_ns: int) -> str:
    """Return what people read of a reading that is too far from the clock to be believed alone."""
    by_s = abs(off_ns) / NS_PER_S
    return tr(
        "{text} is {by:.0f} s off this clock (limit {far} s): type another one; two that agree are used",
        text=moment.text, by=by_s, far=FAR_NS // NS_PER_S,
    )
