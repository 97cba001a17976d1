"""State what a device of another package must be able to do: the contract for whoever writes a strip or a shaker.

A package offers a device as an entry point of the group ``tocsin.devices``; a rig names it: ``device = "NAME"`` under
``[light]`` or in a ``[[pad]]``. The entry point leads to a class or function that Tocsin calls without arguments, in
the worker process of that channel alone. Example and cautions: ``hardware_notes/packages.md``.

What holds for both kinds:

* All hooks are called on one thread, one after another. While one runs, cues of this channel wait: return within 10 ms;
  give slow work to a thread of your own. A hook that does not return for some seconds counts as hung: the process is
  killed and started anew, and a match goes on without this device meanwhile.
* ``DeviceLost``, or any other ``OSError``, says that the device is not there now: people read its text, and Tocsin
  tries again. Any other exception is a mistake in the package: it ends the process, which is started anew, three times
  in ten seconds and then every ten seconds.
* There are no settings in a rig, since rigs come from other teams too. A device that needs an address or a port reads
  it from a place of its owner's: a file in the home folder, a variable of the environment.
* What a package prints goes into the run's journal as a fault. Standard input is empty.
"""

from typing import Protocol

GROUP = "tocsin.devices"


class DeviceLost(OSError):
    """The device is not there, does not answer, or did not take what was sent. The text says what to do, in a few
    words for people: ``DeviceLost("no answer from 192.0.2.7: is it switched on?")``."""


class Strip(Protocol):
    """A strip, or anything that shows a row of coloured lights.

    It gets what the flash guard has let out: at most two flashes a second, dimmed to the rig's ``brightness`` and
    ``max_ma``. Show each frame as it is, at once, and nothing else: no fading, no effect of your own, no picking of
    frames other than leaving older ones out. Whatever blinks by itself is not guarded by anybody.
    """

    def open(self, leds: int) -> None:
        """Take the device into use, with this many lights; also after ``close``, when it was lost. Raises OSError if it
        is not there."""

    def booting(self) -> bool:
        """Return whether the device does not take frames yet. Asked every 10 ms after ``open``, for 2.5 s at the most.
        Raises OSError."""

    def feel(self) -> None:
        """Check that the device is still there; called twice a second. Raises OSError if it is not."""

    def write(self, frame: bytes) -> None:
        """Show a whole frame: three bytes for each light, 0 to 255, in the rig's ``order`` (red, green, blue if it says
        nothing). At most 40 frames a second come; at least one a second while anything is lit. Raises OSError."""

    def close(self) -> None:
        """Let go of the device, which has been sent a black frame if it could be reached. May be called twice."""


class Shaker(Protocol):
    """A pad's motors, or anything else that a person feels: a belt, a seat, a wristband."""

    def found(self) -> bool:
        """Return whether the device is there; asked twice a second. Raises OSError for "no", with its text as why."""

    def shake(self, strong: float, weak: float, ms: int) -> None:
        """Set the strong (slow) and the weak (fast) motor, each 0 to 1, in place of what they did before; a device with
        one motor takes the larger. They must stop by themselves after ``ms`` milliseconds (1 to 60,100), since nobody
        may be left to stop them. Calls lie at least 50 ms apart. Raises OSError if the device did not take it."""

    def stop(self) -> None:
        """Stop both motors at once. May be called while they stand, and before ``shake``. Raises OSError."""


HOOKS: dict[str, tuple[str, ...]] = {
    "strip": ("open", "booting", "feel", "write", "close"),
    "shaker": ("found", "shake", "stop"),
}
