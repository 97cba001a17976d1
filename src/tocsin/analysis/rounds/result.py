"""Judge one round of a drill: clean or not and why, how early or late, its points, and whether it counts.

Times are real nanoseconds on the shared clock, as they were noted; a person notes them 0.3 to 0.8 s late (common
practice, no source).
"""

from collections.abc import Collection, Iterable, Sequence
from typing import Literal

import msgspec

from tocsin.analysis.rounds import bounds
from tocsin.analysis.rounds.bounds import TimeBounds
from tocsin.analysis.rounds.overlaps import (
    SCRIBE_ERROR_NS,
    Meeting,
    Tap,
    WindowTime,
    end_of,
    meeting,
    passes_ns,
    stretches,
    together_ns,
    window_times,
)
from tocsin.analysis.rounds.rule import NO_RULE, Facts, Part, verdict
from tocsin.analysis.rounds.scribes import Differences, differences
from tocsin.analysis.rounds.stakes import HALF, HOME, NOT_HOME, Points, points, robot, settled
from tocsin.model.clock.origins import Origin
from tocsin.model.counted import counted_marks
from tocsin.model.drill import Clean
from tocsin.model.game import Game
from tocsin.model.mark import CONTACT, STATES, Mark
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr

TURNED = "turned"
# How it is known when the call home came: it reached people by a device, somebody marked it, or the plan says so.
CallKind = Literal["landed", "marked", "planned"]
# A clock that may be off by more tells nothing about edges that people mark to within about as much.
MOST_ERROR_MS = 700


class PlayedRound(msgspec.Struct, frozen=True, kw_only=True):
    """The facts of a round that is over.

    ``marks`` are all marks of the run, withdrawn ones too. ``ended_ns`` is the run's end, ``error_ms`` the ± of its
    clock (None: the match began by itself, with no official start to miss), ``home_call_ns`` when the call home landed,
    ``call`` how that is known. ``half_speed``: the robot drove at half speed. ``disturbed``: the laptop slept, or the
    run was cut short. ``held``: somebody held the clock. ``watched``: a scribe was there to note contacts.
    """

    marks: tuple[Mark, ...]
    origins: tuple[Origin, ...]
    ended_ns: int
    error_ms: int | None = None
    home_call_ns: int | None = None
    call: CallKind = "landed"
    half_speed: bool = False
    disturbed: bool = False
    held: bool = False
    watched: bool = True


class RoundResult(msgspec.Struct, frozen=True, kw_only=True):
    """The result of a round.

    ``clean`` None means not judged; ``why`` holds the reasons if it is not True, as parts of sentences, ``part`` the
    first part of the rule that decided so.
    ``break_off_margin_ns`` is a window's begin minus the end of the last own contact that had begun before it: below 0
    the contact lasted into the window; the least over several windows. ``turn_ns`` is the time from the call home until
    our robot turned, ``travel_ns`` from then until it was home (or half home). ``home`` is its state at the end (home,
    home_half, home_none, or empty), ``home_margin_ns`` how long before the end of the match it came home (or half
    home). None is unknown. ``contacts`` counts own contacts inside the windows of the rule, ``overlap_ns`` is how long
    they lasted there; ``keeps_off``: the rule has such windows. ``call`` is how the call home's time is known, None if
    there was none; ``bounds`` are what is known of times that nobody noted exactly.

    ``counted`` rounds may be compared with each other; ``uncounted`` says why a round is not. ``unclear`` are marks too
    near an edge of a window to tell; they count neither way. ``open_marks`` are marks whose end nobody noted.
    ``differences`` are those between scribes.
    """

    clean: bool | None
    why: tuple[str, ...]
    part: Part | None = None
    break_off_margin_ns: int | None
    turn_ns: int | None
    travel_ns: int | None
    home: str
    home_margin_ns: int | None
    contacts: int
    overlap_ns: int
    points: Points
    error_ms: int | None
    counted: bool
    uncounted: tuple[str, ...]
    unclear: tuple[Meeting, ...]
    open_marks: tuple[Mark, ...]
    call: CallKind | None = None
    bounds: TimeBounds = TimeBounds()
    keeps_off: bool = True
    differences: Differences = Differences()

    @property
    def known_margin_ns(self) -> int | None:
        """The break-off margin, None where nobody noted the end of a push: then it says only when the run ended."""
        return None if any(mark.label == CONTACT for mark in self.open_marks) else self.break_off_margin_ns


class _Home(msgspec.Struct, frozen=True, kw_only=True):
    state: str = ""
    since_ns: int | None = None
    margin_ns: int | None = None
    error_ns: int = 0


def round_result(
    game: Game,
    timeline: Timeline,
    played: PlayedRound,
    rule: Clean,
    *,
    counting: Collection[str] = (),
    half_home: bool = False,
    silent: str = NO_RULE,
    error_ns: int = SCRIBE_ERROR_NS,
) -> RoundResult:
    """Return the result of a round, judged by a rule for what is clean.

    ``counting`` holds the labels of the marks that count; empty means all. Home, half and none count together; half
    home is enough for home only if ``home_half`` is among them, or with ``half_home``. ``silent`` is said where
    the rule asks for nothing. ``error_ns`` is the error of marks that carry none.
    """
    times = window_times(timeline, played.origins)
    noted = counting_marks(played.marks, counting)
    marks = _bounded(noted, played.ended_ns)
    contacts = [mark for mark in marks if mark.label == CONTACT and mark.is_ours]
    kept_off = [time for time in times if time.id in rule.keep_off and time.begin_ns < played.ended_ns]
    met = [meeting(mark, kept_off, ended_ns=played.ended_ns, error_ns=error_ns) for mark in contacts if kept_off]
    inside = [mark for mark, found in zip(contacts, met, strict=False) if found.where == "inside"]
    home = _home(timeline, played, marks, error_ns)
    facts = _facts(timeline, played, rule, marks, met, kept_off, home, error_ns)
    if half_home or HALF in counting:
        facts = msgspec.structs.replace(facts, half_counts=True)
    ruled = verdict(rule, facts, watched=played.watched, silent=silent)
    came_to = points(game, marks, times, ended_ns=played.ended_ns, error_ns=error_ns)
    ruled_out = tuple(uncounted(timeline, played))
    return RoundResult(
        clean=ruled.clean,
        why=ruled.why,
        part=ruled.part,
        break_off_margin_ns=_break_off_margin_ns(contacts, kept_off, played.ended_ns),
        turn_ns=facts.turn_ns,
        travel_ns=_travel_ns(home, played.home_call_ns, facts.turn_ns),
        home=facts.home,
        home_margin_ns=facts.home_margin_ns,
        contacts=len(inside),
        overlap_ns=together_ns(inside, kept_off, ended_ns=played.ended_ns),
        points=came_to,
        error_ms=played.error_ms,
        counted=not ruled_out,
        uncounted=ruled_out,
        unclear=_unclear(met, came_to),
        open_marks=tuple(mark for mark in noted if mark.open),
        call=None if played.home_call_ns is None else played.call,
        bounds=_time_bounds(timeline, played, rule, home, contacts, kept_off, facts.turn_ns),
        keeps_off=bool(rule.keep_off),
        differences=differences(played.marks, counting),
    )


def _facts(
    timeline: Timeline,
    played: PlayedRound,
    rule: Clean,
    marks: Sequence[Mark],
    met: Sequence[Meeting],
    kept_off: Sequence[WindowTime],
    home: _Home,
    error_ns: int,
) -> Facts:
    began = {time.id for time in kept_off}
    return Facts(
        met=met,
        kept_off=kept_off,
        title=_titles(timeline, [name for name in rule.keep_off if name in began]),
        never_began=_titles(timeline, [name for name in rule.keep_off if name not in began]),
        ended_ns=played.ended_ns,
        home=home.state,
        half_counts=False,
        home_margin_ns=home.margin_ns,
        home_error_ns=home.error_ns,
        called=played.home_call_ns is not None,
        turn_ns=_turn_ns(marks, played.home_call_ns, error_ns),
        noted=[mark.label for mark in marks if mark.is_ours],
    )


def _time_bounds(
    timeline: Timeline,
    played: PlayedRound,
    rule: Clean,
    home: _Home,
    contacts: Sequence[Mark],
    kept_off: Sequence[WindowTime],
    turn_ns: int | None,
) -> TimeBounds:
    before = bounds.margin(contacts, stretches(kept_off), played.ended_ns)
    call_ns = played.home_call_ns
    if call_ns is None:
        return TimeBounds(margin=before)
    off = bounds.break_off(contacts, call_ns, played.ended_ns)
    home_ns = None if home.since_ns is None else home.since_ns - call_ns
    end_ns = passes_ns(timeline, played.origins, timeline.match_end())
    looked_out = played.watched and (rule.turned_own or rule.turned_ns is not None)
    return TimeBounds(
        break_off=off,
        push_at_call=off is not None if off is not None or played.watched else None,
        margin=before,
        turn=bounds.turn(turn_ns, home_ns, played.ended_ns - call_ns if looked_out else None),
        way=bounds.way(
            turn_ns, home_ns, None if end_ns is None else end_ns - call_ns, missed=home.state == NOT_HOME
        ),
    )  # fmt: skip


def counting_marks(marks: Sequence[Mark], labels: Collection[str]) -> tuple[Mark, ...]:
    """Return the marks that hold and count."""
    wanted = set(labels) | (set(STATES) if set(STATES) & set(labels) else set())
    return tuple(mark for mark in counted_marks(marks) if not wanted or mark.label in wanted)


def _bounded(marks: Sequence[Mark], ended_ns: int) -> tuple[Mark, ...]:
    """Return the marks, and of each contact whose end no key told when it was over at the latest: as the same robot
    turned or was home, else at the run's end."""
    return tuple(
        _tap(mark, marks, ended_ns) if mark.label == CONTACT and (mark.pointlike or _is_open(mark)) else mark
        for mark in marks
    )


def _is_open(mark: Mark) -> bool:
    return mark.open and mark.end_ns is None


def _tap(contact: Mark, marks: Sequence[Mark], ended_ns: int) -> Tap:
    gone = [
        mark.begin_ns
        for mark in marks
        if mark.label in (TURNED, HOME, HALF) and robot(mark) == robot(contact) and mark.begin_ns >= contact.begin_ns
    ]
    over_ns = min(gone, default=max(ended_ns, contact.begin_ns))
    known = {name: getattr(contact, name) for name in Mark.__struct_fields__}
    return Tap(over_ns=over_ns, is_over=bool(gone), **known)


def _home(timeline: Timeline, played: PlayedRound, marks: Sequence[Mark], error_ns: int) -> _Home:
    """Return our robot's state at the end, and how long before the end of the match it came to be."""
    states = [mark for mark in settled(marks, played.ended_ns) if mark.label in STATES and robot(mark) == "us"]
    if not states:
        return _Home()
    state = states[0]
    end_ns = passes_ns(timeline, played.origins, timeline.match_end())
    margin_ns = None if end_ns is None or state.label == NOT_HOME else end_ns - state.begin_ns
    since_ns = None if state.label == NOT_HOME else state.begin_ns
    return _Home(
        state=state.label, since_ns=since_ns, margin_ns=margin_ns, error_ns=_error_ns(state, error_ns)
    )


def _titles(timeline: Timeline, windows: Iterable[str]) -> str:
    known = {span.id: span.title for span in timeline.windows}
    return " and ".join(known.get(name, name) for name in dict.fromkeys(windows))


def _turn_ns(marks: Iterable[Mark], call_ns: int | None, error_ns: int) -> int | None:
    """Return how long after the call our robot first turned. What lies further before it than a mark may be off was no
    answer to it."""
    if call_ns is None:
        return None
    turned = [mark for mark in marks if mark.label == TURNED and mark.is_ours]
    answers = [mark.begin_ns for mark in turned if mark.begin_ns >= call_ns - _error_ns(mark, error_ns)]
    return min(answers) - call_ns if answers else None


def _travel_ns(home: _Home, call_ns: int | None, turn_ns: int | None) -> int | None:
    """Return how long the way home took from the turn on; None where either is unknown, or home came first."""
    if home.since_ns is None or call_ns is None or turn_ns is None:
        return None
    travel_ns = home.since_ns - (call_ns + turn_ns)
    return travel_ns if travel_ns >= 0 else None


def _break_off_margin_ns(contacts: Sequence[Mark], kept_off: Sequence[WindowTime], ended_ns: int) -> int | None:
    margins_ns = []
    for window in stretches(kept_off):
        before = [mark for mark in contacts if mark.begin_ns < window.begin_ns]
        if before and not any(mark.pointlike for mark in before):          # else nobody knows when the last one ended
            margins_ns.append(window.begin_ns - max(end_of(mark, ended_ns) for mark in before))
    return min(margins_ns, default=None)


def uncounted(timeline: Timeline, played: PlayedRound) -> Iterable[str]:
    """Yield the reasons why a round does not count, as parts of a sentence."""
    anchors = {segment.anchor for segment in timeline.segments}
    rates = {origin.rate for origin in played.origins if origin.anchor in anchors}
    if not rates:
        yield tr("the clock was never started")
    if played.error_ms is not None and played.error_ms > MOST_ERROR_MS:
        yield tr("the clock may be off by {error:g} s", error=played.error_ms / 1000)
    if played.half_speed:
        yield tr("driven at half speed")
    for rate in sorted(rates - {1.0}):
        yield tr("the clock ran at {rate:g} times its speed", rate=rate)
    if played.disturbed:
        yield tr("the laptop slept, or the run was cut short")
    if played.held:
        yield tr("the clock was held")


def _unclear(met: Iterable[Meeting], came_to: Points) -> tuple[Meeting, ...]:
    """Return the unclear marks, each once: as they lie to the windows of the rule, else of a stake."""
    found: dict[tuple[str, int, str], Meeting] = {}
    in_rule = [one for one in met if one.where == "unclear"]
    for one in (*in_rule, *(one for due in came_to.dues for one in due.unclear)):
        found.setdefault((one.mark.label, one.mark.begin_ns, one.mark.by), one)
    return tuple(found.values())


def _error_ns(mark: Mark, error_ns: int) -> int:
    return error_ns if mark.error_ns is None else mark.error_ns
