"""Define the file format ``tocsin-drill/1``."""

# ruff: noqa: RUF012  (pydantic copies the defaults of each table)

from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator, Field

from tocsin.config.schema.references import NameOrFile
from tocsin.config.schema.table import Table, needed
from tocsin.config.schema.times import OWN, MomentField, clock, clock_or_own, signed_clock
from tocsin.config.schema.values import (
    Flag,
    Id,
    Sentence,
    Text,
    Title,
    choice,
    identifier,
    list_of,
    one_of,
    one_or_list,
    whole,
)
from tocsin.model.drill import ALL_SHOWN, Clean, Coach, Drill, Goal, Place, Shown, Vary
from tocsin.model.plan import CHANNELS, ChannelName
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

MOST_ROUNDS = 200
MOST_DEALT = 12                         # plans: the journal of each round holds all of them
LONGEST_NS = 600 * NS_PER_S
LONGEST_SHIFT_NS = 10 * NS_PER_S
LEAST_MS_NS = 200 * NS_PER_MS           # what is shorter nobody notices here, nor writes in milliseconds

_FEW = Field(max_length=MOST_ROUNDS)
Ids = Annotated[list[Id], list_of(identifier), _FEW]
Sentences = Annotated[list[Sentence], BeforeValidator(one_or_list), _FEW]
_DRAWN = one_of("none", *CHANNELS)
_COACH = one_of("silent", "calling")
_SHOWN = one_of(*ALL_SHOWN)
Shift = Annotated[int, signed_clock(LONGEST_SHIFT_NS, LEAST_MS_NS)]
LateStart = Annotated[int, clock(0, LONGEST_SHIFT_NS, ms_from_ns=LEAST_MS_NS)]
Drawn = Annotated[ChannelName | Literal["none"], BeforeValidator(_DRAWN)]


class CleanTable(Table):
    """``[clean]``."""

    heading: ClassVar[str] = "[clean]"
    keep_off: Ids = []
    home: Annotated[int | None, clock(0, LONGEST_NS, ms_from_ns=LEAST_MS_NS)] = None
    turned: Annotated[int | Literal["own"] | None, clock_or_own(0, LONGEST_NS, ms_from_ns=LEAST_MS_NS)] = None
    never: Ids = []

    def build(self) -> Clean:
        """Return the rule."""
        return Clean(
            keep_off=tuple(self.keep_off),
            home_ns=self.home,
            turned_ns=self.turned if isinstance(self.turned, int) else None,
            turned_own=self.turned == OWN,
            never=tuple(self.never),
        )


class GoalTable(Table):
    """``[goal]``."""

    heading: ClassVar[str] = "[goal]"
    clean: Annotated[int, whole(1, MOST_ROUNDS)] = needed("8")
    of: Annotated[int, whole(1, MOST_ROUNDS)] = needed("10")

    def build(self) -> Goal:
        """Return the goal."""
        return Goal(clean=self.clean, of=self.of)


class VaryTable(Table):
    """``[vary]``."""

    heading: ClassVar[str] = "[vary]"
    plan: Annotated[list[NameOrFile], BeforeValidator(one_or_list), Field(max_length=MOST_DEALT)] = []
    setup: Sentences = []
    draw_out: Annotated[list[Drawn], list_of(_DRAWN), _FEW] = []
    coach: Annotated[list[Annotated[Coach, BeforeValidator(_COACH)]], list_of(_COACH), _FEW] = []
    lead: Text = ""
    shift: Annotated[list[Shift], BeforeValidator(one_or_list), _FEW] = []
    late_start: Annotated[list[LateStart], BeforeValidator(one_or_list), _FEW] = []
    from_spread: Annotated[int, clock(0, 60 * NS_PER_S, ms_from_ns=LEAST_MS_NS)] = 0
    shuffle: Flag = False

    def build(self) -> Vary:
        """Return what varies."""
        return Vary(
            plans=tuple(self.plan),
            setups=tuple(self.setup),
            draw_out=tuple("" if channel == "none" else channel for channel in self.draw_out),
            coach=tuple(self.coach),
            shift_lead=self.lead,
            shift_ns=tuple(self.shift),
            late_start_ns=tuple(self.late_start),
            from_spread_ns=self.from_spread,
            shuffle=self.shuffle,
        )


class DrillFile(Table):
    """A whole drill file."""

    heading: ClassVar[str] = tr("this drill")
    name: Title = needed('"Break off"')
    trains: Title = needed('"breaking off a push in time"')
    place: Annotated[Place, choice("bench", "field")] = needed('"field"')
    plan: NameOrFile = needed('"full"')
    game: NameOrFile = ""
    from_: MomentField | None = Field(default=None, alias="from")
    rounds: Annotated[int, whole(1, MOST_ROUNDS)] = needed("12")
    half_speed: Annotated[int, whole(0, MOST_ROUNDS)] = 0
    rest: Annotated[int, clock(0, LONGEST_NS, ms_from_ns=NS_PER_S, min_to_ns=LONGEST_NS)] = 0
    marks: Ids = []
    shows: Annotated[list[Annotated[Shown, BeforeValidator(_SHOWN)]], list_of(_SHOWN), _FEW] = []
    battery_rounds: Annotated[int, whole(1, MOST_ROUNDS)] = 0
    safely: Sentences = []
    questions: Sentences = []
    field_questions: Sentences = []
    vary: VaryTable = VaryTable()
    clean: CleanTable = CleanTable()
    goal: GoalTable | None = None

    def build(self) -> Drill:
        """Return the drill."""
        return Drill(
            name=self.name,
            trains=self.trains,
            place=self.place,
            plan=self.plan,
            game=self.game,
            begin=self.from_,
            rounds=self.rounds,
            half_speed=self.half_speed,
            rest_ns=self.rest,
            vary=self.vary.build(),
            marks=tuple(self.marks),
            shows=tuple(self.shows),
            battery_rounds=self.battery_rounds,
            clean=self.clean.build(),
            goal=self.goal.build() if self.goal else None,
            safely=tuple(self.safely),
            questions=(*self.questions, *self.field_questions),
            field_questions=tuple(self.field_questions or self.questions),     # older files do not tell them apart
        )
