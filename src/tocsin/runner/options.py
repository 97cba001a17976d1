"""What the command line asks of a run."""

from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec

from tocsin.model.plan import CHANNELS, ChannelName

StartMode = Literal["key", "now"]
ScreenMode = Literal["window", "terminal", "none"]
# In a header's options: what a run is part of.
ROUND, BLOCK = "drill", "reaction"
# The keys of people by role, by crew.
Roster = dict[str, dict[str, str]]
LEAD_IN_NS = 500_000_000               # `--start now` begins this far ahead, so that every worker is ready


class RunOptions(msgspec.Struct, frozen=True, kw_only=True):
    """Options of ``tocsin run``. ``None`` means: decide by what is there.

    ``from_moment`` is a moment as people write it, or empty for the begin. ``rate`` scales match time, 0.1 to 100.
    ``only`` are the channels that get a worker. ``asked`` are those that were named on the command line: they must
    be there. ``people`` are the keys of those who play, by role: journals hold no names. ``roster`` are those of all
    crews that share a drill; of a round ``people`` are then those of its own crew.
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
    roster: Roster = {}


def plan_no_of(kept: dict[str, Any]) -> int:
    """Return which of its plans a run played, from 0, as its header kept it. Raises msgspec.ValidationError."""
    number: int = msgspec.convert(kept.get("plan_no", 0), Annotated[int, msgspec.Meta(ge=0)])
    return number


def options_of(kept: dict[str, Any]) -> RunOptions:
    """Return the options that a journal's header kept; keys of other versions are passed over.

    Raises msgspec.ValidationError for a value that is none.
    """

    def path(kind: type, value: Any) -> Any:
        return kind(value)

    known = {name: value for name, value in kept.items() if name in RunOptions.__struct_fields__}
    return msgspec.convert(known, RunOptions, dec_hook=path)
