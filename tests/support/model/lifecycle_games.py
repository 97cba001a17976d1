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
        game="Bell Works", plan="Full", digits="ceil", counts="period", segments=tuple(segments),
        periods=tuple(periods), windows=tuple(windows), variants=("we_first", "they_first"),
        default_variant="we_first", firings=(called(0, "home"), called(1, "swap", "they_first")),
    )  # fmt: skip


# 30 s + 8 s + 120 s, settle 3 s, contact forbidden from 20 s before the end on.
SIMPLE = timeline(
    [segment("match", 0, 161)],
    [
        slot("auto", "match", 0, 30),
        slot("pause", "match", 30, 38),
        slot("driver", "match", 38, 158),
        slot("settle", "match", 158, 161),
    ],
    [span("no_contact", 1, ("match", 138), ("match", 161))],
)

# The pause lasts until a person begins the driver period; one window begins before it and ends in it.
OPEN_PAUSE = timeline(
    [segment("match", 0, None), segment("driver", 30, 123)],
    [
        slot("auto", "match", 0, 30),
        slot("pause", "match", 30, None),
        slot("driver", "driver", 0, 120),
        slot("settle", "driver", 120, 123),
    ],
    [
        span("berth", 1, ("match", 20), ("driver", 10)),
        span("no_contact", 1, ("driver", 100), ("driver", 123)),
    ],
)

# Two driver periods, each begun by a person; the first follows a pause of fixed length.
BY_KEY = timeline(
    [segment("match", 0, 38), segment("driver", 38, 60), segment("second", 98, 63)],
    [
        slot("auto", "match", 0, 30),
        slot("pause", "match", 30, 38),
        slot("driver", "driver", 0, 60),
        slot("second", "second", 0, 60),
        slot("settle", "second", 60, 63),
    ],
    [
        span("endgame", 1, ("driver", 40), ("driver", 60)),
        span("endgame", 2, ("second", 40), ("second", 60)),
    ],
)

# Windows that begin with a mark: one ends with the match, one a while after the mark.
MARKED = timeline(
    [segment("match", 0, 161)],
    [
        slot("auto", "match", 0, 30),
        slot("pause", "match", 30, 38),
        slot("driver", "match", 38, 158),
        slot("settle", "match", 158, 161),
    ],
    [
        span("swap", 1, ("mark.swap", 0), ("match", 158)),
        span("truce", 1, ("mark.swap", 2), ("mark.swap", 7)),
    ],
)

# Windows that overlap, share edges with each other and with periods, and recur.
OVERLAPPING = timeline(
    [segment("match", 0, 150)],
    [slot("auto", "match", 0, 15), slot("driver", "match", 15, 150)],
    [
        span("turn", 1, ("match", 15), ("match", 50)),
        span("turn", 2, ("match", 85), ("match", 120)),
        span("endgame", 1, ("match", 100), ("match", 150)),
        span("no_contact", 1, ("match", 50), ("match", 110)),
    ],
)

GAMES = {
    "simple": SIMPLE,
    "open pause": OPEN_PAUSE,
    "by key": BY_KEY,
    "marked": MARKED,
    "overlapping": OVERLAPPING,
}
