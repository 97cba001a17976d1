"""Draw the picture of the README and of ``hardware_notes/screen.md``: four moments of the window, in the bundled plan.

``python -m tests.support.channels.screen_picture hardware_notes/screen.png``; look at it before it is committed.
"""

import os
import sys

import msgspec

from tests.support.channels.screen_scenes import DEVICES, MATCH_NS, SCENES, composer, showing, status
from tocsin.channels.screen.drawing import Painter
from tocsin.channels.sdl import import_pygame
from tocsin.model.safety import FlashGuard
from tocsin.units import NS_PER_S

SIZE = (1280, 720)
# Left to right, then below: between cues, the call home in full, its frame, no touch.
MOMENTS = ("home, coming", "home, full", "home", "no touch, full")
BEFORE_S = 7                           # the first moment, before the call home


def moment(name):
    """Return the match seconds of a moment."""
    return SCENES["home, full"][1] - 0.5 - BEFORE_S if name == "home, coming" else SCENES[name][1]


def main(path):
    """Write the picture."""
    os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
    pygame = import_pygame("screen")
    pygame.font.init()
    painter = Painter(pygame)
    devices = tuple(msgspec.structs.replace(fact, state="ready", text="") for fact in DEVICES)
    whole = pygame.Surface(SIZE, depth=32)
    for number, name in enumerate(MOMENTS):
        seconds = moment(name)
        look = composer(painter.measure).look(
            status("running", devices=devices, label="", battery="", awake=""), showing(seconds), FlashGuard(8), SIZE,
            MATCH_NS + round(seconds * NS_PER_S), 0, focused=True,
        )  # fmt: skip
        window = pygame.Surface(SIZE, depth=32)
        painter.paint(window, look)
        half = (SIZE[0] // 2, SIZE[1] // 2)
        whole.blit(pygame.transform.smoothscale(window, half), (number % 2 * half[0], number // 2 * half[1]))
    pygame.image.save(whole, path)


if __name__ == "__main__":
    main(sys.argv[1])
