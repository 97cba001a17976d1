"""Define the cues, leads and patterns of a plan, as read from a plan file."""

from typing import Literal

import msgspec

from tocsin.model.moment import Moment
from tocsin.model.pattern import Patterns

ChannelName = Literal["rumble", "light", "screen", "sound"]
CHANNELS: tuple[ChannelName, ...] = ("rumble", "light", "screen", "sound")
Role = Literal["driver", "operator", "coach", "scribe", "feeder"]
ROLES: tuple[Role, ...] = ("driver", "operator", "coach", "scribe", "feeder")
DEFAULT_ROLES: tuple[Role, ...] = ("driver", "operator")
DEFAULT_LATE_LIMIT_NS = 150_000_000
DEFAULT_PRIORITY = 5
DEFAULT_LANGUAGE = "en"


class Cue(msgspec.Struct, frozen=True, kw_only=True):
    """A call to the drive team. ``patterns`` maps a channel to the id of its pattern there.

    One that ``announces`` another cue has no moments of its own: it comes ``ahead_ns`` before each of that one's.
    """

    id: str
    at: tuple[Moment, ...]
    until: tuple[Moment, ...] = ()
    every_ns: int | None = None
    roles: tuple[Role, ...] = DEFAULT_ROLES
    patterns: dict[ChannelName, str] = {}
    say: str = ""
    late_limit_ns: int = DEFAULT_LATE_LIMIT_NS
    priority: int = DEFAULT_PRIORITY
    callable: bool = False
    announces: str = ""            # id of the cue that it announces, or empty
    ahead_ns: int | None = None
    when: str = ""                 # id of a variant, or empty for any
    why: str = ""


class Plan(msgspec.Struct, frozen=True, kw_only=True):
    """Leads in nanoseconds by id, cues in the order of the file, and the patterns that they may name
    (the bundled ones, overlaid by the plan's own). ``language`` is that of its words, as a BCP 47 tag."""

    name: str
    game: str
    leads: dict[str, int] = {}
    cues: tuple[Cue, ...] = ()
    patterns: Patterns = Patterns()
    language: str = DEFAULT_LANGUAGE
