"""Set the environment that SDL needs before it is loaded; this is the only module that imports pygame.

Sources of the hints: SDL wiki and issue threads, measured on Linux only.
"""

import os
import sys
from types import ModuleType
from typing import Literal

Use = Literal["rumble", "screen", "sound"]
NAME = "Tocsin"                        # of the window, and of the program to the system's mixer and window list


def hints(use: Use, *, hidapi: bool = False) -> dict[str, str]:
    """Return the environment variables that SDL must see before it is loaded for ``use``."""
    env = {
        "PYGAME_HIDE_SUPPORT_PROMPT": "1",
        "SDL_NO_SIGNAL_HANDLERS": "1",            # else SIGTERM would only queue a QUIT event
        "SDL_APP_NAME": NAME,                     # else a mixer or a screen saver shows SDL's, or a file's
    }
    if use == "rumble":
        env["SDL_JOYSTICK_ALLOW_BACKGROUND_EVENTS"] = "1"     # buttons count without focus
        env["SDL_JOYSTICK_RAWINPUT"] = "0"                    # loses rumble on Windows
        # The HIDAPI drivers put pads into another report mode, which breaks other programs' input: opt-in.
        env["SDL_JOYSTICK_HIDAPI"] = "1" if hidapi else "0"
        if sys.platform == "win32":
            env["SDL_JOYSTICK_THREAD"] = "1"                  # there is no window to pump
        elif sys.platform == "darwin":
            env["SDL_MAC_BACKGROUND_APP"] = "1"               # pads need the Cocoa driver, not its dock icon
        else:
            env["SDL_VIDEODRIVER"] = "dummy"
    if use == "sound":
        env["SDL_VIDEODRIVER"] = "dummy"                      # events tell of a lost device; no window, no dock icon
    if use == "screen":
        # The class by which a window list groups windows, else the name of the file that Python runs.
        env["SDL_VIDEO_X11_WMCLASS"] = env["SDL_VIDEO_WAYLAND_WMCLASS"] = NAME.lower()
    if use == "screen" and sys.platform != "darwin":
        env["SDL_FRAMEBUFFER_ACCELERATION"] = "0"             # else the surface goes through OpenGL, here in software
    return env


def import_pygame(use: Use, *, hidapi: bool = False) -> ModuleType:
    """Set the hints, import pygame and return it; no pygame module is initialised yet.

    Optional packages that pygame imports and Tocsin does not use are blocked: numpy, for its array modules, costs each
    process 90 ms and some 25 MB; pkg_resources of older setuptools, with which it finds its own font, 150 ms and 6 MB
    (measured; without it pygame takes the path of its folder).
    """
    os.environ.update(hints(use, hidapi=hidapi))
    blocked = [name for name in ("numpy", "pkg_resources") if name not in sys.modules]
    sys.modules.update(dict.fromkeys(blocked))  # type: ignore[arg-type]
    try:
        import pygame  # only once the environment is set
    finally:
        for name in blocked:
            del sys.modules[name]
    return pygame
