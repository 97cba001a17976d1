"""Drive the shakers that packages bring and a rig's pads name: found, shaken and stopped like plugged-in pads."""

from collections.abc import Sequence

from tocsin.channels.installed import Loaded, NotUsableError
from tocsin.channels.rumble.arbiter import Buzz, Call
from tocsin.channels.rumble.pads import FoundPad
from tocsin.devices import DeviceLost
from tocsin.model.rig import Pad
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

LOOK_NS = 500 * NS_PER_MS              # how often a shaker is asked whether it is there


class Shakers:
    """The named shakers of a rig, by the place of their pad in it. Each method raises PackageError if a package failed.
    """

    def __init__(self, pads: Sequence[Pad]) -> None:
        self._slots = {pad.device: slot for slot, pad in enumerate(pads) if pad.device}
        self._loaded: dict[str, Loaded] = {}
        self._why: dict[str, str] = {}
        self._looked_ns: int | None = None
        self.found: dict[int, FoundPad] = {}

    def load(self) -> None:
        """Load what is named; ``why`` says what cannot be used."""
        for name in self._slots:
            try:
                self._loaded[name] = Loaded(name, "shaker")
            except NotUsableError as error:
                self._why[name] = str(error)

    def look(self, now_ns: int) -> bool:
        """Ask which shakers are there, twice a second at the most; return whether any came or went."""
        if not self._loaded or (self._looked_ns is not None and now_ns - self._looked_ns < LOOK_NS):
            return False
        self._looked_ns = now_ns
        before = self.found
        self.found = {
            slot: FoundPad(instance_id=-1 - slot, guid="", name=self._loaded[name].title, number=0, device=name)
            for name, slot in self._slots.items()
            if name in self._loaded and self._is_there(name)
        }
        return self.found != before

    def why(self, name: str) -> str:
        """Return why a shaker is not there, or did not take the last call."""
        return self._why.get(name, "")

    def make(self, name: str, call: Call) -> bool:
        """Make a device call; return whether the shaker took it."""
        device = self._loaded[name]
        try:
            if isinstance(call, Buzz):
                device.hook("shake", call.strong, call.weak, call.ms)
            else:
                device.hook("stop")
        except DeviceLost as error:
            self._why[name] = f"{device.title}: {error}"
            return False
        return True

    def _is_there(self, name: str) -> bool:
        device = self._loaded[name]
        self._why[name] = tr("{title}: not found: is it switched on?", title=device.title)
        try:
            return bool(device.hook("found"))
        except DeviceLost as error:
            self._why[name] = f"{device.title}: {error}"
            return False
