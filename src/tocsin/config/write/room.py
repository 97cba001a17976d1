"""Compute how much time a game leaves for the answers to a first plan: the way home, and how early to break off."""

from typing import NamedTuple

from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.game import Game
from tocsin.model.plan import Plan
from tocsin.model.timeline.point import PeriodSlot, Point
from tocsin.model.timeline.timeline import Timeline
from tocsin.units import NS_PER_S, format_clock

KEEP_OFF = ("no_contact", "keep_off")
# Hearing the call, turning, and something in hand (an estimate from practice, no source).
RESERVE_NS = 4 * NS_PER_S


class Room(NamedTuple):
    """The window that a first plan calls ahead of, and how far ahead it may call.

    ``window`` is its id, with the number of its last span if it has several. ``ahead_ns`` is the time from the begin of
    the period ``before`` to the window: 0 if nobody can call ahead, since that time is unknown. The period ``last``
    lasts ``last_ns``, None if a person ends it; ``window_ns`` is the time from the window's begin to the end of
    ``last``, None if unknown.
    """

    window: str
    title: str
    keeps_off: bool
    before: str
    ahead_ns: int
    last: str
    last_ns: int | None
    window_ns: int | None

    def against_home(self, home_ns: int) -> str:
        """Return the objection to so long a way home, as text behind that time, or an empty text."""
        if home_ns <= 0:
            return "is no time to get home in"
        if self.last_ns is not None and home_ns + RESERVE_NS > self.last_ns:
            lasts, reserve = format_clock(self.last_ns), format_clock(RESERVE_NS)
            return f"is too long: '{self.last}' lasts {lasts}, and {reserve} of that go to noticing and turning"
        return ""

    def against_off(self, off_ns: int) -> str:
        """Return the objection to breaking off so early, as text behind that time, or an empty text."""
        if off_ns <= 0:
            return "is not ahead: the call would come with the rule"
        if 0 < self.ahead_ns < off_ns:
            return f"is too long: '{self.before}' has run for {format_clock(self.ahead_ns)} when '{self.title}' begins"
        return ""

    def calls_ahead(self, home_ns: int, off_ns: int) -> bool:
        """Return whether a call ahead of the window leaves enough of the match for the way home."""
        if not self.ahead_ns:
            return False
        return self.window_ns is None or self.window_ns + off_ns >= home_ns + RESERVE_NS

    def followed(self, home_ns: int, off_ns: int) -> str:
        """Return in sentences which of two answers sets the time of the call home, and which lead that is."""
        off, reserve = format_clock(off_ns), format_clock(RESERVE_NS)
        way = f"the way home of {format_clock(home_ns)}, with {reserve} to notice and turn,"
        if self.calls_ahead(home_ns, off_ns):
            called = f"Home is called {off} before '{self.title}' begins (the lead break_off)."
            if self.window_ns is None:
                return f"{called} How long it is from there to the end nobody knows, so the way home changes nothing."
            lasts = format_clock(self.window_ns)
            return (
                f"{called} {way.capitalize()} fits into the {lasts} from that begin to the end and the {off} before; "
                "as long as it does, it changes nothing."
            )
        called = f"Home is called {format_clock(home_ns + RESERVE_NS)} before the end (the lead home)"
        unused = f"The {off} to break off a push stand nowhere in the plan."
        if self.window_ns is None or not self.ahead_ns:
            return f"{called}: nobody knows ahead when '{self.title}' begins. {unused}"
        lasts = format_clock(self.window_ns)
        return (
            f"{called}. {way.capitalize()} does not fit into the {lasts} from the begin of '{self.title}' to the end "
            f"and the {off} before. {unused}"
        )


def room_in(game: Game) -> Room | None:
    """Return the room in a game without mistakes; None if it has no window."""
    timeline, _ = compile_plan(game, Plan(name="", game=""))
    if timeline is None or not timeline.windows:
        return None
    of_id = next((one for one in timeline.windows if one.id in KEEP_OFF), timeline.windows[-1]).id
    span = [one for one in timeline.windows if one.id == of_id][-1]
    end = timeline.match_end()
    last = next((slot for slot in timeline.periods if _ends(slot, end)), None)
    before = _before(timeline, span.begin)
    return Room(
        window=f"{span.id}.{span.n}" if span.n > 1 else span.id,
        title=span.title,
        keeps_off=span.id in KEEP_OFF,
        before=before.title if before else "",
        ahead_ns=span.begin.offset_ns - before.begin_ns if before else 0,
        last=last.title if last else "",
        last_ns=end.offset_ns - last.begin_ns if last else None,
        window_ns=end.offset_ns - span.begin.offset_ns if span.begin.anchor == end.anchor else None,
    )


def _ends(slot: PeriodSlot, end: Point) -> bool:
    return (slot.anchor, slot.end_ns) == (end.anchor, end.offset_ns)


def _before(timeline: Timeline, begin: Point) -> PeriodSlot | None:
    """Return the period in which, or at whose end, a window begins, if that is known ahead."""
    slots = [slot for slot in timeline.periods if slot.anchor == begin.anchor and slot.begin_ns < begin.offset_ns]
    return slots[-1] if slots else None
