"""Drive a strip that another package brings, as a port is driven: it gets the frames that the flash guard let out."""

import contextlib

from tocsin.channels.installed import Loaded, PackageError
from tocsin.channels.light.port import BOOT_NS, PortError
from tocsin.channels.light.replies import Replies
from tocsin.devices import DeviceLost
from tocsin.model.rig import Light


class NamedStrip:
    """The strip of a package, opened; the same hooks as ``StripPort``. Raises DeviceLost, which is one of ERRORS, where
    that raises one of these, and PackageError if the package failed."""

    def __init__(self, device: Loaded, light: Light, now_ns: int) -> None:
        self.replies = Replies(greets=False, acknowledges=False)       # it says by itself if it is lost
        self.name = device.title
        self._device = device
        self._boot_until_ns = now_ns + BOOT_NS
        try:
            device.hook("open", light.leds)
        except DeviceLost as error:
            raise PortError(f"{self.name}: {error}") from error

    def booting(self, now_ns: int) -> bool:
        """Return whether the device takes no frames yet, for 2.5 s at the most."""
        return now_ns < self._boot_until_ns and bool(self._device.hook("booting"))

    def feel(self) -> None:
        """Check whether the device is still there."""
        self._device.hook("feel")

    def write(self, data: bytes) -> None:
        """Show a whole frame."""
        self._device.hook("write", data)

    def close(self, *, discard: bool = False) -> None:
        """Let go of the device; never raises."""
        with contextlib.suppress(DeviceLost, PackageError):
            self._device.hook("close")
