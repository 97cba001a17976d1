"""The rules of one season, as read from a game file."""

from typing import Literal

import msgspec

from tocsin.model.moment import Moment

PeriodKind = Literal["autonomous", "pause", "driver", "settle"]


class Period(msgspec.Struct, frozen=True, kw_only=True):
    """A stretch of the match. ``lasts_ns`` None is an open length: it ends when a person begins the next period.
    ``by_hand``: it begins when a person says so (``begins = "key"``)."""

    id: str
    kind: PeriodKind
    title: str
    lasts_ns: int | None
    by_hand: bool = False


class Window(msgspec.Struct, frozen=True, kw_only=True):
    """A named time in which a rule changes; spans pair ``begins`` and ``ends`` by position."""

    id: str
    title: str
    begins: tuple[Moment, ...]
    ends: tuple[Moment, ...]


class Variant(msgspec.Struct, frozen=True, kw_only=True):
    """One of several orders of play, known only in the match."""

    id: str
    title: str
    default: bool = False


class Stake(msgspec.Struct, frozen=True, kw_only=True):
    """What one event is worth, in points, and to whom; ``during`` names a window, or is empty for always."""

    id: str
    title: str
    points: int
    to: Literal["us", "opponents"]
    during: str = ""


class Game(msgspec.Struct, frozen=True, kw_only=True):
    """Periods in order, windows, variants, stakes; how the official display rounds and what it counts."""

    name: str
    periods: tuple[Period, ...]
    windows: tuple[Window, ...] = ()
    variants: tuple[Variant, ...] = ()
    stakes: tuple[Stake, ...] = ()
    digits: Literal["ceil", "floor"] = "ceil"
    counts: Literal["period", "match"] = "period"
