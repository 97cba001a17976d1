"""Define the file format ``tocsin-game/1``."""

# ruff: noqa: RUF012  (pydantic copies the defaults of each table)

from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator, Field

from tocsin.config.schema.table import Table, needed
from tocsin.config.schema.times import Moments, clock_or_open
from tocsin.config.schema.values import Flag, Id, Text, Title, choice, identifier, list_of, one_of, whole
from tocsin.model.game import ALLIANCE, BY, By, Game, Period, PeriodKind, Stake, Threshold, Variant, Window
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

LONGEST_PERIOD_NS = 3600 * NS_PER_S
USUAL_PERIOD_NS = 600 * NS_PER_S
MOST_POINTS = 10_000
MOST_PARTS = 50                # periods, windows, variants, thresholds: no game comes near
MOST_STAKES = 200
MOST_EVENTS = 1000             # far more than anybody marks in a match

_BY = one_of(*BY, people=True)
Bys = Annotated[list[Annotated[By, BeforeValidator(_BY)]], list_of(_BY), Field(min_length=1)]
StakeIds = Annotated[list[Id], list_of(identifier), Field(min_length=1)]
_LASTS = clock_or_open(NS_PER_MS, LONGEST_PERIOD_NS, ms_from_ns=NS_PER_S, min_to_ns=USUAL_PERIOD_NS)


class PeriodTable(Table):
    """A ``[[period]]``."""

    heading: ClassVar[str] = "[[period]]"
    id: Id = needed('"driver"')
    kind: Annotated[PeriodKind, choice("autonomous", "pause", "driver", "settle")] = needed('"driver"')
    title: Title | None = None
    lasts: Annotated[int | None, _LASTS] = needed('"01:37"')
    begins: Annotated[Literal["itself", "key"], choice("itself", "key")] = "itself"

    def build(self) -> Period:
        """Return the period."""
        return Period(
            id=self.id,
            kind=self.kind,
            title=self.title or _titled(self.id),
            lasts_ns=self.lasts,
            by_hand=self.begins == "key",
        )


class WindowTable(Table):
    """A ``[[window]]``."""

    heading: ClassVar[str] = "[[window]]"
    id: Id = needed('"no_contact"')
    title: Title | None = None
    begin: Annotated[Moments, Field(min_length=1)] = needed('"driver.end-18s"')
    end: Annotated[Moments, Field(min_length=1)] = needed('"settle.end"')

    def build(self) -> Window:
        """Return the window."""
        return Window(
            id=self.id, title=self.title or _titled(self.id), begins=tuple(self.begin), ends=tuple(self.end)
        )


class VariantTable(Table):
    """A ``[[variant]]``."""

    heading: ClassVar[str] = "[[variant]]"
    id: Id = needed('"north_first"')
    title: Title | None = None
    default: Flag = False

    def build(self) -> Variant:
        """Return the variant."""
        return Variant(id=self.id, title=self.title or _titled(self.id), default=self.default)


class StakeTable(Table):
    """A ``[[stake]]``."""

    heading: ClassVar[str] = "[[stake]]"
    id: Id = needed('"contact"')
    title: Title | None = None
    points: Annotated[int, whole(-MOST_POINTS, MOST_POINTS)] = needed("15")
    to: Annotated[Literal["us", "opponents"], choice("us", "opponents")] = needed('"opponents"')
    during: Text = ""
    counts: Id | None = None
    by: Bys = list(ALLIANCE)
    every: Annotated[int, whole(1, MOST_EVENTS)] = 1
    most: Annotated[int | None, whole(1, MOST_EVENTS)] = None

    def build(self) -> Stake:
        """Return the stake."""
        return Stake(
            id=self.id,
            title=self.title or _titled(self.id),
            points=self.points,
            to=self.to,
            during=self.during,
            counts=self.counts or "",
            by=tuple(self.by),
            every=self.every,
            most=self.most,
        )


class ThresholdTable(Table):
    """A ``[[threshold]]``."""

    heading: ClassVar[str] = "[[threshold]]"
    id: Id = needed('"tenor"')
    title: Title | None = None
    points: Annotated[int, whole(1, MOST_POINTS)] = needed("30")
    counts: StakeIds = needed('["under_belfry", "half_under"]')

    def build(self) -> Threshold:
        """Return the threshold."""
        return Threshold(
            id=self.id, title=self.title or _titled(self.id), points=self.points, counts=tuple(self.counts)
        )


class GameFile(Table):
    """A whole game file."""

    heading: ClassVar[str] = tr("this game")
    name: Title = needed('"Casting Day"')
    digits: Annotated[Literal["ceil", "floor"], choice("ceil", "floor")] = "ceil"
    counts: Annotated[Literal["period", "match"], choice("period", "match")] = "period"
    period: Annotated[list[PeriodTable], Field(max_length=MOST_PARTS)] = []
    window: Annotated[list[WindowTable], Field(max_length=MOST_PARTS)] = []
    variant: Annotated[list[VariantTable], Field(max_length=MOST_PARTS)] = []
    stake: Annotated[list[StakeTable], Field(max_length=MOST_STAKES)] = []
    threshold: Annotated[list[ThresholdTable], Field(max_length=MOST_PARTS)] = []

    def build(self) -> Game:
        """Return the game."""
        return Game(
            name=self.name,
            periods=tuple(table.build() for table in self.period),
            windows=tuple(table.build() for table in self.window),
            variants=tuple(table.build() for table in self.variant),
            stakes=tuple(table.build() for table in self.stake),
            thresholds=tuple(table.build() for table in self.threshold),
            digits=self.digits,
            counts=self.counts,
        )


def _titled(name: str) -> str:
    return name.replace("_", " ").capitalize()
