"""Compute how much time a game leaves for the answers to a first plan: the way home, and how early to break off."""

from typing import NamedTuple

from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.game import Game
from tocsin.model.plan import Plan
from tocsin.model.timeline.point import PeriodSlot, Point, WindowSpan
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_S, format_clock

KEEP_OFF = ("no_contact", "no_touch", "keep_off")
BREAK_OFF, HOME = "break_off", "home"          # the ids of the two leads
# Hearing the call, turning, and something in hand (an estimate from practice, no source).
RESERVE_NS = 4 * NS_PER_S
# A call for home ahead of a longer window would send everybody home in the midst of play (an estimate, no source).
LONGEST_ENDGAME_NS = 30 * NS_PER_S


class SpanRoom(NamedTuple):
    """A span of a window: its name in moments, its begin and end, and whether a period begins with it."""

    name: str
    begin: Point
    end: Point
    with_period: bool


class Room(NamedTuple):
    """The window that a first plan calls ahead of, and how far ahead it may call.

    ``window`` is its id, with the number of its last span if it has several, empty where the game has none.
    ``ahead_ns`` is the time from the begin of the period ``before`` to the window: 0 if nobody can call ahead, since
    that time is unknown. The period ``last`` lasts ``last_ns``, None if a person ends it; ``window_ns`` is the time
    from the window's begin to the end of ``last``, None if unknown. ``ends_early``: the window is over before the
    match. ``spans`` are all its spans, in order; ``end`` is where the match ends.
    """

    window: str
    title: str
    keeps_off: bool
    before: str
    ahead_ns: int
    last: str
    last_ns: int | None
    window_ns: int | None
    ends_early: bool = False
    spans: tuple[SpanRoom, ...] = ()
    end: Point | None = None

    def against_home(self, home_ns: int) -> str:
        """Return the objection to so long a way home, as text behind that time, or an empty text."""
        if home_ns <= 0:
            return tr("cannot be the way home")
        if self.last_ns is not None and home_ns + RESERVE_NS > self.last_ns:
            lasts, reserve = format_clock(self.last_ns), format_clock(RESERVE_NS)
            return tr(
                "is too long: '{last}' lasts {lasts}; noticing and turning take {reserve} of it", last=self.last,
                lasts=lasts, reserve=reserve,
            )
        return ""

    def against_off(self, off_ns: int) -> str:
        """Return the objection to breaking off so early, as text behind that time, or an empty text."""
        if off_ns <= 0:
            return tr("is too late: the call would come with the rule")
        if 0 < self.ahead_ns < off_ns:
            return tr(
                "is too long: '{before}' has run for {ahead} when '{title}' begins", before=self.before,
                ahead=format_clock(self.ahead_ns), title=self.title,
            )
        return ""

    def calls_ahead(self, home_ns: int, off_ns: int) -> bool:
        """Return whether home is called ahead of the window: it lasts to the end, and that leaves enough time for the
        way home."""
        if not self.is_endgame:
            return False
        return self.window_ns is None or self.window_ns + off_ns >= home_ns + RESERVE_NS

    @property
    def is_endgame(self) -> bool:
        """Whether the window is the last part of the match, and its begin known ahead."""
        is_short = self.window_ns is None or self.window_ns <= LONGEST_ENDGAME_NS
        return self.ahead_ns > 0 and is_short and not self.ends_early

    def called_off(self, home_ns: int, off_ns: int) -> tuple[SpanRoom, ...]:
        """Return the spans ahead of which a call to break off is needed, since none for home comes then."""
        home_at_ns = self._home_at_ns(home_ns, off_ns)

        def is_needed(span: SpanRoom) -> bool:
            before = self.end is None or span.begin.anchor != self.end.anchor
            before = before or home_at_ns is None or span.begin.offset_ns < home_at_ns
            return before and not span.with_period and off_ns <= span.begin.offset_ns

        spans = self.spans[:-1] if self.calls_ahead(home_ns, off_ns) else self.spans
        return tuple(filter(is_needed, spans)) if self.keeps_off else ()

    def after_home(self, home_ns: int, off_ns: int) -> SpanRoom | None:
        """Return the first span that begins behind the call home, None if none does."""
        at_ns = self._home_at_ns(home_ns, off_ns)
        if at_ns is None or self.end is None:
            return None
        anchor = self.end.anchor
        behind = (span for span in self.spans if span.begin.anchor == anchor and span.begin.offset_ns > at_ns)
        return next(behind, None)

    def _home_at_ns(self, home_ns: int, off_ns: int) -> int | None:
        """Return when home is called, on the clock of the match's end; None if that is not known."""
        if self.end is None:
            return None
        if not self.calls_ahead(home_ns, off_ns):
            return self.end.offset_ns - home_ns - RESERVE_NS
        return self.spans[-1].begin.offset_ns - off_ns if self.window_ns is not None and self.spans else None

    def followed(self, home_ns: int, off_ns: int) -> str:
        """Return in sentences which of two answers sets the time of the call home, and which lead that is."""
        off, reserve = format_clock(off_ns), format_clock(RESERVE_NS)
        way = tr(
            "the way home of {home}, with {reserve} to notice and turn,", home=format_clock(home_ns), reserve=reserve,
        )
        if self.calls_ahead(home_ns, off_ns):
            last = tr(" the last time") if len(self.spans) > 1 else ""
            called = tr(
                "Home is called {off} before '{title}' begins{last} (the lead break_off).", off=off, title=self.title,
                last=last,
            )
            if self.called_off(home_ns, off_ns):
                called += tr(" Back off comes this long before the other times.")
            if self.window_ns is None:
                return tr(
                    "{called} Nobody knows how long it is from there to the end: the way home is not used.",
                    called=called,
                )
            left = format_clock(self.window_ns + off_ns)
            return tr(
                "{called} From that call to the end {left} are left: enough for {way}.", called=called, left=left,
                way=way.removesuffix(","),
            )
        called = tr("Home is called {home} before the end (the lead home)", home=format_clock(home_ns + RESERVE_NS))
        if not self.window:
            return f"{called}."
        if self.called_off(home_ns, off_ns):
            return tr(
                "{called}. Back off is called {off} before '{title}' begins (the lead break_off).", called=called,
                off=off, title=self.title,
            )
        unused = tr("No call uses the {off} to break off a push (the lead break_off).", off=off)
        if self.window_ns is None or not self.ahead_ns:
            return tr(
                "{called}: nobody knows yet when '{title}' begins. {unused}", called=called, title=self.title,
                unused=unused,
            )
        lasts = format_clock(self.window_ns)
        return tr(
            "{called}. {way} takes longer than the {lasts} from '{title}' to the end plus the {off} before. {unused}",
            called=called, way=way.capitalize(), lasts=lasts, title=self.title, off=off,
            unused=unused,
        )


def room_in(game: Game) -> Room:
    """Return the room in a game without mistakes."""
    timeline, _ = compile_plan(game, Plan(name="", game=""))
    assert timeline is not None                            # else the game has mistakes
    end = timeline.match_end()
    last = next((slot for slot in timeline.periods if _ends(slot, end)), None)
    of_id = next((one.id for one in timeline.windows if one.id in KEEP_OFF), "")
    of_id = of_id or (timeline.windows[-1].id if timeline.windows else "")
    spans = [one for one in timeline.windows if one.id == of_id]
    span = spans[-1] if spans else None
    before = _before(timeline, span.begin) if span else None
    return Room(
        window="" if span is None else f"{span.id}.{span.n}" if span.n > 1 else span.id,
        title=span.title if span else "",
        keeps_off=of_id in KEEP_OFF,
        before=before.title if before else "",
        ahead_ns=span.begin.offset_ns - before.begin_ns if before and span else 0,
        last=last.title if last else "",
        last_ns=end.offset_ns - last.begin_ns if last else None,
        window_ns=end.offset_ns - span.begin.offset_ns if span and span.begin.anchor == end.anchor else None,
        ends_early=span is not None and span.end.anchor == end.anchor and span.end.offset_ns < end.offset_ns,
        spans=tuple(_room_of(one, len(spans), timeline) for one in spans),
        end=end,
    )


def _room_of(span: WindowSpan, count: int, timeline: Timeline) -> SpanRoom:
    begins = {(slot.anchor, slot.begin_ns) for slot in timeline.periods}
    name = f"{span.id}.{span.n}" if count > 1 else span.id
    return SpanRoom(name, span.begin, span.end, (span.begin.anchor, span.begin.offset_ns) in begins)


def _ends(slot: PeriodSlot, end: Point) -> bool:
    return (slot.anchor, slot.end_ns) == (end.anchor, end.offset_ns)


def _before(timeline: Timeline, begin: Point) -> PeriodSlot | None:
    """Return the period in which, or at whose end, a window begins, if that is known ahead."""
    slots = [slot for slot in timeline.periods if slot.anchor == begin.anchor and slot.begin_ns < begin.offset_ns]
    return slots[-1] if slots else None
