"""Note marks from keys: points and spans, withdrawals, and home full, half or none by repeated presses.

A scribe watches the robots, not the keys, so there are only three keys. The same key again within a short time means
"less than that": home, home half, home none.
"""

from collections.abc import Sequence

from tocsin.journal import records
from tocsin.journal.clock_history import ClockHistory, noted_text
from tocsin.journal.records import marks_of
from tocsin.model.mark import SCRIBE_ERROR_NS, standing_places
from tocsin.model.timeline.timeline import Timeline
from tocsin.runner.match.match import Match
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

SPAN_NS = 300 * NS_PER_MS              # a key held for less is a point, not a span
AGAIN_NS = 1500 * NS_PER_MS            # taps closer than this are one statement
_LADDER = ("home", "home_half", "home_none")


class HomeTaps:
    """Home full, half or none by how often its key was tapped on."""

    def __init__(self) -> None:
        self._home_ns = 0
        self._home = ""

    def tapped(self, begin_ns: int) -> tuple[str, str]:
        """Return the label of a tap, and of the mark before it that it stands for instead, or an empty text."""
        again = self._home in _LADDER[:-1] and begin_ns - self._home_ns < AGAIN_NS
        instead = self._home if again else ""
        self._home = _LADDER[_LADDER.index(self._home) + 1] if again else _LADDER[0]
        self._home_ns = begin_ns
        return self._home, instead

    def forget(self) -> None:
        """Let the next tap say home again."""
        self._home = ""


class Scribe:
    """Notes marks in the journal of the match that runs."""

    def __init__(self) -> None:
        self._taps = HomeTaps()

    def mark(self, match: Match, now_ns: int, label: str, begin_ns: int, end_ns: int | None, source: str) -> Outcome:
        """Note a mark from a key's down to its up, ``end_ns`` None for a key that reports no key up."""
        takes_back: int | None = None
        if label == "home":
            label, instead = self._taps.tapped(begin_ns)
            takes_back = _newest(match, instead) if instead else None
        if takes_back is not None:
            match.take_back(now_ns, takes_back, source)
        held_ns = 0 if end_ns is None else end_ns - begin_ns
        is_span = held_ns >= SPAN_NS
        outcome = match.mark(
            now_ns, label, begin_ns, end_ns if is_span else None, source, pointlike=end_ns is None
        )
        if isinstance(outcome, Refused):
            return outcome
        lasted = f", {held_ns / NS_PER_S:.1f} s" if is_span else ""
        behind_ns = match.behind_end_ns(begin_ns)
        if behind_ns > SCRIBE_ERROR_NS:        # less is how late a scribe may be
            return Done(tr(
                "{words} noted{lasted}, {behind:.1f} s after the end", words=_words(label), lasted=lasted,
                behind=behind_ns / NS_PER_S,
            ))
        return Done(tr("{words} noted{lasted}", words=_words(label), lasted=lasted), briefly=True)

    def undo(self, match: Match, now_ns: int, source: str) -> Outcome:
        """Withdraw the newest valid mark."""
        place = _newest(match)
        if place is None:
            return Refused(tr("there is no mark to take back"))
        self._taps.forget()
        return Done(took_back(match.take_back(now_ns, place, source), match.timeline, match.record.kept), briefly=True)


def took_back(mark: records.MarkRecord, timeline: Timeline, run: Sequence[records.Record]) -> str:
    """Return what people read of a mark that was taken back: what it said, and when that was."""
    return tr("undone: {noted}", noted=noted_text(mark, timeline, ClockHistory(run)))


def too_late(label: str) -> str:
    """Return what people read of a mark whose key went down once the run had ended, its journal with it."""
    return tr("{words} not noted, this run has ended: add it with `tocsin mark`", words=_words(label))


def _words(label: str) -> str:
    return label.replace("_", " ")


def _newest(match: Match, label: str = "") -> int | None:
    """Return the place among all marks of the newest that holds; with a label, of our own robot's with that label."""
    marks = marks_of(match.record.kept)
    held = [
        place
        for place in standing_places(marks)
        if not label or (marks[place].label, marks[place].by) == (label, "")
    ]
    return held[-1] if held else None
