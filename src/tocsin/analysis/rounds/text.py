"""Say a round's result in short, plain words, and a series of rounds as shapes that need no colour."""

from collections import Counter
from collections.abc import Iterable, Sequence

from tocsin.analysis.rounds.result import RoundResult
from tocsin.analysis.rounds.rule import seconds
from tocsin.analysis.rounds.scribes import difference_lines
from tocsin.analysis.rounds.stakes import Shortfall
from tocsin.model.display.round_picture import SHAPES, Shape
from tocsin.model.mark import CONTACT
from tocsin.translation import tr, trn

ASCII_SHAPES: dict[Shape, str] = {"filled": "*", "cross": "x", "open": "o", "question": "?"}
MEANINGS: dict[Shape, str] = {
    "filled": tr("clean"), "cross": tr("not clean"), "open": tr("not counted"), "question": tr("not known"),
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
    found = [tr("NOT COUNTED: {reasons}.", reasons=", ".join(reasons))] if reasons else []
    found += [*_verdict(result, is_by_lot), *([dealt] if dealt else []), *_times(result)]
    if result.points.dues:
        found.append(_points(result))
    found += [*_unclear(result), *difference_lines(result.differences, result.home)]
    if result.open_marks:
        found.append(trn(
            "{count} mark never ended: counted until the turn or home, else to the end.",
            "{count} marks never ended: counted until the turn or home, else to the end.",
            len(result.open_marks),
        ))
    return tuple(found)


def threshold_lines(result: RoundResult, most_ways: int = 2) -> tuple[str, ...]:
    """Return a line for each threshold of the game: met or missed, and in so many ways what would have met it."""
    found = []
    for reached in result.points.thresholds:
        have = tr("{have} of {points} points", have=reached.have, points=reached.points)
        if reached.met:
            found.append(tr("{title} reached: {have}.", title=reached.title, have=have))
            continue
        told = (
            tr("{title} missed: {have}.", title=reached.title, have=have) if reached.met is False
            else tr("{title} open, see video: {have}.", title=reached.title, have=have)
        )
        ways = tr(" or ").join(_way(way) for way in reached.would_have[:most_ways])
        missing = (tr("Missing: {ways}.", ways=ways),) if ways else ()
        found.append(" ".join((told, *missing)))
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
    return tr("So far: {found}", found=", ".join(found)) if counts else ""


def series_legend(*, ascii_only: bool = False) -> str:
    """Return the meaning of the shapes in ``series_text``."""
    known = ASCII_SHAPES if ascii_only else SHAPES
    return ", ".join(f"{known[shape]} {meaning}" for shape, meaning in MEANINGS.items())


def _verdict(result: RoundResult, is_by_lot: bool) -> list[str]:
    if result.clean:
        return [tr("Clean.")]
    head = tr("Not judged") if result.clean is None else tr("Not clean, called late") if is_by_lot else tr("Not clean")
    if not result.why:
        return [f"{head}."]
    return [f"{head}: {result.why[0]}.", *(tr("Also: {why}.", why=why) for why in result.why[1:])]


def _times(result: RoundResult) -> list[str]:
    found = []
    if result.known_margin_ns is not None:
        margin = seconds(result.known_margin_ns)
        early = result.known_margin_ns >= 0
        found.append(
            tr("Broke off {margin} early.", margin=margin) if early else tr("Broke off {margin} late.", margin=margin),
        )
    if result.turn_ns is not None:
        call = tr("the planned call; nobody noted the real one") if result.call == "planned" else tr("the call")
        turn = seconds(result.turn_ns)
        found.append(
            tr("Turned {turn} after {call}.", turn=turn, call=call) if result.turn_ns >= 0
            else tr("Turned {turn} before {call}.", turn=turn, call=call)
        )
    if result.travel_ns is not None:
        found.append(tr("The way home took {travel}.", travel=seconds(result.travel_ns)))
    if result.home_margin_ns is not None:
        home, margin = tr("Half home") if result.home == "home_half" else tr("Home"), seconds(result.home_margin_ns)
        found.append(
            tr("{home} {margin} before the end.", home=home, margin=margin) if result.home_margin_ns >= 0
            else tr("{home} {margin} after the end.", home=home, margin=margin)
        )
    return found


def _unclear(result: RoundResult) -> list[str]:
    """Return what only a video can tell: contacts that no key told the end of, and marks too close to an edge."""
    taps = sum(found.mark.pointlike and found.mark.label == CONTACT for found in result.unclear)
    close = len(result.unclear) - taps
    said = []
    if taps:
        said.append(trn(
            "See video: {count} contact whose end nobody noted.", "See video: {count} contacts whose end nobody noted.",
            taps,
        ))
    if close:
        said.append(trn(
            "See video: {count} mark too close to a begin or end.",
            "See video: {count} marks too close to a begin or end.", close,
        ))
    return said


def _points(result: RoundResult) -> str:
    points = result.points
    text = tr(
        "Cost {cost}, gained {gain}: {net_points:+d} points", cost=points.cost, gain=points.gain,
        net_points=points.net_points,
    )
    doubts = []
    if points.cost_at_most != points.cost:
        doubts.append(tr("cost up to {cost_at_most}", cost_at_most=points.cost_at_most))
    if points.gain_at_most != points.gain:
        doubts.append(tr("gained up to {gain_at_most}", gain_at_most=points.gain_at_most))
    return tr("{text} (with what is unclear: {doubts}).", text=text, doubts=", ".join(doubts)) if doubts else f"{text}."


def _way(way: Sequence[Shortfall]) -> str:
    return tr(" and ").join(f"{one.times} × {one.title}" for one in way)
