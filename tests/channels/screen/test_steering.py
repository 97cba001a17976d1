"""The steering line: a drift that is smooth and the same for a seed, keys that hold it, how it stands on the window."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.channels.screen_scenes import (
    FIRINGS,
    LOADED,
    LOST,
    ORIGIN,
    PATTERNS,
    SIZES,
    TIMELINE,
    composer,
    showing,
    status,
)
from tests.support.channels.screen_stand import MISSING, Server, Window, wait_for
from tocsin import monotime
from tocsin.channels.device import Event
from tocsin.channels.screen.drawing import Painter
from tocsin.channels.screen.field import Box, thickness
from tocsin.channels.screen.steering import (
    DRIFT_PER_S,
    FRAME_NS,
    KEYS_PER_S,
    NOTE,
    Steering,
    above,
    steering_rows,
    strip_of,
)
from tocsin.channels.sdl import import_pygame
from tocsin.model.display.view_model import ViewModelMaker
from tocsin.model.rig import Screen
from tocsin.model.safety import OKABE_ITO, FlashGuard, relative_luminance
from tocsin.units import NS_PER_MS, NS_PER_S
from tocsin.workers.protocol import Fired, Safe, ShowStatus, Steer

NOW_NS = 77 * NS_PER_S
YELLOW = OKABE_ITO["yellow"]
HOME = showing(115.0)
pygame = import_pygame("screen")
pygame.font.init()
PAINTER = Painter(pygame)


def key(what, kind, at_ns):
    return Event(kind=kind, at_ns=at_ns, what=what)


def figures(event):
    """Return what a note says, by name."""
    return event.values


def left_alone(seed, lasts_s, frame_ns=FRAME_NS):
    """Return the places of a marker that nobody steers, frame after frame, and the note."""
    steering = Steering(seed, NOW_NS)
    places = []
    for frame in range(int(lasts_s * NS_PER_S) // frame_ns):
        steering.advance(NOW_NS + frame * frame_ns)
        places.append(steering.at)
    return places, steering.note(NOW_NS + int(lasts_s * NS_PER_S))


def steered(seed, lasts_s, sees_after_ns=350 * NS_PER_MS):
    """Return the note of a person who sees the marker a while later and presses against it."""
    steering = Steering(seed, NOW_NS)
    seen, down = [], ""
    for frame in range(int(lasts_s * NS_PER_S) // FRAME_NS):
        now_ns = NOW_NS + frame * FRAME_NS
        steering.advance(now_ns)
        seen.append(steering.at)
        at = seen[max(0, frame - sees_after_ns // FRAME_NS)]
        wanted = "left" if at > 0.06 else "right" if at < -0.06 else ""
        if wanted != down:
            steering.take([key(down, "release", now_ns)] * bool(down) + [key(wanted, "press", now_ns)] * bool(wanted))
            down = wanted
    return figures(steering.note(NOW_NS + int(lasts_s * NS_PER_S)))


# The marker by itself.


@given(st.integers(0, 2**31), st.lists(st.integers(1, 10**9), min_size=1, max_size=40))
def test_the_drift_is_the_same_however_often_it_is_drawn(seed, steps_ns):
    """As long as the marker does not lie at an end of the line."""
    once, often = Steering(seed, NOW_NS), Steering(seed, NOW_NS)
    now_ns, free = NOW_NS, True
    for step_ns in steps_ns:
        now_ns += step_ns
        often.advance(now_ns)
        free = free and abs(often.at) < 1
    once.advance(now_ns)
    assert not free or once.at == pytest.approx(often.at, abs=1e-9)


def test_seeds_differ_and_a_seed_stands_for_one_drift():
    assert left_alone(7, 20)[0] == left_alone(7, 20)[0]
    assert len({tuple(left_alone(seed, 5)[0]) for seed in range(20)}) == 20


@pytest.mark.parametrize("seed", range(20))
def test_the_drift_is_smooth_and_slower_than_the_keys(seed):
    places, _ = left_alone(seed, 60)
    most = 3 * DRIFT_PER_S * FRAME_NS / NS_PER_S
    assert places[0] == 0
    assert np.abs(np.diff(places)).max() <= most + 1e-9
    assert 3 * DRIFT_PER_S < KEYS_PER_S


def test_who_lets_it_go_is_far_out_and_who_steers_is_not():
    """Over a block of practice, for any seed."""
    alone = [figures(left_alone(seed, 75)[1]) for seed in range(40)]
    assert all(found["mean"] == found["alone"] > 0.25 for found in alone)
    hands_on = [steered(seed, 75) for seed in range(40)]
    assert all(found["mean"] < 0.6 * found["alone"] for found in hands_on)
    assert [found["alone"] for found in hands_on] == pytest.approx([found["alone"] for found in alone], abs=2e-4)


def test_the_mean_is_over_time():
    """Held at the right end by a key that never comes up: there after 1 / 0.7 s and a little, and stays."""
    steering = Steering(3, NOW_NS)
    steering.take([key("right", "press", NOW_NS)])
    for ms in range(0, 60_000, 5):
        steering.advance(NOW_NS + ms * NS_PER_MS)
    assert steering.at == 1
    found = figures(steering.note(NOW_NS + 60 * NS_PER_S))
    assert found["lasts_s"] == 60
    assert 0.95 < found["mean"] < 1


def test_other_keys_do_not_steer_and_both_at_once_hold():
    steering, alone = Steering(3, NOW_NS), Steering(3, NOW_NS)
    steering.take([key("a", "press", NOW_NS), key("left", "press", NOW_NS), key("right", "press", NOW_NS)])
    for marker in (steering, alone):
        marker.advance(NOW_NS + NS_PER_S)
    assert steering.at == pytest.approx(alone.at)
    steering.take([key("left", "release", NOW_NS + NS_PER_S)])
    for marker in (steering, alone):
        marker.advance(NOW_NS + NS_PER_S + 100 * NS_PER_MS)
    assert steering.at - alone.at == pytest.approx(KEYS_PER_S / 10)


def test_time_that_does_not_pass_moves_nothing():
    steering = Steering(3, NOW_NS)
    steering.advance(NOW_NS - NS_PER_S)
    assert steering.at == 0
    assert figures(steering.note(NOW_NS))["mean"] == 0


# On a surface.


@pytest.mark.parametrize("size", SIZES)
def test_the_strip_lies_between_the_frame_and_the_words(size):
    window = Box(0, 0, *size)
    strip, room = strip_of(window), above(window)
    thick = thickness(*size)
    assert strip.within(window.grown(-thick)) == strip
    assert room.within(strip)[3] == 0
    made = composer(PAINTER.measure)
    made.steered = True
    for shown, shot in ((status("running"), None), (status("running", devices=LOST), None), (status("running"), HOME)):
        look = made.look(shown, shot, FlashGuard(8), size, ORIGIN.origin_ns + 115 * NS_PER_S, 0, focused=True)
        assert look.texts
        assert all(text.box.bottom <= strip.y for text in look.texts)
        assert look.plate.within(strip)[3] == 0 or shot is None


@pytest.mark.parametrize("size", SIZES)
def test_the_marker_stays_on_the_line(size):
    strip = strip_of(Box(0, 0, *size))
    for way in ("left", "right"):
        steering = Steering(1, NOW_NS)
        steering.take([key(way, "press", NOW_NS)])
        steering.advance(NOW_NS + 60 * NS_PER_S)
        marker = steering.marker(strip)
        assert abs(steering.at) == 1
        assert marker.within(strip) == marker


def test_the_strip_does_not_flash():
    """Its light as a whole stays the same, frame after frame, and no frame moves the marker by its own width."""
    surface = pygame.Surface((1280, 720), depth=32)
    steering = Steering(5, NOW_NS)
    lights, places = [], []
    strip = strip_of(Box(0, 0, 1280, 720))
    for frame in range(300):
        now_ns = NOW_NS + frame * FRAME_NS
        if frame % 20 == 0:
            steering.take([key("left", "release", now_ns), key("right", "press", now_ns)])
        if frame % 20 == 10:
            steering.take([key("right", "release", now_ns), key("left", "press", now_ns)])
        steering.advance(now_ns)
        assert steering.draw(surface) == strip
        # Not by pygame's array modules: where pygame was imported without numpy, as the worker does, there are none.
        part = surface.subsurface(strip.x, strip.y, strip.w, strip.h)
        shown = np.frombuffer(pygame.image.tobytes(part, "RGB"), np.uint8).reshape(-1, 3).astype(np.uint32)
        colours, counts = np.unique(shown @ np.array([1 << 16, 1 << 8, 1], np.uint32), return_counts=True)
        light = [relative_luminance(surface.unmap_rgb(int(colour))[:3]) for colour in colours]
        lights.append(float(np.average(light, weights=counts)))
        places.append(steering.marker(strip).x)
    assert max(lights) - min(lights) < 0.01                      # a flash is a change of 0.1
    assert np.abs(np.diff(places)).max() < steering.marker(strip).w


def test_no_digits_count_beside_it_and_nothing_tells_what_comes():
    view = ViewModelMaker(TIMELINE).at(status("running"), ORIGIN.origin_ns + 70 * NS_PER_S)
    assert view.ahead
    rows = steering_rows(view, focused=True)
    names = [row.name for row in rows]
    assert not {"digits", "ahead 0", "windows"} & set(names)
    assert "Keep the marker in the middle" in [row.text for row in rows]
    assert names.index("heading") < names.index("task") < names.index("keys")


# On a window.


@pytest.fixture(scope="module")
def server():
    server = Server((1280, 720))
    yield server
    server.close()


@pytest.fixture
def window(server):
    window = Window(server.name, Screen(fullscreen=True))
    server.focus()
    window.show(TIMELINE, LOADED.plans[0].plan.patterns, status("running", origins=(ORIGIN,)))
    yield window
    code, complaints = window.close()
    assert (code, complaints) == (0, "")


def marker_in(pixels):
    """Return the middle of what is yellow in the strip, as a column, or None."""
    strip = strip_of(Box(0, 0, 1280, 720))
    columns = np.flatnonzero((pixels[strip.y : strip.bottom] == YELLOW).all(axis=2).sum(axis=0) > strip.h // 4)
    return float(columns.mean()) if len(columns) else None


on_a_window = pytest.mark.skipif(bool(MISSING), reason=f"not installed: {', '.join(MISSING)}")


@pytest.mark.devices
@on_a_window
def test_the_marker_drifts_until_a_key_holds_it_and_the_end_is_told(server, window):
    window.send(Steer(4))
    began = wait_for(lambda: marker_in(server.pixels()))
    wait_for(lambda: abs((marker_in(server.pixels()) or began) - began) > 40)
    side = "Left" if marker_in(server.pixels()) > 640 else "Right"
    server.press(side)                                           # a tap: it reaches the line and the conductor alike
    wait_for(lambda: [event.what for event in window.events("press")] == [side.lower()])
    window.send(Safe())
    note = wait_for(lambda: window.events("note"))[0]
    assert note.what == NOTE
    assert figures(note)["alone"] > 0
    wait_for(lambda: marker_in(server.pixels()) is None)


@pytest.mark.devices
@on_a_window
def test_a_cue_comes_above_the_line_which_goes_on(server, window):
    """The word in full, the field around it, and the marker that moves below."""
    window.send(Steer(4))
    wait_for(lambda: marker_in(server.pixels()))
    firing = next(f for f in FIRINGS if f.cue == "home")
    window.start(monotime.now_ns() + 400 * NS_PER_MS - firing.begin.offset_ns)
    window.await_message(Fired, lambda fired: fired.no == firing.no and fired.outcome == "played")
    pixels = server.pixels()
    purple = PATTERNS[firing.pattern].colours[0]
    share = (pixels == purple).all(axis=2).mean()
    assert share > 0.1
    place = marker_in(pixels)
    assert place is not None
    wait_for(lambda: marker_in(server.pixels()) not in (None, place))
    window.send(Safe())
    wait_for(lambda: not (server.pixels() == purple).all(axis=2).any())


@pytest.mark.devices
@on_a_window
def test_after_the_end_the_face_stands_as_if_nothing_had_been(server, window):
    shown = status("standby", begun=False)
    window.send(Steer(4))
    wait_for(lambda: marker_in(server.pixels()))
    window.send(Safe())
    window.send(ShowStatus(status=shown))
    look = composer(PAINTER.measure).look(shown, None, FlashGuard(8), (1280, 720), 0, 0, focused=True)
    surface = pygame.Surface((1280, 720), depth=32)
    PAINTER.paint(surface, look)
    expected = np.frombuffer(pygame.image.tobytes(surface, "RGB"), np.uint8).reshape(720, 1280, 3)
    assert wait_for(lambda: np.array_equal(server.pixels(), expected))
