"""The code on the window: read back by a reader that is not ours, and nothing pushed out by it."""

import msgspec
import numpy as np
import pytest

from tests.channels.screen.test_round_result import PUSHED as PICTURE
from tests.support.channels.codes import FIRST, GIVES, MISSING, SECOND, UNTIL_NS, WATCHES, ZBAR, scanned
from tests.support.channels.screen_scenes import DEVICES, LOADED, LOST, TIMELINE, composer, status
from tests.support.channels.screen_stand import MISSING as NO_WINDOW
from tests.support.channels.screen_stand import Server, Window, wait_for
from tests.support.thinned import crossed
from tocsin.channels.screen.code import LEAST_PX, MARGIN, module_px
from tocsin.channels.screen.drawing import Painter
from tocsin.channels.sdl import import_pygame
from tocsin.model.display.boards import GivenBoard
from tocsin.model.display.status import KeyHelp
from tocsin.model.rig import Screen
from tocsin.model.safety import BLACK, FlashGuard
from tocsin.units import NS_PER_S
from tocsin.workers.protocol import ShowStatus

pygame = import_pygame("screen")
pygame.font.init()
PAINTER = Painter(pygame)
SIZES = [(1280, 720), (1366, 768), (1920, 1080), (800, 600), (600, 900), (2560, 600)]
WHITE = (255, 255, 255)
KEY = KeyHelp(key="h", does="let a phone mark or lead", action="phones")
CARD = ("Round 3 of 12: Home in time", "Crew B: one drives, the other operates", "Both robots start at the far wall")
DRILL = {"card": CARD, "ask": "Press f once nobody is on the field", "clear_until_ns": UNTIL_NS, "notice": "noted"}
reads = pytest.mark.skipif(ZBAR is None, reason="zbarimg is not installed")


def standby(boards, **facts):
    shown = status("standby", begun=False, **facts)
    return msgspec.structs.replace(shown, keys=(*shown.keys, KEY), boards=boards)


def look_at(shown, size, now_ns=0, focused=True):
    return composer(PAINTER.measure).look(shown, None, FlashGuard(8), size, now_ns, 0, focused=focused)


def painted(look):
    surface = pygame.Surface(look.window[2:], depth=32)
    PAINTER.paint(surface, look)
    return np.frombuffer(pygame.image.tobytes(surface, "RGB"), np.uint8).reshape(look.window.h, look.window.w, 3)


def field_of(look):
    """Return the box of the code's white field, the largest of all that is drawn."""
    fields = []
    for shape in look.shapes:
        if shape.kind == "polygon" and shape.colour == WHITE and len(shape.points) == 4:
            (left, top), _, (right, bottom), _ = shape.points
            fields.append(pygame.Rect(left, top, right - left + 1, bottom - top + 1))
    return max(fields, key=lambda field: field.w * field.h)


@reads
@pytest.mark.devices
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    ("shown", "text"),
    [
        (standby(FIRST), WATCHES), (standby(MISSING, devices=LOST), WATCHES), (standby(SECOND, **DRILL), GIVES),
        (status("scrapped", begun=False, boards=FIRST), WATCHES), (status("over", boards=SECOND), GIVES),
    ],
)  # fmt: skip
def test_it_is_read_at_every_size_and_beside_everything(shown, text, size):
    assert scanned(painted(look_at(shown, size))) == [text]


@crossed(size=SIZES, boards=[FIRST, MISSING, SECOND], facts=[{}, {"devices": LOST}, DRILL])
def test_all_words_of_standby_stay_and_none_lies_on_the_code(size, boards, facts):
    bare, look = look_at(standby(None, **facts), size), look_at(standby(boards, **facts), size)
    assert [text.text for text in look.texts[: len(bare.texts)]] == [text.text for text in bare.texts]
    field = field_of(look)
    assert pygame.Rect(look.window).contains(field)
    assert not any(field.colliderect(text.box) for text in look.texts)
    boxes = [pygame.Rect(text.box) for text in look.texts]
    assert all(not one.colliderect(other) for n, one in enumerate(boxes) for other in boxes[:n])


@pytest.mark.parametrize("size", SIZES)
def test_words_of_standby_stay_large_enough_to_be_read_from_where_they_are_pressed(size):
    """At least 12 pixels of line height, and two thirds of what they are without a code."""
    bare, look = look_at(standby(None, **DRILL), size), look_at(standby(FIRST, **DRILL), size)
    for before, text in zip(bare.texts, look.texts, strict=False):
        assert text.line_px >= min(before.line_px, 12), text.name
        assert text.line_px >= 0.66 * before.line_px, text.name


@pytest.mark.parametrize("size", SIZES)
def test_there_are_four_modules_of_white_around_it_and_each_is_whole_pixels(size):
    look = look_at(standby(FIRST), size)
    field, pixels = field_of(look), painted(look)
    px = field.w // (len(FIRST.code) + 2 * MARGIN)
    assert (field.w, field.h) == (px * 41, px * 41)
    assert px >= LEAST_PX
    cut = pixels[field.top : field.bottom, field.left : field.right]
    whole = np.kron(
        np.pad(np.array([[bit == "1" for bit in row] for row in FIRST.code]), MARGIN), np.ones((px, px), bool)
    )
    assert (cut[whole] == BLACK).all()
    assert (cut[~whole] == WHITE).all()


def test_a_window_too_small_for_a_code_has_the_words():
    look = look_at(standby(FIRST), (320, 200))
    assert module_px(FIRST.code, 200) == 0
    assert not look.shapes
    (told,) = (text.text for text in look.texts if text.name == "boards")
    assert FIRST.address in told


def test_a_service_on_this_laptop_only_has_no_code_and_says_so():
    look = look_at(standby(msgspec.structs.replace(FIRST, code=())), SIZES[0])
    assert not look.shapes
    assert any("on\N{NO-BREAK SPACE}this\N{NO-BREAK SPACE}laptop" in text.text for text in look.texts)


@pytest.mark.parametrize("phase", ["waiting", "running", "held"])
def test_nothing_of_it_stands_in_a_match(phase):
    with_it, without = (look_at(status(phase, boards=boards), SIZES[0]) for boards in (SECOND, None))
    assert with_it == without


def test_after_a_match_only_a_code_that_was_asked_for_stands_there():
    assert look_at(status("over", boards=FIRST), SIZES[0]) == look_at(status("over"), SIZES[0])
    assert look_at(status("over", boards=SECOND), SIZES[0]).shapes


def test_more_boards_than_are_read_are_counted_those_that_are_here_first():
    given = [GivenBoard(number=n, right="mark", here=n > 2) for n in range(1, 8)]
    look = look_at(standby(msgspec.structs.replace(FIRST, given=tuple(given), watching=1)), SIZES[0])
    (who,) = (text.text for text in look.texts if text.name == "code who")
    names = " ".join(who.replace("\N{NO-BREAK SPACE}", " ").split())
    assert names == (
        "board 3 marks · board 4 marks · board 5 marks · board 6 marks · 3 more with rights · 1 board watches"
    )


@pytest.mark.parametrize("size", SIZES)
def test_a_rounds_picture_makes_room_for_a_code_that_was_asked_for(size):
    """And loses none of its words."""
    shown = msgspec.structs.replace(status("over"), picture=PICTURE, result=("Contact after the call",))
    bare, look = (look_at(msgspec.structs.replace(shown, boards=boards), size) for boards in (None, SECOND))
    assert {text.text for text in bare.texts} <= {text.text for text in look.texts}
    field = field_of(look)
    assert not any(field.colliderect(text.box) for text in look.texts)
    reach = [point for shape in look.shapes if shape.kind == "disc" for point in shape.points]
    assert reach
    assert not any(field.collidepoint(point) for point in reach)


def test_the_second_code_is_counted_down_in_its_words():
    def said(now_ns):
        return next(text.text for text in look_at(standby(SECOND), SIZES[0], now_ns).texts if text.name == "code")

    may = "this phone may mark, and lead rounds: start, hold, cancel"
    assert said(0) == f"Scan within 10 s: {may}"
    assert said(UNTIL_NS - NS_PER_S // 2) == f"Scan within 1 s: {may}"
    made = composer(PAINTER.measure)
    made.look(standby(SECOND), None, FlashGuard(8), SIZES[0], 0, 0, focused=True)
    assert abs(made.stale_ns - NS_PER_S) < NS_PER_S // 100


@reads
@pytest.mark.devices
@pytest.mark.skipif(bool(NO_WINDOW), reason=f"not installed: {', '.join(NO_WINDOW)}")
@pytest.mark.parametrize("size", [(1280, 720), (800, 600)])
def test_it_is_read_from_what_a_real_window_shows_and_gone_with_the_service(size):
    server = Server(size)
    try:
        window = Window(server.name, Screen(fullscreen=True))
        try:
            ready = tuple(msgspec.structs.replace(fact, state="ready", text="") for fact in DEVICES)
            window.show(TIMELINE, LOADED.plans[0].plan.patterns, standby(FIRST, devices=ready))
            wait_for(lambda: scanned(server.pixels()) == [WATCHES])
            window.send(ShowStatus(status=standby(SECOND, **DRILL)))
            wait_for(lambda: scanned(server.pixels()) == [GIVES])
            window.send(ShowStatus(status=standby(None)))
            wait_for(lambda: scanned(server.pixels()) == [])
        finally:
            assert window.close() == (0, "")
    finally:
        server.close()
