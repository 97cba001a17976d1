"""Say a round's result in short, plain words, and a series of rounds as shapes that need no colour."""

from collections import Counter
from collections.abc import Iterable, Sequence

from tocsin.analysis.rounds.result import CONTACT, RoundResult
from tocsin.analysis.rounds.rule import seconds
from tocsin.analysis.rounds.stakes import Shortfall
from tocsin.model.display.round_picture import SHAPES, Shape

ASCII_SHAPES: dict[Shape, str] = {"filled": "*", "cross": "x", "open": "o", "question": "?"}
MEANINGS: dict[Shape, str] = {
    "filled": "clean", "cross": "not clean", "open": "not counted", "question": "cannot be told",
}  # fmt: skip
_GROUP = 5                             # shapes stand in groups that can be counted at a glance


def lines(
    result: RoundResult, *, taken_out: str = "", dealt: str = "", is_by_lot: bool = False
) -> tuple[str, ...]:
    """Return the lines for people about a round: that it does not count, if so, the verdict, then times, points and
    doubts.

    ``taken_out`` is why people took it out of the series, ``dealt`` what the lot did to it, as sentences;
    ``is_by_lot``: that alone made it late.
    """
    reasons = (*([taken_out] if taken_out else []), *result.uncounted)
    found = [f"NOT COUNTED: {', '.join(reasons)}."] if reasons else []
    found += [*_verdict(result, is_by_lot), *([dealt] if dealt else []), *_times(result)]
    if result.points.dues:
        found.append(_points(result))
    found += _unclear(result)
    if result.open_marks:
        never = _count(len(result.open_marks), "mark")
        found.append(f"{never} never ended: taken as held until it turned or was home, else to the end.")
    return tuple(found)


def threshold_lines(result: RoundResult) -> tuple[str, ...]:
    """Return a line for each threshold of the game: met or missed, and what would have met it."""
    found = []
    for reached in result.points.thresholds:
        have = f"{reached.have} of {reached.points} points"
        if reached.met:
            found.append(f"{reached.title} met: {have}.")
            continue
        missed = "missed" if reached.met is False else "open, see video"
        ways = " Or ".join(_way(way) for way in reached.would_have[:2])
        found.append(f"{reached.title} {missed}: {have}.{' Missing: ' if ways else ''}{ways}")
    return tuple(found)


def shape_of(result: RoundResult) -> Shape:
    """Return the shape of a round; that of a round that does not count is open, whatever its result."""
    if not result.counted:
        return "open"
    if result.clean is None:
        return "question"
    return "filled" if result.clean else "cross"


def series_text(results: Iterable[RoundResult], *, ascii_only: bool = False) -> str:
    """Return a shape for each round so far, in groups of five."""
    known = ASCII_SHAPES if ascii_only else SHAPES
    shapes = [known[shape_of(result)] for result in results]
    return "  ".join(" ".join(shapes[at : at + _GROUP]) for at in range(0, len(shapes), _GROUP))


def shapes_text(results: Iterable[RoundResult]) -> str:
    """Return how rounds came out, as a person counts them: ``So far: ● 2 clean, ○ 1 not counted``; nothing for none."""
    counts = Counter(shape_of(result) for result in results)
    found = (f"{SHAPES[shape]} {counts[shape]} {meaning}" for shape, meaning in MEANINGS.items() if counts[shape])
    return f"So far: {', '.join(found)}" if counts else ""


def series_legend(*, ascii_only: bool = False) -> str:
    """Return the meaning of the shapes in ``series_text``."""
    known = ASCII_SHAPES if ascii_only else SHAPES
    return ", ".join(f"{known[shape]} {meaning}" for shape, meaning in MEANINGS.items())


def _verdict(result: RoundResult, is_by_lot: bool) -> list[str]:
    if result.clean:
        return ["Clean."]
    head = "Not judged" if result.clean is None else "Not clean, by lot" if is_by_lot else "Not clean"
    if not result.why:
        return [f"{head}."]
    return [f"{head}: {result.why[0]}.", *(f"Also: {why}." for why in result.why[1:])]


def _times(result: RoundResult) -> list[str]:
    found = []
    if result.known_margin_ns is not None:
        side = "early" if result.known_margin_ns >= 0 else "late"
        found.append(f"Broke off {seconds(result.known_margin_ns)} {side}.")
    if result.turn_ns is not None:
        side = "after" if result.turn_ns >= 0 else "before"
        planned = "the planned call, when it came is not noted" if result.call == "planned" else "the call"
        found.append(f"Turned {seconds(result.turn_ns)} {side} {planned}.")
    if result.travel_ns is not None:
        found.append(f"The way took {seconds(result.travel_ns)}.")
    if result.home_margin_ns is not None:
        side = "before" if result.home_margin_ns >= 0 else "after"
        half = "Half home" if result.home == "home_half" else "Home"
        found.append(f"{half} {seconds(result.home_margin_ns)} {side} the end.")
    return found


def _unclear(result: RoundResult) -> list[str]:
    """Return what only a video can tell: contacts that no key told the end of, and marks too close to an edge."""
    taps = sum(found.mark.pointlike and found.mark.label == CONTACT for found in result.unclear)
    close = len(result.unclear) - taps
    said = [f"See video: {_count(taps, 'contact')} whose end nobody noted."] if taps else []
    return said + ([f"See video: {_count(close, 'mark')} too close to an edge to tell."] if close else [])


def _points(result: RoundResult) -> str:
    points = result.points
    text = f"Cost {points.cost}, gained {points.gain}: {points.net_points:+d} points"
    doubts = []
    if points.cost_at_most != points.cost:
        doubts.append(f"cost up to {points.cost_at_most}")
    if points.gain_at_most != points.gain:
        doubts.append(f"gained up to {points.gain_at_most}")
    return f"{text} (with what is unclear: {', '.join(doubts)})." if doubts else f"{text}."


def _way(way: Sequence[Shortfall]) -> str:
    return " and ".join(f"{one.times} × {one.title}" for one in way) + "."


def _count(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"
