"""SDL's virtual joystick, through ctypes on the very SDL library that pygame has loaded.

It is a pad as far as SDL and pygame can tell: it is plugged in and out, its buttons are pressed, and SDL calls its
driver's Rumble for each change of the motors. Everything here runs on the thread that owns SDL; the structs and the
callbacks stay referenced as long as SDL may use them.

Struct and functions: SDL_joystick.h of SDL 2.24 and later (SDL_VirtualJoystickDesc, version 1), from memory.
"""

import ctypes
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

_VOID = ctypes.c_void_p
_RUMBLE = ctypes.CFUNCTYPE(ctypes.c_int, _VOID, ctypes.c_uint16, ctypes.c_uint16)
_GAME_CONTROLLER = 1                   # SDL_JOYSTICK_TYPE_GAMECONTROLLER

# low and high frequency motor, 0 to 65535
OnRumble = Callable[[int, int], None]


class _Description(ctypes.Structure):
    """SDL_VirtualJoystickDesc."""

    _fields_ = [
        ("version", ctypes.c_uint16),
        ("type", ctypes.c_uint16),
        ("naxes", ctypes.c_uint16),
        ("nbuttons", ctypes.c_uint16),
        ("nhats", ctypes.c_uint16),
        ("vendor_id", ctypes.c_uint16),
        ("product_id", ctypes.c_uint16),
        ("padding", ctypes.c_uint16),
        ("button_mask", ctypes.c_uint32),
        ("axis_mask", ctypes.c_uint32),
        ("name", ctypes.c_char_p),
        ("userdata", _VOID),
        ("update", _VOID),
        ("set_player_index", _VOID),
        ("rumble", _RUMBLE),
        ("rumble_triggers", _VOID),
        ("set_led", _VOID),
        ("send_effect", _VOID),
    ]


def sdl_path() -> str | None:
    """Return the path of the SDL library that the imported pygame uses, or None if it is not found.

    Linux was tested; the places on Windows and macOS are those of pygame's wheels (from memory).
    """
    package = Path(sys.modules["pygame"].__file__ or "").parent
    if sys.platform == "win32":
        places = [package / "SDL2.dll"]
    elif sys.platform == "darwin":
        places = sorted((package / ".dylibs").glob("libSDL2-2*.dylib"))
    else:
        lines = Path("/proc/self/maps").read_text(encoding="utf-8").splitlines()
        places = [Path(line.split(maxsplit=5)[-1]) for line in lines if "/libSDL2-2" in line]
    return next((str(place) for place in places if place.exists()), None)


class VirtualPads:
    """The virtual pads of this process, by a name of the test's own."""

    def __init__(self) -> None:
        path = sdl_path()
        if path is None:
            raise OSError("the SDL library that pygame loaded was not found")
        self._sdl: Any = ctypes.CDLL(path)
        self._sdl.SDL_JoystickOpen.restype = _VOID
        self._sdl.SDL_JoystickSetVirtualButton.argtypes = [_VOID, ctypes.c_int, ctypes.c_uint8]
        self._sdl.SDL_JoystickSetVirtualAxis.argtypes = [_VOID, ctypes.c_int, ctypes.c_int16]
        self._sdl.SDL_JoystickClose.argtypes = [_VOID]
        self._sdl.SDL_GetError.restype = ctypes.c_char_p
        self._kept: list[object] = []
        self._plugged: dict[str, tuple[int, int]] = {}

    @property
    def plugged(self) -> tuple[str, ...]:
        """The pads that are plugged in."""
        return tuple(self._plugged)

    def attach(self, pad: str, usb: str, name: str, on_rumble: OnRumble | None, *, axes: int = 6) -> None:
        """Plug a pad in; without ``on_rumble`` it has no motors."""
        vendor, product = (int(part, 16) for part in usb.split(":"))

        def rumble(userdata: int, low: int, high: int) -> int:
            on_rumble(low, high)
            return 0

        callback = _RUMBLE(rumble) if on_rumble else _RUMBLE()
        description = _Description(
            version=1, type=_GAME_CONTROLLER, naxes=axes, nbuttons=16, vendor_id=vendor, product_id=product,
            name=name.encode(), rumble=callback,
        )  # fmt: skip
        self._kept += [callback, description]
        index = self._sdl.SDL_JoystickAttachVirtualEx(ctypes.byref(description))
        if index < 0:
            raise OSError(self._sdl.SDL_GetError().decode())
        # Opened here too, so that a button can be pressed whether or not anybody else has opened the pad.
        self._plugged[pad] = (self._sdl.SDL_JoystickGetDeviceInstanceID(index), self._sdl.SDL_JoystickOpen(index))

    def detach(self, pad: str) -> None:
        """Pull a pad's plug."""
        instance_id, handle = self._plugged.pop(pad)
        count = self._sdl.SDL_NumJoysticks()
        index = next(i for i in range(count) if self._sdl.SDL_JoystickGetDeviceInstanceID(i) == instance_id)
        self._sdl.SDL_JoystickDetachVirtual(index)
        self._sdl.SDL_JoystickClose(handle)

    def press(self, pad: str, button: int, down: bool) -> None:
        """Press or release a button; SDL tells of it with its next pump."""
        self._sdl.SDL_JoystickSetVirtualButton(self._plugged[pad][1], button, down)

    def tilt(self, pad: str, axis: int, value: int) -> None:
        """Move a stick, -32768 to 32767."""
        self._sdl.SDL_JoystickSetVirtualAxis(self._plugged[pad][1], axis, value)
