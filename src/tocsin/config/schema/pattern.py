"""Define the file format ``tocsin-patterns/1``, and the same ``[pattern]`` tables of a plan."""

# ruff: noqa: RUF012  (pydantic copies the defaults of each table)

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from tocsin.config.older_names import FORMS
from tocsin.config.schema.table import Table, needed
from tocsin.config.schema.times import clock
from tocsin.config.schema.values import Colour, Colours, Id, Share, Title, choice, number, whole
from tocsin.model.pattern import (
    DEFAULT_LEVEL,
    LightForm,
    LightPattern,
    Patterns,
    RumblePattern,
    RumbleStep,
    ScreenField,
    ScreenPattern,
    SoundPattern,
    SoundStep,
)
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

# Pads' radio firmware crashes on faster steps (SDL #6435), and hands feel none below about 120 ms.
SHORTEST_RUMBLE_NS = 50 * NS_PER_MS
LONGEST_NS = 10 * NS_PER_S
LONGEST_SHOW_NS = 600 * NS_PER_S
# Half a second is one opposing pair of changes at two flashes a second; slower is always possible.
SHORTEST_CYCLE_NS = 100 * NS_PER_MS
STEPS = 64
TIMES = 100
MOST_PATTERNS = 500                    # of one channel

Show = Annotated[int, clock(50 * NS_PER_MS, LONGEST_SHOW_NS)]
Cycle = Annotated[int, clock(SHORTEST_CYCLE_NS, 60 * NS_PER_S)]
Edge = Annotated[int, clock(0, NS_PER_S)]
Times = Annotated[int, whole(1, TIMES)]


class RumbleStepTable(Table):
    """A step of a rumble pattern."""

    heading: ClassVar[str] = tr("this step")
    strong: Share = 0.0
    weak: Share = 0.0
    lasts: Annotated[int, clock(SHORTEST_RUMBLE_NS, LONGEST_NS, whole_ms=True)] = needed('"250ms"')

    def build(self) -> RumbleStep:
        """Return the step."""
        return RumbleStep(strong=self.strong, weak=self.weak, lasts_ns=self.lasts)


class RumbleTable(Table):
    """A ``[pattern.rumble.ID]``."""

    heading: ClassVar[str] = tr("this rumble pattern")
    steps: Annotated[list[RumbleStepTable], Field(min_length=1, max_length=STEPS)] = needed(
        '[ { strong = 1.0, weak = 1.0, lasts = "250ms" } ]'
    )
    times: Times = 1

    def build(self) -> RumblePattern:
        """Return the pattern."""
        return RumblePattern(steps=tuple(step.build() for step in self.steps), times=self.times)


class LightTable(Table):
    """A ``[pattern.light.ID]``."""

    heading: ClassVar[str] = tr("this light pattern")
    form: Annotated[
        LightForm, choice("plain", "swell", "on_off", "shuttle", "queue", "ebb", "bands", "apart", older=FORMS)
    ] = needed('"plain"')
    colours: Annotated[Colours, Field(min_length=1, max_length=2)] = needed('["yellow"]')
    lasts: Show = needed('"3s"')
    cycle: Cycle = NS_PER_S
    width: Annotated[float, number(0.01, 1)] = 0.125
    level: Share = 1.0

    def build(self) -> LightPattern:
        """Return the pattern."""
        return LightPattern(
            form=self.form,
            colours=tuple(self.colours),
            lasts_ns=self.lasts,
            cycle_ns=self.cycle,
            width=self.width,
            level=self.level,
        )


class ScreenTable(Table):
    """A ``[pattern.screen.ID]``."""

    heading: ClassVar[str] = tr("this screen pattern")
    field: Annotated[ScreenField, choice("plain", "stripes", "apart", "none")] = needed('"plain"')
    colours: Annotated[Colours, Field(min_length=1, max_length=2)] = needed('["yellow"]')
    letters: Colour = needed('"white"')
    lasts: Show = needed('"3s"')
    full: Annotated[int, clock(0, LONGEST_SHOW_NS, ms_from_ns=50 * NS_PER_MS)] = 1_500_000_000
    frame: Annotated[
        Literal["shrinks", "stands", "steps", "none"], choice("shrinks", "stands", "steps", "none")
    ] = "stands"
    cycle: Annotated[int, clock(0, 60 * NS_PER_S, ms_from_ns=SHORTEST_CYCLE_NS)] = 0

    def build(self) -> ScreenPattern:
        """Return the pattern."""
        return ScreenPattern(
            field=self.field,
            colours=tuple(self.colours),
            letters=self.letters,
            lasts_ns=self.lasts,
            full_ns=self.full,
            frame=self.frame,
            cycle_ns=self.cycle,
        )


class SoundStepTable(Table):
    """A step of a sound pattern."""

    heading: ClassVar[str] = tr("this step")
    hz: Annotated[float, number(100, 8000)] | None = None
    to_hz: Annotated[float, number(100, 8000)] | None = None
    level: Share = DEFAULT_LEVEL
    lasts: Annotated[int, clock(10 * NS_PER_MS, LONGEST_NS)] = needed('"180ms"')

    def build(self) -> SoundStep:
        """Return the step; without ``hz`` it is a silence."""
        return SoundStep(hz=self.hz or 0.0, to_hz=self.to_hz or 0.0, level=self.level, lasts_ns=self.lasts)


class SoundTable(Table):
    """A ``[pattern.sound.ID]``."""

    heading: ClassVar[str] = tr("this sound pattern")
    steps: Annotated[list[SoundStepTable], Field(min_length=1, max_length=STEPS)] = needed(
        '[ { hz = 750, lasts = "250ms" } ]'
    )
    times: Times = 1
    attack: Edge = 8_000_000
    release: Edge = 20_000_000

    def build(self) -> SoundPattern:
        """Return the pattern."""
        return SoundPattern(
            steps=tuple(step.build() for step in self.steps),
            times=self.times,
            attack_ns=self.attack,
            release_ns=self.release,
        )


class PatternTables(Table):
    """The ``[pattern]`` table: patterns by channel and id."""

    heading: ClassVar[str] = "[pattern]"
    rumble: Annotated[dict[Id, RumbleTable], Field(max_length=MOST_PATTERNS)] = {}
    light: Annotated[dict[Id, LightTable], Field(max_length=MOST_PATTERNS)] = {}
    screen: Annotated[dict[Id, ScreenTable], Field(max_length=MOST_PATTERNS)] = {}
    sound: Annotated[dict[Id, SoundTable], Field(max_length=MOST_PATTERNS)] = {}

    def build(self) -> Patterns:
        """Return the patterns by channel and id."""
        return Patterns(
            rumble={name: table.build() for name, table in self.rumble.items()},
            light={name: table.build() for name, table in self.light.items()},
            screen={name: table.build() for name, table in self.screen.items()},
            sound={name: table.build() for name, table in self.sound.items()},
        )


class PatternFile(Table):
    """A whole file of patterns."""

    heading: ClassVar[str] = tr("this file of patterns")
    name: Title = needed('"Rumble"')
    pattern: PatternTables = PatternTables()

    def build(self) -> Patterns:
        """Return the patterns by channel and id."""
        return self.pattern.build()
