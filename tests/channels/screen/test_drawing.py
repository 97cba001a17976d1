"""What the screen draws piece by piece, held to the same look drawn at once: nothing left behind, nothing wiped out."""

import msgspec
import pytest

from tests.support.channels.screen_scenes import LOST, MATCH_NS, SIZES, TIMELINE, composer, showing, status
from tocsin.channels.screen.drawing import Look, Painter
from tocsin.channels.screen.field import Box
from tocsin.channels.screen.layout import place
from tocsin.channels.screen.rows import WHITE, beneath_rows, cue_rows, view_rows
from tocsin.channels.sdl import import_pygame
from tocsin.model.display.status import DeviceFact
from tocsin.model.display.view_model import ViewModelMaker
from tocsin.model.safety import FlashGuard
from tocsin.units import NS_PER_MS, NS_PER_S

pygame = import_pygame("screen")
pygame.font.init()
PAINTER = Painter(pygame)
# Match seconds and the steps after them: digits in a full field, from full field to frame, a frame that shrinks with
# digits and without, one that steps, swelling, the end of a cue.
WAYS = {
    "digits in stripes": (114.4, 900),
    "digits in a plain field": (126.4, 900),
    "full to frame": (115.4, 200),
    "frame shrinks": (116.2, 50),
    "frame shrinks, digits": (116.99, 50),
    "frame shrunk, digits": (117.97, 20),
    "frame stands, digits": (121.9, 200),
    "frame steps": (133.9, 200),
    "field swells": (102.3, 100),
    "frame swells, digits": (103.9, 200),
    "cue ends": (104.9, 300),
}


@pytest.mark.parametrize("size", SIZES[:2] + SIZES[3:4], ids=str)
@pytest.mark.parametrize("way", WAYS)
def test_piecewise_is_as_if_drawn_at_once(way, size):
    seconds, step_ms = WAYS[way]
    begin_ns = MATCH_NS + round(seconds * NS_PER_S)
    before, after = (_look(at_ns, size) for at_ns in (begin_ns, begin_ns + step_ms * NS_PER_MS))
    piecewise, at_once = pygame.Surface(size, depth=32), pygame.Surface(size, depth=32)
    PAINTER.paint(piecewise, before)
    shown = piecewise.copy()
    for box in PAINTER.repaint(piecewise, before, after):
        shown.blit(piecewise, box, box)
    PAINTER.paint(at_once, after)
    expected = pygame.image.tobytes(at_once, "RGB")
    assert pygame.image.tobytes(piecewise, "RGB") == expected
    assert pygame.image.tobytes(shown, "RGB") == expected, "something was drawn and not shown"


@pytest.mark.parametrize("size", SIZES[:2], ids=str)
def test_lost_device_stays_whole_while_digits_count(size):
    looks = [_look(MATCH_NS + ms * NS_PER_MS, size, devices=LOST) for ms in (122_500, 123_500)]
    piecewise, at_once = pygame.Surface(size, depth=32), pygame.Surface(size, depth=32)
    PAINTER.paint(piecewise, looks[0])
    PAINTER.repaint(piecewise, *looks)
    PAINTER.paint(at_once, looks[1])
    assert pygame.image.tobytes(piecewise, "RGB") == pygame.image.tobytes(at_once, "RGB")


def _look(at_ns, size, **facts):
    """Return the look at a time, as it would stand alone: no flash before it."""
    shot = showing((at_ns - MATCH_NS) / NS_PER_S)
    return composer(PAINTER.measure).look(
        status("running", **facts), shot, FlashGuard(8), size, at_ns, 0, focused=True
    )


def test_what_others_wrote_is_drawn_escaped_and_stops_nobody():
    hostile = "\x1b]0;own\x07\u202egnp\0\r\n\ud800\U0001f600[bold] übung " * 40
    told = msgspec.structs.replace(
        status("standby"), label=hostile, notice=hostile, earlier=(hostile,), card=(), result=(hostile,),
        devices=(DeviceFact(what="light", state="absent", text=hostile),), plans=(hostile,), battery=hostile,
    )  # fmt: skip
    view = ViewModelMaker(TIMELINE).at(told, MATCH_NS)
    rows = [*view_rows(view, focused=True), *cue_rows(view, hostile, WHITE)]
    rows += beneath_rows(view, keys=True, focused=True)
    assert any("übung" in row.text for row in rows)
    assert [char for row in rows for char in row.text if not char.isprintable() and char != "\N{NO-BREAK SPACE}"] == []
    area = Box(0, 0, 1280, 720)
    PAINTER.paint(pygame.Surface((1280, 720)), Look(area, tuple(place(rows, area, 720, PAINTER.measure)), area))
