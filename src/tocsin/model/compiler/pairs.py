"""Pair begins and ends by position: the spans of windows, the ``at`` and ``until`` of cues."""

from collections.abc import Sequence
from typing import Literal

import msgspec

from tocsin.model import diagnostics as code
from tocsin.model.diagnostics import Diagnostics, Path
from tocsin.model.moment import Moment, format
from tocsin.model.timeline.ground import Ground
from tocsin.model.timeline.locator import Locator, spans_of
from tocsin.model.timeline.point import Point
from tocsin.units import format_clock

MOST_MOMENTS = 1000                    # that one list may stand for; no game comes near


class PlacedMoment(msgspec.Struct, frozen=True, kw_only=True):
    """A moment with one of its points, and the key path at which it was written."""

    moment: Moment
    path: Path
    point: Point | None


class MomentList(msgspec.Struct, frozen=True, kw_only=True):
    """A list of moments as it stands in a file, at ``path``; it may stand for ``most`` points."""

    file: Literal["game", "plan"]
    path: Path
    moments: tuple[Moment, ...]
    most: int = MOST_MOMENTS

    def item_path(self, place: int) -> Path:
        """Return the key path of one moment: a single one is written without a list."""
        return (*self.path, place) if len(self.moments) > 1 else self.path


def place(
    written: MomentList, locator: Locator, latest: Point | None, ground: Ground, found: Diagnostics
) -> list[PlacedMoment]:
    """Return a point for each moment of the list; ``latest`` is the last allowed point."""
    placed: list[PlacedMoment] = []
    for n, moment in enumerate(written.moments):
        path = written.item_path(n)
        points, problems = locator.points(moment)
        for problem in problems:
            found.add(problem.code, written.file, path, span=problem.span, **problem.facts)
        if len(placed) + len(points) > written.most:
            found.add(
                code.TOO_MANY, written.file, path,
                name=format(moment), count=str(len(placed) + len(points)), most=str(written.most),
            )  # fmt: skip
            return []
        placed += [PlacedMoment(moment=moment, path=path, point=point) for point in points]
    return [_not_after(item, written, latest, ground, found) for item in placed]


def _not_after(
    item: PlacedMoment, written: MomentList, latest: Point | None, ground: Ground, found: Diagnostics
) -> PlacedMoment:
    point = item.point
    if point is None or latest is None or ground.rank(point.anchor) is None:
        return item
    if ground.order(point) <= ground.order(latest):
        return item
    by_ns = point.offset_ns - (latest.offset_ns if point.anchor == latest.anchor else 0)
    late_ns = ground.match_ns(latest)
    expected = "" if late_ns is None else format_clock(late_ns)
    found.add(code.AFTER_END, written.file, item.path,
              name=format(item.moment), by=format_clock(by_ns), expected=expected)  # fmt: skip
    return msgspec.structs.replace(item, point=None)


def pair(
    begins: Sequence[PlacedMoment],
    ends: Sequence[PlacedMoment],
    first: MomentList,
    second: MomentList,
    ground: Ground,
    found: Diagnostics,
) -> list[tuple[PlacedMoment, PlacedMoment]]:
    """Return the pairs of begins and ends, none if their counts differ."""
    if len(begins) != len(ends):
        _unpaired(begins, ends, first, second, found)
        return []
    for begin, end in zip(begins, ends, strict=True):
        if begin.point is not None and end.point is not None and not _after(begin.point, end.point, ground):
            found.add(code.END_NOT_AFTER_BEGIN, second.file, end.path,
                      begin=format(begin.moment), end=format(end.moment))  # fmt: skip
    return list(zip(begins, ends, strict=True))


def _after(begin: Point, end: Point, ground: Ground) -> bool:
    """Return whether an end can lie after its begin; a mark may come at any time."""
    if begin.anchor == end.anchor:
        return end.offset_ns > begin.offset_ns
    first, second = ground.rank(begin.anchor), ground.rank(end.anchor)
    return first is None or second is None or second > first


def _unpaired(
    begins: Sequence[PlacedMoment],
    ends: Sequence[PlacedMoment],
    first: MomentList,
    second: MomentList,
    found: Diagnostics,
) -> None:
    """Report that counts differ; an end that stands for several, beside one begin, can mean one of them only."""
    if any(item.point is None for item in (*begins, *ends)):
        return                         # a mistake that is reported already may be why
    if len(begins) == 1 and len(second.moments) == 1:
        moment = second.moments[0]
        found.add(
            code.ONE_MEANT, second.file, second.path, name=moment.base, count=str(len(ends)),
            options=spans_of(moment, len(ends)),
        )  # fmt: skip
        return
    found.add(
        code.PAIRING, second.file, second.path, begins=str(len(begins)), ends=str(len(ends)),
        first=str(first.path[-1]), second=str(second.path[-1]),
    )  # fmt: skip
