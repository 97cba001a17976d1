"""Wrap SDL's joysticks: opened only while bound, plugged in and out at any time.

Rules from measurements of SDL: without a window SDL's display is still initialised, the module is never initialised
twice, Joystick objects stay referenced, and a pad that is gone answers False. The list of pads is read anew at each
sign of a change, since SDL drops and renumbers its "added" events when pads come and go within one pump (measured).
"""

from types import ModuleType
from typing import Any, ClassVar, Literal

import msgspec

from tocsin.channels.rumble.pads import FoundPad, Numbers
from tocsin.channels.sdl import import_pygame
from tocsin.model.plan import ChannelName


class Button(msgspec.Struct, frozen=True):
    """A button went down or up."""

    kind: Literal["press", "release"]
    instance_id: int
    button: int


class Joysticks:
    """The pads that SDL sees. All calls must come from the thread that made it."""

    name: ClassVar[ChannelName] = "rumble"         # the channel whose devices they are

    def __init__(self, *, hidapi: bool) -> None:
        self._pygame: ModuleType = import_pygame("rumble", hidapi=hidapi)
        self._numbers = Numbers()
        self._open: dict[int, Any] = {}
        self._count = -1

    @property
    def found(self) -> tuple[FoundPad, ...]:
        """The pads plugged in at the last ``poll``, by number."""
        return self._numbers.pads

    def start(self) -> None:
        """Initialise SDL. Raises pygame.error, a RuntimeError."""
        pygame = self._pygame
        pygame.display.init()
        pygame.joystick.init()
        # A stick in motion makes a thousand events a second that nobody here wants.
        pygame.event.set_blocked(None)
        pygame.event.set_allowed(
            [pygame.JOYDEVICEADDED, pygame.JOYDEVICEREMOVED, pygame.JOYBUTTONDOWN, pygame.JOYBUTTONUP]
        )

    def poll(self) -> tuple[list[Button], bool]:
        """Pump SDL; return the button events of opened pads, and whether pads came or went."""
        pygame = self._pygame
        buttons: list[Button] = []
        changed = False
        for event in pygame.event.get():
            if event.type == pygame.JOYBUTTONDOWN:
                buttons.append(Button("press", event.instance_id, event.button))
            elif event.type == pygame.JOYBUTTONUP:
                buttons.append(Button("release", event.instance_id, event.button))
            else:
                changed = True
        if changed or pygame.joystick.get_count() != self._count:
            changed = self._scan()
        return buttons, changed

    def keep(self, instance_ids: set[int]) -> None:
        """Close all pads but these, so that a robot's pad is not held."""
        for instance_id in self._open.keys() - instance_ids:
            self._open.pop(instance_id).quit()

    def rumble(self, instance_id: int, strong: float, weak: float, ms: int) -> bool:
        """Set both motors, 0 to 1, for ``ms``; return whether the pad took it. May block as long as the driver does."""
        joystick = self._open.get(instance_id)
        return joystick is not None and bool(joystick.rumble(strong, weak, ms))

    def stop(self, instance_id: int) -> None:
        """Stop both motors; does nothing if the pad is gone."""
        joystick = self._open.get(instance_id)
        if joystick is not None:
            joystick.stop_rumble()

    def pump(self) -> None:
        """Let SDL do its work; events stay in its queue."""
        self._pygame.event.pump()

    def close(self) -> None:
        """Close all pads and SDL. May be called twice."""
        self.keep(set())
        self._pygame.joystick.quit()
        self._pygame.display.quit()

    def _scan(self) -> bool:
        """Open everything that is there and note what is new and what is gone; return whether anything is."""
        opener = self._pygame.joystick
        self._count = opener.get_count()
        there = {pad.get_instance_id(): pad for pad in map(opener.Joystick, range(self._count))}
        known = {pad.instance_id for pad in self._numbers.pads}
        for instance_id in known - there.keys():
            self._numbers.remove(instance_id)
        for instance_id in sorted(there.keys() - known):
            pad = there[instance_id]
            self._numbers.add(instance_id, pad.get_guid(), pad.get_name())
        self._open = there
        return known != there.keys()
