"""Define the rules of one season, as read from a game file."""

from typing import Literal

import msgspec

from tocsin.model.moment import Moment

PeriodKind = Literal["autonomous", "pause", "driver", "settle"]
By = Literal["us", "partner", "opponent"]
BY: tuple[By, ...] = ("us", "partner", "opponent")
ALLIANCE: tuple[By, ...] = ("us", "partner")


class Period(msgspec.Struct, frozen=True, kw_only=True):
    """A part of the match. ``lasts_ns`` None is an open length: it ends when a person begins the next period.
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
    """One of several orders of play, known only during the match."""

    id: str
    title: str
    default: bool = False


class Stake(msgspec.Struct, frozen=True, kw_only=True):
    """The points of one event, and whose they are; ``during`` names a window, or is empty for always.

    An event is a mark with the label ``counts`` (empty: the stake's id) by one of ``by``. The stake is due once for
    each full ``every`` of them, and at most ``most`` times in a match (None: without limit).
    """

    id: str
    title: str
    points: int
    to: Literal["us", "opponents"]
    during: str = ""
    counts: str = ""
    by: tuple[By, ...] = ALLIANCE
    every: int = 1
    most: int | None = None

    @property
    def label(self) -> str:
        """The label of the marks that count."""
        return self.counts or self.id

    def times(self, marks: int) -> int:
        """Return how often the stake is due for this number of marks."""
        due = marks // self.every
        return due if self.most is None else min(due, self.most)


class Threshold(msgspec.Struct, frozen=True, kw_only=True):
    """A sum of points from the stakes ``counts`` (by id) that a ranking rewards."""

    id: str
    title: str
    points: int
    counts: tuple[str, ...]


class Game(msgspec.Struct, frozen=True, kw_only=True):
    """Periods in order, windows, variants, stakes, thresholds; how the official display rounds and what it counts."""

    name: str
    periods: tuple[Period, ...]
    windows: tuple[Window, ...] = ()
    variants: tuple[Variant, ...] = ()
    stakes: tuple[Stake, ...] = ()
    thresholds: tuple[Threshold, ...] = ()
    digits: Literal["ceil", "floor"] = "ceil"
    counts: Literal["period", "match"] = "period"
