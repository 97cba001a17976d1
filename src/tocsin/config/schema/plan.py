"""Define the file format ``tocsin-plan/1``."""

# ruff: noqa: RUF012  (pydantic copies the defaults of each table)

from typing import Annotated, ClassVar

from pydantic import BeforeValidator, Field

from tocsin.config.schema.pattern import PatternTables
from tocsin.config.schema.references import NameOrFile
from tocsin.config.schema.table import Table, needed
from tocsin.config.schema.times import Moments, clock, lead
from tocsin.config.schema.values import Flag, Id, Language, Text, Title, list_of, one_of, whole
from tocsin.model.announcing import completed
from tocsin.model.plan import (
    CHANNELS,
    DEFAULT_LANGUAGE,
    DEFAULT_LATE_LIMIT_NS,
    DEFAULT_PRIORITY,
    DEFAULT_ROLES,
    ROLES,
    ChannelName,
    Cue,
    Plan,
    Role,
)
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

HIGHEST_PRIORITY = 9
# Far more than anybody learns by heart, and what `check` is measured with (tests/benchmarks/check_cost.py).
MOST_CUES = 2_000
MOST_LEADS = 200

_ROLE = one_of(*ROLES, people=True)
RoleField = Annotated[Role, BeforeValidator(_ROLE)]
AheadNs = Annotated[
    int, lead(600 * NS_PER_S, ms_from_ns=200 * NS_PER_MS, low_ns=10 * NS_PER_MS, sign_code="ahead_sign")
]
LeadNs = Annotated[int, lead(600 * NS_PER_S, ms_from_ns=200 * NS_PER_MS)]


class CueTable(Table):
    """A ``[[cue]]``."""

    heading: ClassVar[str] = "[[cue]]"
    id: Id = needed('"home"')
    at: Moments = []
    until: Moments = []
    every: Annotated[int | None, clock(20 * NS_PER_MS, 600 * NS_PER_S)] = None
    for_: Annotated[list[RoleField], list_of(_ROLE), Field(min_length=1)] = Field(
        default=list(DEFAULT_ROLES), alias="for"
    )
    rumble: Id | None = None
    light: Id | None = None
    screen: Id | None = None
    sound: Id | None = None
    say: Text = ""
    late_limit: Annotated[int, clock(10 * NS_PER_MS, 10 * NS_PER_S)] = DEFAULT_LATE_LIMIT_NS
    priority: Annotated[int, whole(0, HIGHEST_PRIORITY)] = DEFAULT_PRIORITY
    callable: Flag = False
    announces: Id | None = None
    ahead: AheadNs | None = None
    when: Text = ""
    why: Text = ""

    def patterns(self) -> dict[ChannelName, str]:
        """Return the pattern's id by channel, in the order of the channels."""
        named = {"rumble": self.rumble, "light": self.light, "screen": self.screen, "sound": self.sound}
        return {channel: pattern for channel in CHANNELS if (pattern := named[channel]) is not None}

    def build(self) -> Cue:
        """Return the cue."""
        return Cue(
            id=self.id,
            at=tuple(self.at),
            until=tuple(self.until),
            every_ns=self.every,
            roles=tuple(self.for_),
            patterns=self.patterns(),
            say=self.say,
            late_limit_ns=self.late_limit,
            priority=self.priority,
            callable=self.callable,
            announces=self.announces or "",
            ahead_ns=self.ahead,
            when=self.when,
            why=self.why,
        )


class PlanFile(Table):
    """A whole plan file."""

    heading: ClassVar[str] = tr("this plan")
    name: Title = needed('"Full"')
    game: NameOrFile = needed('"casting_day"')
    language: Language = DEFAULT_LANGUAGE
    lead: Annotated[dict[Id, LeadNs], Field(max_length=MOST_LEADS)] = {}
    cue: Annotated[list[CueTable], Field(max_length=MOST_CUES)] = []
    pattern: PatternTables = PatternTables()

    def build(self) -> Plan:
        """Return the plan with its own patterns only; the bundled ones are added later."""
        return Plan(
            name=self.name,
            game=self.game,
            leads=dict(self.lead),
            cues=completed(table.build() for table in self.cue),
            patterns=self.pattern.build(),
            language=self.language,
        )
