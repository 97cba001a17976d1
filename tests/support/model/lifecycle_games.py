"""Timelines of invented games for the tests of the lifecycle, written out by hand rather than compiled."""

from tocsin.model.timeline.timeline import Firing, PeriodSlot, Point, Segment, Timeline, WindowSpan
from tocsin.units import NS_PER_S as S

_KINDS = {"auto": "autonomous", "pause": "pause", "driver": "driver", "second": "driver", "settle": "settle"}


def segment(anchor: str, match_s: int, lasts_s: int | None) -> Segment:
    return Segment(anchor=anchor, match_ns=match_s * S, lasts_ns=None if lasts_s is None else lasts_s * S)


def slot(period: str, anchor: str, begin_s: int, end_s: int | None) -> PeriodSlot:
    end_ns = None if end_s is None else end_s * S
    return PeriodSlot(
        id=period, kind=_KINDS[period], title=period, anchor=anchor, begin_ns=begin_s * S, end_ns=end_ns
    )


def span(window: str, n: int, begin: tuple[str, int], end: tuple[str, int]) -> WindowSpan:
    begins, ends = Point(begin[0], begin[1] * S), Point(end[0], end[1] * S)
    return WindowSpan(id=window, n=n, title=window, begin=begins, end=ends)


def called(no: int, cue: str, when: str = "") -> Firing:
    return Firing(
        no=no, cue=cue, n=0, channel="light", role=None, begin=Point(f"call.{cue}", 0), until=None, sustained=False,
        pattern="home", word="HOME", late_limit_ns=S, priority=5, when=when, match_ns=None, lasts_ns=S,
    )  # fmt: skip


def timeline(segments: list[Segment], periods: list[PeriodSlot], windows: list[WindowSpan]) -> Timeline:
    return Timeline(
        game="Casting Day", plan="Full", digits="ceil", counts="period", segments=tuple(segments),
        periods=tuple(periods), windows=tuple(windows), variants=("north_first", "south_first"),
        default_variant="north_first", firings=(called(0, "home"), called(1, "swap", "south_first")),
    )  # fmt: skip


# 28 s + 11 s + 97 s, settle 4 s, contact forbidden from 18 s before the end on.
SIMPLE = timeline(
    [segment("match", 0, 140)],
    [
        slot("auto", "match", 0, 28),
        slot("pause", "match", 28, 39),
        slot("driver", "match", 39, 136),
        slot("settle", "match", 136, 140),
    ],
    [span("no_contact", 1, ("match", 118), ("match", 140))],
)

# The pause lasts until a person begins the driver period; one window begins before it and ends in it.
OPEN_PAUSE = timeline(
    [segment("match", 0, None), segment("driver", 28, 101)],
    [
        slot("auto", "match", 0, 28),
        slot("pause", "match", 28, None),
        slot("driver", "driver", 0, 97),
        slot("settle", "driver", 97, 101),
    ],
    [
        span("furnace", 1, ("match", 16), ("driver", 10)),
        span("no_contact", 1, ("driver", 79), ("driver", 101)),
    ],
)

# Two driver periods, each begun by a person; the first follows a pause of fixed length.
BY_KEY = timeline(
    [segment("match", 0, 39), segment("driver", 39, 50), segment("second", 89, 54)],
    [
        slot("auto", "match", 0, 28),
        slot("pause", "match", 28, 39),
        slot("driver", "driver", 0, 50),
        slot("second", "second", 0, 50),
        slot("settle", "second", 50, 54),
    ],
    [
        span("endgame", 1, ("driver", 35), ("driver", 50)),
        span("endgame", 2, ("second", 35), ("second", 50)),
    ],
)

# Windows that begin with a mark: one ends with the match, one a while after the mark.
MARKED = timeline(
    [segment("match", 0, 140)],
    [
        slot("auto", "match", 0, 28),
        slot("pause", "match", 28, 39),
        slot("driver", "match", 39, 136),
        slot("settle", "match", 136, 140),
    ],
    [
        span("swap", 1, ("mark.swap", 0), ("match", 136)),
        span("truce", 1, ("mark.swap", 2), ("mark.swap", 7)),
    ],
)

# Windows that overlap, share edges with each other and with periods, and recur.
OVERLAPPING = timeline(
    [segment("match", 0, 134)],
    [slot("auto", "match", 0, 19), slot("driver", "match", 19, 134)],
    [
        span("door", 1, ("match", 19), ("match", 53)),
        span("door", 2, ("match", 73), ("match", 106)),
        span("endgame", 1, ("match", 94), ("match", 134)),
        span("no_contact", 1, ("match", 53), ("match", 99)),
    ],
)

GAMES = {
    "simple": SIMPLE,
    "open pause": OPEN_PAUSE,
    "by key": BY_KEY,
    "marked": MARKED,
    "overlapping": OVERLAPPING,
}
