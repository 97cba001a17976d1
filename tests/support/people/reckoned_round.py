"""What a round of the bundled Casting Day comes to, worked out anew from when people pressed: nothing of Tocsin's.

Casting Day, in seconds of the match: the match ends at 136 and everything at 140; the belfry counts from 111 to 136,
and a contact costs from 118 to 140. 9 points for each contact in that time and 14 once for two of them go to the
opponents, a robot that is home while the belfry counts has 18, one that is half home 7: so says the game's file.

The rules that are reckoned here are those that a person would read: a time that a person noted may be off by 0.8 s
either way; what is so wherever it lay is so, the rest is unclear; drills say what makes a round clean. On the bench
there are neither windows nor points: no mark that counts there is of a kind that they ask for.
"""

from collections.abc import Iterator
from typing import Any, NamedTuple

from tests.support.people.evening import Press

S = 1_000_000_000
OFF_NS = 800_000_000                   # how far a noted time may be off
SPAN_NS = 300_000_000                  # a key that was held for less says when, not how long
AGAIN_NS = 1_500_000_000               # a second tap within that: half home; a third: not home
LADDER = ("home", "home_half", "home_none")
WORTH = {"home": 18, "home_half": 7, "home_none": 0}
MATCH_END_S = 136
OFF_LIMITS_S, BELFRY_S = (118, 140), (111, MATCH_END_S)


class Noted(NamedTuple):
    """A mark as the scribe's keys say it: from ``begin_ns`` to ``end_ns``, equal for an instant."""

    label: str
    begin_ns: int
    end_ns: int
    is_open: bool = False


class Rule(NamedTuple):
    """What makes a round clean, times in real nanoseconds; None: the rule does not ask for it, or (``turned_ns``) the
    crew has set itself no limit yet. ``half_counts``: half home is home enough. ``never`` are labels."""

    turned_ns: int | None
    home_ns: int | None
    keep_off: bool = True
    half_counts: bool = False
    never: tuple[str, ...] = ()


class Reckoned(NamedTuple):
    """A round's result; times in real nanoseconds."""

    clean: bool | None
    break_off_margin_ns: int | None
    turn_ns: int | None
    travel_ns: int | None
    home: str
    home_margin_ns: int | None
    contacts: int
    overlap_ns: int
    cost: int
    gain: int
    cost_at_most: int
    gain_at_most: int
    unclear: frozenset[tuple[str, int]]        # label and begin: two keys may be heard in one turn of a worker
    open_marks: int


def noted(presses: list[Press], ended_ns: int) -> list[Noted]:
    """Return what hands said with the mark buttons, undo and second taps worked in."""
    stack: list[Noted] = []
    home_ns, state = -AGAIN_NS, ""
    for press in sorted(presses, key=lambda press: _counts_ns(press, ended_ns)):
        if press.action == "undo":
            stack.pop()
            state = ""
        elif press.action == "mark.home":
            again = state in LADDER[:-1] and press.begin_ns - home_ns < AGAIN_NS
            if again:
                stack.reverse()
                stack.remove(next(mark for mark in stack if mark.label == state))
                stack.reverse()
            state = LADDER[LADDER.index(state) + 1] if again else LADDER[0]
            stack.append(Noted(state, press.begin_ns, press.begin_ns))
            home_ns = press.begin_ns
        elif press.action.startswith("mark."):
            label = press.action.removeprefix("mark.")
            if press.end_ns is None:
                stack.append(Noted(label, press.begin_ns, ended_ns, is_open=True))
            else:
                held = press.end_ns - press.begin_ns >= SPAN_NS
                stack.append(Noted(label, press.begin_ns, press.end_ns if held else press.begin_ns))
    return sorted(stack, key=lambda mark: mark.begin_ns)


def _counts_ns(press: Press, ended_ns: int) -> int:
    """Return when a press says what it says: a mark once its key comes up, or the run ends."""
    if not press.action.startswith("mark."):
        return press.begin_ns
    return ended_ns if press.end_ns is None else press.end_ns


class Clock(NamedTuple):
    """The match clock: its zero in real nanoseconds, and match seconds in a real one."""

    origin_ns: int
    rate: int

    def real_ns(self, seconds: float) -> int:
        """Return when a match second falls."""
        return self.origin_ns + round(seconds * S / self.rate)


def reckon(marks: list[Noted], clock: Clock, call_ns: int, ended_ns: int, rule: Rule) -> Reckoned:
    """Return what the marks of a round come to. The round ran on until everything had ended."""
    off_limits = clock.real_ns(OFF_LIMITS_S[0]), clock.real_ns(OFF_LIMITS_S[1])
    belfry = clock.real_ns(BELFRY_S[0]), clock.real_ns(BELFRY_S[1])
    contacts = [mark for mark in marks if mark.label == "contact"]
    over_ns = {mark: _over_ns(mark, marks) for mark in contacts}
    where = {mark: _where(mark._replace(end_ns=over_ns[mark]), off_limits) for mark in contacts}
    inside = [mark for mark in contacts if where[mark] == "inside"]
    doubtful = [mark for mark in contacts if where[mark] == "unclear"]
    state = _state(marks)
    at_belfry = _where(state._replace(end_ns=ended_ns), belfry) if state and WORTH[state.label] else "outside"
    worth = WORTH[state.label] if state else 0
    turns_ns = [m.begin_ns - call_ns for m in marks if m.label == "turned" and m.begin_ns >= call_ns - OFF_NS]
    turn_ns = min(turns_ns, default=None)
    came_ns = state.begin_ns if state and state.label != "home_none" else None
    home_margin_ns = belfry[1] - came_ns if came_ns is not None else None
    before = [mark.end_ns for mark in contacts if mark.begin_ns < off_limits[0]]
    sure, most = len(inside), len(inside) + len(doubtful)
    parts = [*_parts(rule, marks, state, home_margin_ns, turn_ns)]
    if rule.keep_off:
        parts.append(False if inside else None if doubtful else True)
    return Reckoned(
        clean=False if False in parts else None if None in parts or not parts else True,
        break_off_margin_ns=off_limits[0] - max(before) if before else None,
        turn_ns=turn_ns,
        travel_ns=_from_to_ns(turn_ns, None if came_ns is None else came_ns - call_ns),
        home=state.label if state else "",
        home_margin_ns=home_margin_ns,
        contacts=sure,
        overlap_ns=sum(max(0, min(over_ns[m], off_limits[1]) - max(m.begin_ns, off_limits[0])) for m in inside),
        cost=9 * sure + 14 * (sure >= 2),
        gain=worth * (at_belfry == "inside"),
        cost_at_most=9 * most + 14 * (most >= 2),
        gain_at_most=worth * (at_belfry != "outside"),
        unclear=frozenset((m.label, m.begin_ns) for m in [*doubtful, *([state] if at_belfry == "unclear" else [])]),
        open_marks=sum(mark.is_open for mark in marks),
    )


def _over_ns(mark: Noted, marks: list[Noted]) -> int:
    """Return when a push was over: where no key told, as the robot turned or was home, else at the end of the run."""
    gone = [m.begin_ns for m in marks if m.label in ("turned", "home", "home_half") and m.begin_ns >= mark.begin_ns]
    return min(gone, default=mark.end_ns) if mark.is_open else mark.end_ns


def _state(marks: list[Noted]) -> Noted | None:
    """Return how far home the robot was in the end, from the first mark on that has said so since another one."""
    states = [mark for mark in marks if mark.label in WORTH]
    last = None
    for mark in states:
        last = last if last and last.label == mark.label else mark
    return last


def _parts(
    rule: Rule, marks: list[Noted], state: Noted | None, home_margin_ns: int | None, turn_ns: int | None
) -> Iterator[bool | None]:
    """Yield whether each part of a rule was kept beside that of contacts; None: nobody knows."""
    if rule.home_ns is not None:
        if state is None:
            yield None
        elif home_margin_ns is None or (state.label == "home_half" and not rule.half_counts):
            yield False
        elif not rule.home_ns and abs(home_margin_ns) <= OFF_NS:
            yield None                                     # the end of the match is an edge of the game
        else:
            yield home_margin_ns >= rule.home_ns
    if rule.turned_ns is not None:
        yield None if turn_ns is None else turn_ns <= rule.turned_ns
    if rule.never:
        yield not any(mark.label in rule.never for mark in marks)


def own_limit_ns(turns_ns: list[int]) -> int | None:
    """Return the limit that a crew sets itself: the fourth of its first five turns, up to a whole tenth of a second;
    None while five are not there."""
    return -(-sorted(turns_ns[:5])[3] // (S // 10)) * (S // 10) if len(turns_ns) >= 5 else None


def _from_to_ns(turned_ns: int | None, home_ns: int | None) -> int | None:
    """Return how long the way home took, both ends counted from the call."""
    return None if turned_ns is None or home_ns is None or home_ns < turned_ns else home_ns - turned_ns


def _where(mark: Noted, window: tuple[int, int]) -> str:
    """Return how a mark lies to a window wherever within the error its times truly were."""
    earliest, latest = mark.begin_ns - OFF_NS, mark.begin_ns + OFF_NS
    if mark.begin_ns == mark.end_ns or mark.is_open:
        if window[0] <= earliest and latest < window[1]:
            return "inside"
        was_over = mark.end_ns + OFF_NS <= window[0] if mark.is_open else latest < window[0]
        return "outside" if was_over or earliest >= window[1] else "unclear"
    if latest < window[1] and mark.end_ns - OFF_NS > window[0]:
        return "inside"
    return "outside" if mark.end_ns + OFF_NS <= window[0] or earliest >= window[1] else "unclear"


def told(result: Any) -> Reckoned:
    """Return Tocsin's own result in these terms."""
    return Reckoned(
        clean=result.clean, break_off_margin_ns=result.break_off_margin_ns, turn_ns=result.turn_ns,
        travel_ns=result.travel_ns, home=result.home, home_margin_ns=result.home_margin_ns,
        contacts=result.contacts, overlap_ns=result.overlap_ns, cost=result.points.cost, gain=result.points.gain,
        cost_at_most=result.points.cost_at_most,
        gain_at_most=result.points.gain_at_most,
        unclear=frozenset((meeting.mark.label, meeting.mark.begin_ns) for meeting in result.unclear),
        open_marks=len(result.open_marks),
    )  # fmt: skip


_TIMES = ("break_off_margin_ns", "turn_ns", "travel_ns", "home_margin_ns", "overlap_ns")


def apart(found: Reckoned, reckoned: list[Reckoned], slack_ns: int) -> list[str]:
    """Return in what a result differs from all of several reckonings, of times at which hands may have done what they
    did; a time may lie between them, or off by ``slack_ns``, by which each key is known."""
    wrong = []
    for name in Reckoned._fields:
        value, known = getattr(found, name), [getattr(one, name) for one in reckoned]
        if name == "unclear":                              # their begins differ as all times do
            value, known = len(value), [len(one) for one in known]
        times = [one for one in known if one is not None] if name in _TIMES and value is not None else []
        is_between = bool(times) and min(times) - slack_ns <= value <= max(times) + slack_ns
        if value not in known and not is_between:
            wrong.append(f"{name} is {value}, reckoned {' or '.join(map(str, dict.fromkeys(known)))}")
    return wrong
