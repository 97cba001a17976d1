"""Translate SDL's window events into a channel's events."""

from types import ModuleType
from typing import Any

from tocsin.channels.device import Event
from tocsin.translation import tr

_NAMED = {
    "return": "enter", "+": "plus", "-": "minus", ",": "comma", ".": "period", "/": "slash", ";": "semicolon",
    "'": "quote", "=": "equals", "[": "left_bracket", "]": "right_bracket", "\\": "backslash", "`": "backquote",
    "page up": "page_up", "page down": "page_down", "pageup": "page_up", "pagedown": "page_down",
}  # fmt: skip
_MODIFIERS = (" shift", " ctrl", " alt", " meta", " gui", "alt gr", tr("caps lock"), "numlock")
# Places of the row of digits (USB HID usage ids, which SDL's scancodes are): on some layouts digits need shift.
_DIGIT_PLACES = {30 + n: str((n + 1) % 10) for n in range(10)}


def key_name(sdl_name: str, typed: str, scancode: int) -> str:
    """Return the rig's name of a key from SDL's name of it, the character typed, and the key's position.

    The typed character comes first, so that plus is plus on every layout. Shift and similar keys give an empty name.
    """
    if typed in ("+", "-"):
        return _NAMED[typed]
    if len(typed) == 1 and typed.isascii() and typed.isalnum():
        return typed.lower()
    if scancode in _DIGIT_PLACES:
        return _DIGIT_PLACES[scancode]
    name = sdl_name.lower()
    if name.endswith(_MODIFIERS):
        return ""
    if len(name) == 3 and name[0] == "[" and name[2] == "]":
        name = name[1]                             # a key of the number block
    return _NAMED.get(name, name.replace(" ", "_"))


class Events:
    """Reads SDL's event queue. ``resized`` and ``exposed`` describe the last call, ``focused`` the present."""

    def __init__(self, pygame: ModuleType) -> None:
        self._pygame = pygame
        self._down: dict[int, str] = {}
        self.resized = False
        self.exposed = False
        self.focused = bool(pygame.key.get_focused())

    def take(self, now_ns: int) -> list[Event]:
        """Return presses, releases and the wish to leave."""
        pygame = self._pygame
        self.resized = self.exposed = False
        told: list[Event] = []
        for event in pygame.event.get():
            if event.type == pygame.KEYDOWN:
                told += self._press(event, now_ns)
            elif event.type == pygame.KEYUP:
                told += self._release(event.scancode, now_ns)
            elif event.type == pygame.WINDOWSIZECHANGED:
                self.resized = True
            elif event.type in (pygame.WINDOWEXPOSED, pygame.WINDOWRESTORED, pygame.WINDOWSHOWN):
                self.exposed = True
            elif event.type in (pygame.WINDOWFOCUSGAINED, pygame.WINDOWFOCUSLOST):
                self.focused = event.type == pygame.WINDOWFOCUSGAINED
                self.exposed = True                        # the line of keys changes
            elif event.type == pygame.QUIT:
                told.append(Event(kind="leave", at_ns=now_ns))
        return told

    def _press(self, event: Any, now_ns: int) -> list[Event]:
        pygame = self._pygame
        if event.mod & (pygame.KMOD_CTRL | pygame.KMOD_META) or event.mod & pygame.KMOD_LALT:
            return []                                      # a shortcut of the desktop is no key of ours
        name = key_name(pygame.key.name(event.key), event.unicode, event.scancode)
        if not name or event.scancode in self._down:
            return []
        self._down[event.scancode] = name
        return [Event(kind="press", at_ns=now_ns, what=name)]

    def _release(self, scancode: int, now_ns: int) -> list[Event]:
        name = self._down.pop(scancode, "")
        return [Event(kind="release", at_ns=now_ns, what=name)] if name else []
