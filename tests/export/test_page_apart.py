"""A field apart on the page: blocks and brackets lie where the window of the program has them, words between them."""

import io
from math import ceil, floor

import numpy as np
import pytest

pytest.importorskip("PIL")
from PIL import Image

from tests.support.export.exported_plans import source
from tests.support.export.page_stand import S, opened, write_page
from tocsin.channels.screen.field import SIDE_SHARE, field_colours
from tocsin.model.clock.schedule import Shot
from tocsin.model.game import Game, Period
from tocsin.model.moment import parse
from tocsin.model.pattern import LightPattern, Patterns, ScreenPattern
from tocsin.model.plan import Cue, Plan
from tocsin.model.safety import BLACK, OKABE_ITO

pytestmark = pytest.mark.devices

ORANGE, YELLOW, WHITE = OKABE_ITO["orange"], OKABE_ITO["yellow"], OKABE_ITO["white"]
SIZES = ((1366, 768), (640, 360), (1080, 1920), (3840, 2160))
FULL = ScreenPattern(field="apart", colours=(ORANGE,), letters=WHITE, lasts_ns=60 * S, full_ns=60 * S)
FRAME = ScreenPattern(field="apart", colours=(ORANGE,), letters=WHITE, lasts_ns=60 * S, full_ns=0)
MIDDLE = ScreenPattern(field="apart", colours=(BLACK, YELLOW), letters=WHITE, lasts_ns=60 * S, full_ns=60 * S)
STRIP = LightPattern(form="apart", colours=(ORANGE,), lasts_ns=60 * S)
BOXES = """() => Object.fromEntries(['stage', 'plate', 'word'].map((id) => {
  const {left, top, right, bottom} = document.querySelector('#' + id).getBoundingClientRect();
  return [id, [left, top, right, bottom]];
}))"""


def page_of(**patterns):
    """A plan whose one cue shows for a minute, however late a browser is."""
    known = Patterns(screen={"this": patterns["screen"]} if "screen" in patterns else {}, light={"this": STRIP})
    cue = Cue(id="c", at=(parse("driver.begin+5s"),), until=(parse("driver.begin+65s"),), say="No touch",
              patterns=dict.fromkeys(patterns, "this"))  # fmt: skip
    game = Game(name="Pier", periods=(Period(id="driver", kind="driver", title="Driver", lasts_ns=100 * S),))
    return source(game, Plan(name="Pier", game="g", cues=(cue,), patterns=known))


def seen(running, tmp_path, size, **patterns):
    """Return the stage's pixels and the boxes of plate and word in them: left, top, right, bottom."""
    url = write_page(tmp_path, page_of(**patterns))
    with opened(running, f"{url}?start=now&from=6", viewport={"width": size[0], "height": size[1]}) as page:
        page.await_that("!document.querySelector('#word').hidden && !document.querySelector('#field').hidden")
        boxes = page.ask(BOXES)
        pixels = np.array(Image.open(io.BytesIO(page.tab.screenshot())).convert("RGB"))
    left, top, right, bottom = boxes["stage"]
    left, top, right, bottom = ceil(left), ceil(top), floor(right), floor(bottom)
    return pixels[top:bottom, left:right], {
        name: [place - (left, top)[n % 2] for n, place in enumerate(box)] for name, box in boxes.items()
    }


def lit(pixels, colour):
    """Return where a colour stands, up to what a browser's gradients are off."""
    return (np.abs(pixels.astype(int) - colour) <= 2).all(axis=2)


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_blocks_stand_at_both_sides_and_all_words_between(running, tmp_path, size):
    pixels, boxes = seen(running, tmp_path, size, screen=FULL)
    orange, side = lit(pixels, ORANGE), round(pixels.shape[1] * SIDE_SHARE)
    assert orange[:, : side - 1].all()
    assert orange[:, 1 - side :].all()
    assert not orange[:, side + 1 : -side - 1].any()
    assert boxes["plate"][0] >= side
    assert boxes["plate"][2] <= pixels.shape[1] - side


@pytest.mark.parametrize("size", SIZES[:3], ids=str)
@pytest.mark.parametrize("patterns", [{"screen": FRAME}, {"light": STRIP}], ids=["screen", "strip alone"])
def test_frame_is_two_brackets(running, tmp_path, size, patterns):
    pixels, _ = seen(running, tmp_path, size, **patterns)
    orange, side = lit(pixels, ORANGE), round(pixels.shape[1] * SIDE_SHARE)
    assert orange[:, [1, -2]].all()
    assert orange[1, : side - 1].all()
    assert orange[1, 1 - side :].all()
    middle = orange[: pixels.shape[0] // 20, side + 1 : -side - 1]
    assert not middle.any()
    assert 0.03 < orange.mean() <= 0.2


def test_the_middle_alone_is_lit_the_other_way_round(running, tmp_path):
    pixels, _ = seen(running, tmp_path, SIZES[0], screen=MIDDLE)
    side = round(pixels.shape[1] * SIDE_SHARE)
    assert lit(pixels[:40], YELLOW)[:, side + 1 : -side - 1].all()
    assert lit(pixels[:40], BLACK)[:, : side - 1].all()


def test_the_page_lays_colours_as_the_window_does(running, tmp_path):
    url = write_page(tmp_path, page_of(screen=FULL))
    shown = [
        ScreenPattern(field=field, colours=colours, letters=WHITE, lasts_ns=4 * S, cycle_ns=cycle_ns)
        for field, colours in [("apart", (ORANGE,)), ("apart", (BLACK, YELLOW)), ("apart", ((255, 0, 0), WHITE)),
                               ("stripes", (ORANGE, WHITE)), ("plain", (YELLOW,)), ("none", (WHITE,))]
        for cycle_ns in (0, 2 * S)
    ]  # fmt: skip
    with opened(running, url) as page:
        for pattern in shown:
            for at_ns in (0, S // 2, S):
                shot = Shot(firing=None, instance=0, begin_ns=0, end_ns=4 * S)
                told = {"field": pattern.field, "colours": pattern.colours, "cycle_ns": pattern.cycle_ns}
                found = page.ask("([p, at]) => coloursOf(p, {beginNs: 0, endNs: 4e9}, at, false)", [told, at_ns])
                assert tuple(map(tuple, found)) == field_colours(pattern, shot, at_ns), pattern
