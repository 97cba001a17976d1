"""A round's result as a picture: which edge it was about, what happened around it, the verdict in a word and a number.

The edge is the begin of the window that the rule guards, if the round began before it; else the call home, if the robot
was to turn at it; else the end of the match, if the robot was to be home by then.
"""

from collections.abc import Callable, Collection, Iterator, Sequence

import msgspec

from tocsin.analysis.rounds.overlaps import WindowTime, end_of, passes_ns, stretches, window_times
from tocsin.analysis.rounds.result import PlayedRound, RoundResult, counting_marks
from tocsin.analysis.rounds.rule import Part, seconds
from tocsin.analysis.rounds.stakes import HALF, NOT_HOME
from tocsin.analysis.rounds.text import shape_of
from tocsin.model.display.round_picture import CALL_EDGE, END_EDGE, Dot, Happening, Instant, RoundPicture, Span
from tocsin.model.drill import Clean
from tocsin.model.mark import CONTACT
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr, trn
from tocsin.units import NS_PER_S

# What did not go as the drill asks, by the part of its rule.
_BROKEN: dict[Part, str] = {"contact": tr("touched"), "home": tr("home late"), "turned": tr("turned late")}
# What happens at an edge.
_INSTANTS: dict[str, Happening] = {CALL_EDGE: "call", END_EDGE: "end"}
_VIDEO = tr("see the video")
_NEAR_NS = 60 * NS_PER_S               # further from the edge nothing is of interest


def round_picture(
    timeline: Timeline, played: PlayedRound, rule: Clean, result: RoundResult, *, counting: Collection[str] = ()
) -> RoundPicture:
    """Return the picture of a round; ``series`` holds this round alone."""
    times = [time for time in window_times(timeline, played.origins) if time.id in rule.keep_off]
    end_ns = passes_ns(timeline, played.origins, timeline.match_end())
    edge, edge_ns = _edge(times, played, rule, end_ns)
    word, number = _said(result, edge, rule.home_ns or 0)
    reason = next((why for why in result.why if why != number), "")
    if result.uncounted:
        word, reason = tr("not counted"), result.uncounted[0]
    picture = RoundPicture(
        shape=shape_of(result), word=word, number=number, reason=reason, edge=edge,
        series=(Dot(at_s=_dot_s(result, edge), shape=shape_of(result)),),
    )  # fmt: skip
    if edge_ns is None:
        return picture

    def at_s(ns: int) -> float:
        return (ns - edge_ns) / NS_PER_S

    pushes = [
        Span(begin_s=at_s(mark.begin_ns), end_s=None if mark.open else at_s(end_of(mark, played.ended_ns)))
        for mark in counting_marks(played.marks, counting)
        if mark.label == CONTACT and mark.is_ours and abs(mark.begin_ns - edge_ns) < _NEAR_NS
    ]
    # A window is drawn where its begin is what counts: else it would fill the bar, and say nothing.
    guarded = stretches(times) if edge not in (CALL_EDGE, END_EDGE) else ()
    windows = [Span(begin_s=at_s(one.begin_ns), end_s=at_s(one.end_ns)) for one in guarded]
    limit_s = rule.turned_ns / NS_PER_S if edge == CALL_EDGE and rule.turned_ns is not None else None
    return msgspec.structs.replace(
        picture,
        windows=tuple(windows),
        pushes=tuple(pushes),
        limit_s=limit_s,
        # The edge is named by itself.
        instants=tuple(one for one in _instants(played, result, end_ns, at_s) if one.what != _INSTANTS.get(edge)),
    )


def _edge(
    times: Sequence[WindowTime], played: PlayedRound, rule: Clean, end_ns: int | None
) -> tuple[str, int | None]:
    began_ns = max((origin.starts_ns or origin.origin_ns for origin in played.origins), default=0)
    guarded = [one for one in stretches(times) if began_ns < one.begin_ns < played.ended_ns]
    if guarded:
        title = next(time.title for time in times if time.begin_ns == guarded[0].begin_ns)
        return title, guarded[0].begin_ns
    if (rule.turned_ns is not None or rule.turned_own) and played.home_call_ns is not None:
        return CALL_EDGE, played.home_call_ns
    if rule.home_ns is not None and end_ns is not None:
        return END_EDGE, end_ns
    return "", None


def _said(result: RoundResult, edge: str, home_ns: int) -> tuple[str, str]:
    """Return the verdict in a word, and the number that it is about, or nothing; home was due ``home_ns`` before the
    end."""
    number = _number(result, edge)
    margin_ns = result.break_off_margin_ns
    if result.clean:
        in_time = margin_ns is not None and edge not in ("", CALL_EDGE, END_EDGE)
        word = tr("in time") if in_time else tr("turned") if edge == CALL_EDGE and number else tr("clean")
        return word, number
    if result.clean is None:
        if any(mark.label == CONTACT for mark in result.open_marks):
            return tr("end not noted"), number
        return (tr("can't tell"), _VIDEO) if result.unclear else (tr("not judged"), "")
    if result.part == "contact":
        off_late = margin_ns is not None and margin_ns < 0
        touched = trn("{count} contact", "{count} contacts", result.contacts)
        return (tr("too late"), number) if off_late and result.contacts == 1 else (tr("touched"), touched)
    if result.part == "home" and result.home in (HALF, NOT_HOME):
        return tr("half home") if result.home == HALF else tr("not home"), ""
    if result.part == "home" and result.home_margin_ns is not None:
        return tr("home late"), _beside(result.home_margin_ns - home_ns)
    if result.part == "turned" and result.turn_ns is not None:
        return tr("turned late"), tr("after {turn}", turn=seconds(result.turn_ns))
    if result.part == "never":
        return tr("not yet"), result.why[0]
    return _BROKEN[result.part] if result.part else tr("not yet"), number


def _number(result: RoundResult, edge: str) -> str:
    if edge == END_EDGE:
        return "" if result.home_margin_ns is None else _beside(result.home_margin_ns)
    if edge == CALL_EDGE:
        return "" if result.turn_ns is None else tr("after {turn}", turn=seconds(result.turn_ns))
    margin_ns = result.known_margin_ns
    return _beside(margin_ns) if edge and margin_ns is not None else ""


def _beside(margin_ns: int) -> str:
    margin = seconds(margin_ns)
    return tr("{margin} to spare", margin=margin) if margin_ns >= 0 else tr("{margin} late", margin=margin)


def _dot_s(result: RoundResult, edge: str) -> float | None:
    """Return where the round lies in the series, in seconds from the edge."""
    if edge == CALL_EDGE:
        return None if result.turn_ns is None else result.turn_ns / NS_PER_S
    margin_ns = result.home_margin_ns if edge == END_EDGE else result.known_margin_ns
    return None if margin_ns is None else -margin_ns / NS_PER_S


def _instants(
    played: PlayedRound, result: RoundResult, end_ns: int | None, at_s: Callable[[int], float]
) -> Iterator[Instant]:
    call_ns = played.home_call_ns
    if call_ns is not None:
        yield Instant(what="call", at_s=at_s(call_ns))
        if result.turn_ns is not None:
            yield Instant(what="turn", at_s=at_s(call_ns + result.turn_ns))
    if end_ns is not None:
        if result.home_margin_ns is not None:
            what: Happening = "half home" if result.home == HALF else "home"
            yield Instant(what=what, at_s=at_s(end_ns - result.home_margin_ns))
        yield Instant(what="end", at_s=at_s(end_ns))
