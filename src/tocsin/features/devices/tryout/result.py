"""What trying the devices came to, device by device."""

import msgspec

from tocsin.errors import OVER
from tocsin.features.devices.tryout.verdict import Verdict
from tocsin.model.plan import ChannelName, Role

VERDICT_WORDS: dict[Verdict, str] = {
    "confirmed": "confirmed",
    "not_confirmed": "not {sense}",
    "swapped": "in other hands",
    "absent": "not there",
    "lost": "went away",
    "failed": "did not take it",
    "left_alone": "left alone",
    "left_out": "left out",
}
_SENSES: dict[ChannelName, str] = {"rumble": "felt", "light": "seen", "screen": "seen", "sound": "heard"}


class Tried(msgspec.Struct, frozen=True, kw_only=True):
    """A device and what came of it. ``why`` says what is the matter, ``mends`` are likely ways to mend it, the
    likeliest first; ``number`` is a pad's place in the rig, from 0, ``role`` whose it is; ``port`` is where the strip
    was looked for."""

    device: str
    channel: ChannelName
    verdict: Verdict
    name: str = ""
    role: Role | None = None
    number: int | None = None
    port: str = ""
    why: str = ""
    mends: tuple[str, ...] = ()

    @property
    def word(self) -> str:
        """The verdict as people say it."""
        return VERDICT_WORDS[self.verdict].format(sense=_SENSES[self.channel])


class Hub(msgspec.Struct, frozen=True, kw_only=True):
    """What became of two pads at full strength at once: ``why`` says who dropped out, and what mends it."""

    holds: bool
    why: str = ""


class TryoutResult(msgspec.Struct, frozen=True, kw_only=True):
    """All of it. ``held`` is whose button went down on which pad, by its place in the rig. ``hub`` is None where it was
    not tried, ``written`` the rig file that the confirmations went into;
    ``note`` says what else is to be known of that; ``left`` is true if somebody ended it before all was tried."""

    rig: str
    tried: tuple[Tried, ...]
    held: dict[int, Role] = {}
    hub: Hub | None = None
    written: str = ""
    note: str = ""
    left: bool = False
    exit: int = OVER
