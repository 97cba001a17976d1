"""The screen's worker in a real window on a virtual X server: what can be seen, pixel by pixel, and its keys."""

import msgspec
import numpy as np
import pytest

from tests.support.channels.screen_scenes import (
    DEVICES,
    FIRINGS,
    LOADED,
    LOST,
    ORIGIN,
    PATTERNS,
    TIMELINE,
    composer,
    showing,
    status,
)
from tests.support.channels.screen_stand import MISSING, Server, Window, wait_for
from tocsin import monotime
from tocsin.channels.screen.drawing import Painter
from tocsin.channels.screen.field import Box
from tocsin.channels.screen.icon import SIDE, icon
from tocsin.channels.sdl import import_pygame
from tocsin.model.rig import Screen
from tocsin.model.safety import BLACK, OKABE_ITO, FlashGuard, contrast
from tocsin.units import NS_PER_MS, NS_PER_S
from tocsin.workers.protocol import Command, Fired, NewOrigins, Safe, ShowStatus

pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(bool(MISSING), reason=f"not installed: {', '.join(MISSING)}"),
]

SIZE = (1280, 720)
WHOLE = Screen(fullscreen=True, latency_ns=16 * NS_PER_MS)
LEAD_NS = 400 * NS_PER_MS
pygame = import_pygame("screen")
pygame.font.init()
PAINTER = Painter(pygame)


@pytest.fixture(scope="module")
def server():
    server = Server(SIZE)
    yield server
    server.close()


@pytest.fixture
def window(server):
    window = Window(server.name, WHOLE)
    server.focus()
    window.show(TIMELINE, LOADED.plans[0].plan.patterns, status("standby", begun=False))
    yield window
    code, complaints = window.close()
    assert (code, complaints) == (0, "")


def painted(look):
    surface = pygame.Surface(look.window[2:], depth=32)
    PAINTER.paint(surface, look)
    return np.frombuffer(pygame.image.tobytes(surface, "RGB"), np.uint8).reshape(look.window.h, look.window.w, 3)


def standing(shown, at_ns=0):
    """Return the pixels of a face without a cue."""
    look = composer(PAINTER.measure).look(shown, None, FlashGuard(8), SIZE, at_ns, 0, focused=True)
    return painted(look)


def field_share(pixels, look, pattern):
    """Return the share of the window that is in a cue's colours outside its plate; black stripes count as lit."""
    lit = np.zeros(pixels.shape[:2], bool)
    for colour in pattern.colours:
        if colour != BLACK:
            lit |= (pixels == colour).all(axis=2)
    plate = look.plate
    lit[plate.y : plate.bottom, plate.x : plate.right] = False
    return lit.mean() * (2 if pattern.field == "stripes" and BLACK in pattern.colours else 1)


def begin(window, cue):
    """Let a cue of the plan come; return its firing once it has come, and the match's origin.

    Where the machine stalls so long that it is left out as too late, it comes again.
    """
    firing = next(f for f in FIRINGS if f.cue == cue)
    patterns = LOADED.plans[0].plan.patterns
    for _ in range(5):
        before = len(list(window.messages(Fired)))
        origin_ns = monotime.now_ns() + LEAD_NS - firing.begin.offset_ns
        origin = msgspec.structs.replace(ORIGIN, origin_ns=origin_ns)
        window.show(TIMELINE, patterns, status("running", origins=(origin,)))
        window.start(origin_ns)
        came = wait_for(
            lambda before=before: next((m for m in list(window.messages(Fired))[before:] if m.no == firing.no), None)
        )
        if came.outcome == "played":
            return firing, origin
    raise AssertionError(f"{cue} was left out five times: {came}")


def test_standby_is_on_the_window_as_it_is_laid_out(server, window):
    expected = standing(status("standby", begun=False))
    assert wait_for(lambda: np.array_equal(server.pixels(), expected))


def test_a_window_manager_is_told_our_name_and_icon(server, window):
    told = server.properties("_NET_WM_NAME", "WM_CLASS", "_NET_WM_ICON")
    assert told["_NET_WM_NAME"] == '"Tocsin"'
    assert told["WM_CLASS"] == '"tocsin", "tocsin"'          # that of the file that Python runs, if nobody says it
    width, height, *pixels = (int(number) for number in told["_NET_WM_ICON"].split(","))
    drawn = np.frombuffer(pygame.image.tobytes(icon(pygame), "RGB"), np.uint8).reshape(height, width, 3)
    shown = np.array(pixels, np.uint32).reshape(height, width)
    assert np.array_equal(np.stack([shown >> 16 & 255, shown >> 8 & 255, shown & 255], axis=2), drawn)


def test_the_icon_is_the_same_from_both_sides_and_reads_in_grey():
    drawn = np.frombuffer(pygame.image.tobytes(icon(pygame), "RGB"), np.uint8).reshape(SIDE, SIDE, 3)
    assert np.array_equal(drawn, drawn[:, ::-1])
    assert np.array_equal(drawn, drawn[::-1])
    colours = {tuple(map(int, colour)) for colour in drawn.reshape(-1, 3)}
    assert colours == {BLACK, OKABE_ITO["white"], OKABE_ITO["reddish_purple"]}
    # Of shapes on their ground: WCAG 2.2, 1.4.11 (W3C, 2023).
    assert min(contrast(colour, BLACK) for colour in colours - {BLACK}) >= 3


def test_piecewise_drawing_leaves_nothing_behind(server, window):
    """From cue to cue, through digits and frames that move, to a face that must be as if drawn at once."""
    begin(window, "home")
    window.send(ShowStatus(status=status("running", devices=LOST)))
    begin(window, "choose")
    held = status("held", origins=(ORIGIN,), held_ns=ORIGIN.origin_ns + 50 * NS_PER_S)
    window.send(NewOrigins(origins=(), variant=""))
    window.send(ShowStatus(status=held))
    assert wait_for(lambda: np.array_equal(server.pixels(), standing(held)))


@pytest.mark.parametrize("cue", ["last_load", "home", "no_touch", "choose"])
def test_cue_takes_the_field_then_a_fifth_of_it(server, window, cue):
    firing, _ = begin(window, cue)
    pattern = PATTERNS[firing.pattern]
    pattern_shown = msgspec.structs.replace(pattern, cycle_ns=0)
    full, framed = (
        composer(PAINTER.measure, {firing.pattern: pattern_shown}).look(
            status("running"), showing((firing.match_ns + after_ns) / NS_PER_S), FlashGuard(8), SIZE,
            ORIGIN.origin_ns + firing.match_ns + after_ns, 0, focused=True,
        )
        for after_ns in (0, pattern.full_ns + NS_PER_S // 20)
    )  # fmt: skip
    if pattern.cycle_ns:                             # it swells: count whatever is lit
        pattern = msgspec.structs.replace(pattern, colours=(BLACK,))
        share = lambda look: lit_share(server.pixels(), look)  # noqa: E731
    else:
        share = lambda look: field_share(server.pixels(), look, pattern)  # noqa: E731
    lit = Box(SIZE[0] // 8, 0, 3 * SIZE[0] // 4, SIZE[1]) if cue == "choose" else Box(0, 0, *SIZE)
    dark = full.plate.within(lit) if cue != "no_touch" else Box(SIZE[0] // 8, 0, 3 * SIZE[0] // 4, SIZE[1])
    expected = (lit.w * lit.h - dark.w * dark.h) / (SIZE[0] * SIZE[1])
    assert share(full) == pytest.approx(expected, abs=0.06)
    seen = []                                        # each look once: the cue ends soon
    # Beside the frame's own plate: letters in the cue's colour are no part of the frame.
    wait_for(lambda: seen.append(share(framed)) or seen[-1] <= 0.2)
    assert seen[-1] > 0.02


def lit_share(pixels, look):
    lit = pixels.any(axis=2)
    lit[look.plate.y : look.plate.bottom, look.plate.x : look.plate.right] = False
    return lit.mean()


def test_over_is_a_white_frame_only(server, window):
    firing, _ = begin(window, "over")
    pixels = server.pixels()
    white = (pixels == 255).all(axis=2)
    assert white[3].all()
    assert white[:, 3].all()
    look = composer(PAINTER.measure).look(
        status("running"),
        showing(136.2),
        FlashGuard(8),
        SIZE,
        ORIGIN.origin_ns + 1362 * NS_PER_S // 10,
        0,
        focused=True,
    )
    assert field_share(pixels, look, PATTERNS[firing.pattern]) <= 0.2


def test_safe_takes_the_cue_away_at_once(server, window):
    begin(window, "home")
    window.send(NewOrigins(origins=(), variant=""))
    window.send(Safe())
    purple = PATTERNS["home"].colours[0]
    assert wait_for(lambda: not (server.pixels() == purple).all(axis=2).any())


def test_preflight_shows_a_test_picture_for_a_moment(server, window):
    expected = standing(status("standby", begun=False))
    wait_for(lambda: np.array_equal(server.pixels(), expected))
    window.send(Command("preflight"))
    assert wait_for(lambda: (server.pixels()[2] == 255).all())
    assert wait_for(lambda: np.array_equal(server.pixels(), expected))


def test_outranked_cue_is_reported_and_comes_back_when_the_other_ends(server, window):
    """The frame of no_touch stands again after choose, which outranks it."""
    no_touch, origin = begin(window, "no_touch")
    (white,) = PATTERNS["no_touch"].colours

    def both_sides():
        """Both sides of the upper edge, an eighth each, are lit."""
        return 0.2 < (server.pixels()[3] == white).all(axis=1).mean() < 0.3

    window.start(origin.origin_ns - 7_500 * NS_PER_MS)
    window.await_message(Fired, lambda fired: fired.outcome == "played" and fired.no > no_touch.no)
    assert not both_sides()
    wait_for(both_sides)


@pytest.mark.parametrize(
    ("key", "name"), [("h", "h"), ("Next", "page_down"), ("Left", "left"), ("plus", "plus"), ("F5", "f5")]
)
def test_keys_arrive_by_their_names(server, window, key, name):
    server.press(key)
    wait_for(lambda: window.events("release"))
    assert [event.what for event in window.events("press")] == [name]
    assert [event.what for event in window.events("release")] == [name]


def test_shortcuts_of_the_desktop_are_no_keys(server, window):
    server.press("ctrl+h")
    server.press("x")
    wait_for(lambda: [event.what for event in window.events("press") if event.what == "x"])
    assert "h" not in [event.what for event in window.events("press")]


def test_window_without_the_keyboard_says_so(server):
    window = Window(server.name, WHOLE)
    try:
        shown = status("standby", begun=False)
        window.show(TIMELINE, LOADED.plans[0].plan.patterns, shown)
        server.focus()
        server.blur()
        look = composer(PAINTER.measure).look(shown, None, FlashGuard(8), SIZE, 0, 0, focused=False)
        assert wait_for(lambda: np.array_equal(server.pixels(), painted(look)))
    finally:
        window.close()


def test_closed_window_tells_that_a_person_leaves(server, tmp_path):
    bench = tmp_path / "bench.py"
    bench.write_text(
        "import sys\n"
        "def opened(channel, now_ns):\n"
        "    pygame = sys.modules['pygame']\n"
        "    pygame.event.post(pygame.event.Event(pygame.QUIT))\n",
        encoding="utf-8",
    )
    window = Window(server.name, WHOLE, bench=bench)
    try:
        wait_for(lambda: window.events("leave"))
    finally:
        window.close()


def test_window_of_a_size_fits_the_display(server):
    window = Window(server.name, Screen(width=640, height=360))
    try:
        assert window.events("device")[0].name == "640 × 360 on display 0"
    finally:
        window.close()


def test_missing_display_is_replaced_by_the_first_and_said(server):
    window = Window(server.name, Screen(display=3, fullscreen=True))
    try:
        device = window.events("device")[0]
        assert (device.state, device.name) == ("ready", "1280 × 720 on display 0, as there is no display 3")
    finally:
        window.close()


@pytest.mark.parametrize(
    ("screen", "driver", "state"), [(WHOLE, None, "absent"), (None, None, "absent"), (WHOLE, "offscreen", "ready")]
)
def test_without_a_display_the_screen_is_absent(screen, driver, state):
    """SDL would silently draw offscreen (measured); only who asks for that by name gets it."""
    window = Window(None, screen, driver=driver)
    device = window.events("device")[0]
    assert device.state == state
    assert bool(device.why) == (state == "absent")
    window.show(TIMELINE, LOADED.plans[0].plan.patterns, status("standby", begun=False, devices=DEVICES))
    firing = next(f for f in FIRINGS if f.cue == "home")
    window.start(monotime.now_ns() + LEAD_NS - firing.begin.offset_ns)
    fired = window.await_message(Fired, lambda fired: fired.no == firing.no)
    assert (fired.outcome, fired.why) == (("skipped", "absent") if state == "absent" else ("played", ""))
    assert window.close()[0] == 0
