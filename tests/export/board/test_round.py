"""The picture of a round's result on the board: the shapes and words of the laptop's window, each at the same place."""

import json
import random

import msgspec
import pytest

from tests.support.export.board_stand import STANDBY, UPRIGHT, board, running
from tocsin.channels.screen.field import Box
from tocsin.channels.screen.round_result import bar_placed, verdict_shape
from tocsin.model.display.round_picture import SHAPES, Dot, Instant, RoundPicture, Span

pytestmark = pytest.mark.devices

BARS_IN_THE_PAGE = """cases => cases.map(([picture, [x, y, w, h], unit]) => {
  const {words, shapes} = barOf(picture, {x, y, w, h}, unit, (text) => 0.5 * text.length);
  return {
    words: words.map(({name, text, box, colour}) => [name, text, box.x + box.w / 2, box.y + box.h / 2, colour]),
    shapes: shapes.map(({kind, points, colour, width, radius}) => [kind, points, colour, width, radius]),
  };
})"""
VERDICTS_IN_THE_PAGE = """cases => cases.map(([shape, [x, y, w, h]]) =>
  verdictShapes(shape, {x, y, w, h}).map(({kind, points, colour, width, radius}) =>
    [kind, points, colour, width, radius]))"""


@pytest.fixture(scope="module")
def page(browser, stand):
    stand.show(STANDBY, anew=True)
    with board(browser, stand) as found:
        found.knows()
        yield found


def some_spans(rng):
    begins = [round(rng.uniform(-14, 8), 1) for _ in range(rng.randint(0, 3))]
    return tuple(Span(begin_s=at, end_s=rng.choice([None, round(at + rng.uniform(0, 5), 1)])) for at in begins)


def some_picture(rng):
    """Return a round in which anything may have happened."""
    at_s = [round(rng.uniform(-14, 14), 1) for _ in range(rng.randint(0, 5))]
    series = tuple(
        Dot(at_s=rng.choice([None, 0.4, 0.5, round(rng.uniform(-14, 14), 1)]), shape=rng.choice([*SHAPES]))
        for _ in range(rng.randint(0, 9))
    )
    return RoundPicture(
        shape=rng.choice([*SHAPES]), word="late", edge=rng.choice(["", "call", "end of the match", "Belfry counts"]),
        windows=some_spans(rng), pushes=some_spans(rng),
        instants=tuple(Instant(what=rng.choice(["call", "turn", "home", "half home", "end"]), at_s=at) for at in at_s),
        limit_s=rng.choice([None, 2.0]), series=series,
    )  # fmt: skip


def told(shapes):
    return [
        [one.kind, [list(point) for point in one.points], list(one.colour), one.width, one.radius] for one in shapes
    ]


def test_the_bar_of_a_round_is_the_windows_at_two_hundred_rounds(page):
    rng = random.Random("round")
    cases = []
    for _ in range(200):
        w = rng.randint(300, 900)
        cases.append((some_picture(rng), Box(rng.randint(0, 9), rng.randint(0, 9), w, rng.randint(90, 300)),
                      rng.randint(300, 900)))  # fmt: skip
    found = page.ask(BARS_IN_THE_PAGE, [[json.loads(msgspec.json.encode(picture)), list(box), unit]
                                        for picture, box, unit in cases])  # fmt: skip
    kinds = set()
    for (picture, box, unit), got in zip(cases, found, strict=True):
        placed = bar_placed(picture, box, unit, lambda text: 0.5 * len(text))
        # Python rounds halves to even: a place by one pixel, and once more what lies around it.
        assert [shape[0] for shape in got["shapes"]] == [shape.kind for shape in placed.shapes], picture
        for mine, its in zip(got["shapes"], told(placed.shapes), strict=True):
            assert mine[2:] == its[2:], picture
            assert all(abs(a - b) <= 2 for one, other in zip(mine[1], its[1], strict=True)
                       for a, b in zip(one, other, strict=True)), picture  # fmt: skip
            kinds.add((mine[0], mine[3] > 0))
        assert [word[:2] for word in got["words"]] == [[text.name, text.text] for text in placed.texts], picture
        for word, text in zip(got["words"], placed.texts, strict=True):
            assert abs(word[2] - (text.box.x + text.box.w / 2)) <= 1.5, picture
            assert word[4] == list(text.colour)
    assert kinds >= {("line", True), ("polygon", True), ("polygon", False), ("disc", True), ("disc", False)}


def test_a_verdict_has_the_windows_shape(page):
    box = Box(3, 5, 101, 97)
    shapes = ("filled", "cross", "open")
    found = page.ask(VERDICTS_IN_THE_PAGE, [[shape, list(box)] for shape in shapes])
    for shape, got in zip(shapes, found, strict=True):
        assert got == told(verdict_shape(shape, box, lambda text: 0.5 * len(text))[0]), shape
    [asks] = page.ask(VERDICTS_IN_THE_PAGE, [["question", list(box)]])
    assert asks[0] == told(verdict_shape("question", box, lambda text: 0.5 * len(text))[0])[0]
    assert len(asks) > 1                               # the mark in it


def test_the_result_is_whole_on_the_board_and_told_in_words(page, stand):
    picture = RoundPicture(
        shape="cross", word="too late", number="1.4 s late", title="Round 4 of 12", reason="the push went on",
        edge="Belfry counts", windows=(Span(begin_s=0, end_s=None),), pushes=(Span(begin_s=-3, end_s=1.4),),
        instants=(Instant(what="turn", at_s=1.5),), series=(Dot(at_s=1.4, shape="cross"),), tally="● 2  × 1",
    )  # fmt: skip
    over = msgspec.structs.replace(running(170), phase="over", result=("too late",), picture=picture, keeps_out=True)
    stand.show(over)
    page.await_that("!document.querySelector('#round').hidden")
    said = page.ask("document.querySelector('#round').innerText")
    for text in ("Round 4 of 12", "TOO LATE", "1.4 s late", "the push went on", "● 2 × 1", "Stay outside"):
        assert text in " ".join(said.split()), text
    assert "turn at 1.5 s" in page.ask("document.querySelector('#round-bar').getAttribute('aria-label')")
    box = page.ask("(({top, bottom, left, right}) => [top, bottom, left, right])("
                   "document.querySelector('#round').getBoundingClientRect())")  # fmt: skip
    assert box[0] >= 0
    assert box[1] <= page.ask("document.querySelector('#line').getBoundingClientRect().top") + 1
    assert 0 <= box[2] <= box[3] <= UPRIGHT[0]
    # Until people have read that they stay outside, no result stands there.
    stand.show(msgspec.structs.replace(over, outside_until_ns=1 << 60))
    page.await_that("document.querySelector('#round').hidden")
    assert page.row("sign0") == "Stay outside"
