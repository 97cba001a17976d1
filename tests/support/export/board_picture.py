"""Draw the README's picture of phones: the laptop in standby with a code, and a board before a match and in it.

``python -m tests.support.export.board_picture hardware_notes/board.png``; look at it before it is committed.
"""

import io
import os
import sys

import msgspec
from PIL import Image

from tests.support.channels.codes import FIRST, GIVEN
from tests.support.channels.screen_scenes import DEVICES, composer, status
from tests.support.export.board_stand import IN_MATCH, STANDBY, START, UPRIGHT, BoardService, board, running
from tests.support.export.exported_plans import bundled
from tests.support.export.page_stand import browser
from tocsin.channels.screen.drawing import Painter
from tocsin.channels.sdl import import_pygame
from tocsin.model.display.status import GIVE_RIGHTS, KeyHelp
from tocsin.model.safety import FlashGuard

HEIGHT, GAP = 560, 14
WINDOW = (1280, 720)
GREY = (120, 120, 120)
IN_MATCH_S = 60                        # between two calls, so that the digits stand


def laptop():
    """Return the window in standby: a phone may mark already, a code stands for the next one."""
    os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
    pygame = import_pygame("screen")
    pygame.font.init()
    painter = Painter(pygame)
    devices = tuple(msgspec.structs.replace(fact, state="ready", text="") for fact in DEVICES)
    shown = status("standby", begun=False, devices=devices, label="", battery="", awake="", plans=("Full",))
    gives = KeyHelp(key="u", does="let a phone mark or steer", action=GIVE_RIGHTS)
    boards = msgspec.structs.replace(FIRST, given=GIVEN[:1], watching=2)
    shown = msgspec.structs.replace(shown, keys=(*shown.keys, gives), boards=boards)
    surface = pygame.Surface(WINDOW, depth=32)
    painter.paint(surface, composer(painter.measure).look(shown, None, FlashGuard(8), WINDOW, 0, 0, focused=True))
    return Image.frombytes("RGB", WINDOW, pygame.image.tobytes(surface, "RGB"))


def phones():
    """Return a board before a match, dark, and in it, in the light look for the sun."""
    found = []
    stand = BoardService(bundled("full"))
    try:
        moments = (("dark", STANDBY, (*IN_MATCH[:3], START)), ("light", running(IN_MATCH_S), IN_MATCH))
        with browser() as chromium:
            for look, shown, can in moments:
                stand.show(shown, can, anew=True)
                with board(chromium, stand, device_scale_factor=2) as page:
                    page.knows()
                    if look == "light":
                        page.tab.click("#line .look")
                    page.await_that("document.querySelector('#title').textContent !== ''")
                    found.append(Image.open(io.BytesIO(page.tab.screenshot())).convert("RGB"))
    finally:
        stand.end()
    return found


def main(path):
    """Write the picture."""
    parts = [laptop(), *phones()]
    assert parts[1].height == 2 * UPRIGHT[1]
    parts = [part.resize((part.width * HEIGHT // part.height, HEIGHT), Image.Resampling.LANCZOS) for part in parts]
    whole = Image.new("RGB", (sum(part.width for part in parts) + GAP * (len(parts) + 1), HEIGHT + 2 * GAP), GREY)
    left = GAP
    for part in parts:
        whole.paste(part, (left, GAP))
        left += part.width + GAP
    whole.quantize(64).save(path, optimize=True)


if __name__ == "__main__":
    main(sys.argv[1])
