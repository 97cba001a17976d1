"""Define the options of a run from the command line."""

from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec

from tocsin.config.file_cache import Shared
from tocsin.model.plan import CHANNELS, DEFAULT_LANGUAGE, ChannelName

StartMode = Literal["key", "now"]
ScreenMode = Literal["window", "terminal", "none"]
At = Literal["practice", "event"]
PRACTICE: At = "practice"
EVENT: At = "event"
# In a header's options: what a run is part of.
ROUND, BLOCK = "drill", "reaction"
# In a header's options: the number of an event's match; None or left out where nobody said it.
MATCH_NUMBER = "match"
# In a header's options: whose match it is, where another laptop keeps the clock.
FOLLOWS = "follows"
MOST_MATCHES = 999
# The keys of people by role, by crew.
Roster = dict[str, dict[str, str]]
LEAD_IN_NS = 500_000_000               # `--start now` begins this far ahead, so that every worker is ready


class RunOptions(msgspec.Struct, frozen=True, kw_only=True):
    """Options of ``tocsin run``. ``None`` means: decide by the devices present.

    ``from_moment`` is a moment as people write it, or empty for the begin. ``rate`` scales match time, 0.1 to 100.
    ``only`` are the channels that get a worker. ``asked`` are those named on the command line: they must be present.
    ``people`` are the players' keys, by role: journals hold no names. ``devices`` says whether the end of a run tells
    how its devices did, or only which calls failed. ``at`` says what the run belongs to, ``match`` which number the
    event has given it. ``patterns`` are files of patterns below those of all plans, ``language`` is that of plans that
    name none. ``board`` says where boards are served: nowhere if empty, else ``addresses.HERE``, ``LAN`` or an
    address of this laptop.
    """

    game: str | None = None
    plans: tuple[str, ...] = ("full",)
    rig: str = "nothing"
    runs: Path | None = None
    label: str = ""
    from_moment: str = ""
    start: StartMode | None = None
    rate: float = 1.0
    screen: ScreenMode | None = None
    only: tuple[ChannelName, ...] = CHANNELS
    asked: tuple[ChannelName, ...] = ()
    people: dict[str, str] = {}
    devices: bool = True
    patterns: tuple[str, ...] = ()
    language: str = DEFAULT_LANGUAGE
    roster: Roster = {}
    at: At = PRACTICE
    board: str = ""
    match: Annotated[int, msgspec.Meta(ge=1, le=MOST_MATCHES)] | None = None

    @property
    def shared(self) -> Shared:
        """What lies below all plans."""
        return Shared(tuple(map(Path, self.patterns)), self.language)


def plan_no_of(kept: dict[str, Any]) -> int:
    """Return which of its plans a run played, from 0, from its header. Raises msgspec.ValidationError."""
    number: int = msgspec.convert(kept.get("plan_no", 0), Annotated[int, msgspec.Meta(ge=0)])
    return number


def options_of(kept: dict[str, Any]) -> RunOptions:
    """Return the options in a journal's header; keys of other versions are skipped. Raises msgspec.ValidationError for
    an invalid value."""

    def path(kind: type, value: Any) -> Any:
        return kind(value)

    known = {name: value for name, value in kept.items() if name in RunOptions.__struct_fields__}
    return msgspec.convert(known, RunOptions, dec_hook=path)
