"""Note marks from keys: points and spans, withdrawals, and home full, half or none by repeated presses.

A scribe watches the robots, not the keys, so there are only three keys. The same key again within a short time means
"less than that": home, home half, home none. There may be several scribes, one at the laptop and one at each board:
nobody goes on with another's taps, or takes another's mark back.
"""

from collections.abc import Sequence

from tocsin.journal import records
from tocsin.journal.clock_history import ClockHistory, noted_text
from tocsin.journal.records import marks_of
from tocsin.model.mark import KEYS, SCRIBE_ERROR_NS, noted_error_ns, places_of, scribe_of, standing_places
from tocsin.model.timeline.timeline import Timeline
from tocsin.runner.match.match import Match
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

SPAN_NS = 300 * NS_PER_MS              # a key held for less is a point, not a span
AGAIN_NS = 1500 * NS_PER_MS            # taps closer than this are one statement
LADDER = ("home", "home_half", "home_none")


class HomeTaps:
    """Home full, half or none by how often one scribe tapped its key on."""

    def __init__(self) -> None:
        self._said: dict[str, tuple[int, str]] = {}        # when and what each scribe said last

    def tapped(self, begin_ns: int, scribe: str = KEYS) -> tuple[str, str]:
        """Return the label of a tap, and of this scribe's mark before it that it stands for instead, or an empty text.

        What comes over the air may come in another order than it was tapped in.
        """
        said_ns, said = self._said.get(scribe, (0, ""))
        again = said in LADDER[:-1] and abs(begin_ns - said_ns) < AGAIN_NS
        home = LADDER[LADDER.index(said) + 1] if again else LADDER[0]
        self._said[scribe] = (begin_ns, home)
        return home, said if again else ""

    def forget(self, scribe: str = KEYS) -> None:
        """Let this scribe's next tap say home again."""
        self._said.pop(scribe, None)


class Scribe:
    """Notes marks in the journal of the match that runs."""

    def __init__(self) -> None:
        self._taps = HomeTaps()

    def mark(
        self, match: Match, now_ns: int, label: str, begin_ns: int, end_ns: int | None, source: str, error_ns: int = 0
    ) -> Outcome:
        """Note a mark from a key's down to its up, ``end_ns`` None for a key that reports no key up; ``source`` says
        whose key or board, ``error_ns`` how far its clock may be off."""
        takes_back: int | None = None
        if label == "home":
            label, instead = self._taps.tapped(begin_ns, scribe_of(source))
            takes_back = _newest(match, source, instead) if instead else None
        if takes_back is not None:
            match.take_back(now_ns, takes_back, source)
        held_ns = 0 if end_ns is None else end_ns - begin_ns
        is_span = held_ns >= SPAN_NS
        outcome = match.mark(
            now_ns, label, begin_ns, end_ns if is_span else None, source, pointlike=end_ns is None,
            error_ns=noted_error_ns(error_ns),
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
        """Withdraw the newest mark that holds of the scribe who asks for it."""
        place = _newest(match, source)
        if place is None:
            return Refused(nothing_to_take_back(marks_of(match.record.kept)))
        self._taps.forget(scribe_of(source))
        return Done(took_back(match.take_back(now_ns, place, source), match.timeline, match.record.kept), briefly=True)


def took_back(mark: records.MarkRecord, timeline: Timeline, run: Sequence[records.Record]) -> str:
    """Return what people read of a mark that was taken back: what it said, and when that was."""
    return tr("undone: {noted}", noted=noted_text(mark, timeline, ClockHistory(run)))


def nothing_to_take_back(marks: Sequence[records.MarkRecord]) -> str:
    """Return what people read who have no mark to take back, though others may have."""
    if standing_places(marks):
        return tr("you have no mark to take back; each takes back their own")
    return tr("there is no mark to take back")


def too_late(label: str) -> str:
    """Return what people read of a mark whose key went down once the run had ended, its journal with it."""
    return tr("{words} not noted, this run has ended: add it with `tocsin mark`", words=_words(label))


def _words(label: str) -> str:
    return label.replace("_", " ")


def _newest(match: Match, source: str, label: str = "") -> int | None:
    """Return the place among all marks of this scribe's newest that holds; with a label, of those of our own robot with
    that label."""
    marks = marks_of(match.record.kept)
    held = [
        place
        for place in places_of(marks, source)
        if not label or (marks[place].label, marks[place].by) == (label, "")
    ]
    return held[-1] if held else None
