"""Open the window: on which display, how large, and whether there is a display at all."""

import os
from types import ModuleType
from typing import NamedTuple

from tocsin.channels.screen.icon import icon
from tocsin.channels.sdl import NAME
from tocsin.model.rig import Screen
from tocsin.translation import tr

# Drivers that SDL falls back to without a word where no display is (measured).
_NO_DISPLAY = ("offscreen", "dummy")


class WindowOpening(NamedTuple):
    """The result of opening: the window's ``name``, or ``why`` there is none."""

    name: str
    why: str = ""


def open_window(pygame: ModuleType, screen: Screen, *, drives_robot: bool) -> WindowOpening:
    """Open the window on the rig's display, or on the first one if that is missing."""
    # Both are hints that SDL reads when it needs them. Windows would otherwise scale the window as a picture.
    os.environ.setdefault("SDL_WINDOWS_DPI_AWARENESS", "permonitorv2")
    if drives_robot:
        # The keyboard belongs to the program that drives the robot until a person clicks this window.
        os.environ.setdefault("SDL_WINDOW_NO_ACTIVATION_WHEN_SHOWN", "1")
    try:
        if why := start_display(pygame):
            return WindowOpening("", why)
        pygame.font.init()
        return WindowOpening(_set_mode(pygame, screen))
    except pygame.error as error:
        close_window(pygame)
        return WindowOpening("", tr("no window: {error}", error=error))


def start_display(pygame: ModuleType) -> str:
    """Initialise SDL's display; return why there is none, or an empty text. Raises pygame.error, a RuntimeError."""
    pygame.display.init()
    driver = pygame.display.get_driver()
    if driver in _NO_DISPLAY and driver not in os.environ.get("SDL_VIDEODRIVER", ""):
        close_window(pygame)
        return tr("no display; log in at the laptop itself, or set DISPLAY")
    return ""


def close_window(pygame: ModuleType) -> None:
    """Close the window and SDL's display; may be called twice."""
    pygame.display.quit()


def _set_mode(pygame: ModuleType, screen: Screen) -> str:
    sizes = pygame.display.get_desktop_sizes()
    display = screen.display if screen.display < len(sizes) else 0
    pygame.display.set_caption(NAME)
    pygame.display.set_icon(icon(pygame))               # before the window is there, or some systems keep SDL's own
    if screen.fullscreen:
        # A borderless window rather than FULLSCREEN, which misplaces itself on second displays.
        surface = pygame.display.set_mode(sizes[display], pygame.NOFRAME, display=display)
        pygame.mouse.set_visible(False)
    else:
        size = (min(screen.width, sizes[display][0]), min(screen.height, sizes[display][1]))
        surface = pygame.display.set_mode(size, pygame.RESIZABLE, display=display)
    width, height = surface.get_size()
    missing = tr(", as there is no display {display}", display=screen.display) if display != screen.display else ""
    return tr(
        "{width} × {height} on display {display}{missing}", width=width, height=height, display=display,
        missing=missing,
    )
