"""Where a round's result stands on the window: the verdict large, the bar of the round, the rounds before it. Pure.

What happened is told by shape and by words, never by colour alone: a push is a solid bar, the window in which touching
costs points a field of upright lines, the edge a thick line, the verdict a tick, a cross, a ring or a question mark.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

from tocsin.channels.screen.field import Box
from tocsin.channels.screen.layout import CAP, Measure, ScreenText, TextRow, ink, place
from tocsin.channels.screen.rows import ORANGE, SKY_BLUE, WHITE, YELLOW
from tocsin.model.display.round_picture import CALL_EDGE, END_EDGE, Dot, Happening, RoundPicture, Shape, Span
from tocsin.model.pattern import Rgb
from tocsin.model.safety import BLACK
from tocsin.translation import tr

LETTERS, DIGITS = 0.127, 0.113  # heights of the capitals of word and number, as shares of the window's
_LABEL, _LEVELS = 0.047, 2  # line height of the bar's labels, and how many lines of them there may be
_DOT = 0.015  # radius of a round's dot, as shares of the unit
_THICKEST = 0.12  # height of the bar
_STACK = 2  # dots at one place stand below each other, so many at the most
_GREY: Rgb = (128, 128, 128)
_COLOURS: dict[Shape, Rgb] = {"filled": WHITE, "cross": ORANGE, "open": WHITE, "question": SKY_BLUE}

# What a round lacks that has no time at an edge.
_UNKNOWN = {CALL_EDGE: tr("no turn"), END_EDGE: tr("not home")}
_PUSH = tr("push")

Point = tuple[int, int]


class ScreenShape(NamedTuple):
    """A drawn shape in pixels: a polygon, a line, or a disc of ``radius`` around its point; ``width`` 0 is filled."""

    kind: Literal["polygon", "line", "disc"]
    points: tuple[Point, ...]
    colour: Rgb
    width: int = 0
    radius: int = 0


class Label(NamedTuple):
    """A word above the bar, at a time."""

    name: str
    text: str
    at_s: float


class Placed(NamedTuple):
    """Words and shapes with their places."""

    texts: tuple[ScreenText, ...]
    shapes: tuple[ScreenShape, ...]


class Parts(NamedTuple):
    """The three parts of the window: verdict, bar, and what a person is to do."""

    verdict: Box
    bar: Box
    foot: Box


def parts_of(area: Box) -> Parts:
    """Return how the window is shared out."""
    verdict, bar = int(0.53 * area.h), int(0.31 * area.h)
    return Parts(
        Box(area.x, area.y, area.w, verdict),
        Box(area.x, area.y + verdict, area.w, bar),
        Box(area.x, area.y + verdict + bar, area.w, area.h - verdict - bar),
    )


def verdict_placed(picture: RoundPicture, box: Box, unit: int, measure: Measure) -> Placed:
    """Return shape, word, number and reason of a round's verdict, and what the lot did to it."""
    # Together, and smaller: else it would take the room of word and number, which are read from afar.
    said = ". ".join(text for text in (picture.reason, picture.dealt) if text)
    rows = [
        TextRow("heading", picture.title, 0.042, WHITE, "top", 2),
        TextRow("word", picture.word.upper(), LETTERS / CAP, WHITE, most=2),
        TextRow("number", picture.number, DIGITS / CAP, YELLOW, most=2),
        TextRow("reason", said, 0.034 if picture.dealt else 0.045, WHITE, most=2),
    ]
    size = int(0.24 * unit)
    room = Box(box.x + size, box.y, box.w - size, box.h)
    texts = place([row for row in rows if row.text], room, unit, measure)
    word = next(text for text in texts if text.name == "word")
    left = ink(word, measure).x - size
    place_of = Box(max(box.x, left), word.box.y + word.box.h // 2 - size // 2, size, size).within(box)
    shape, letter = verdict_shape(picture.shape, place_of, measure)
    return Placed((*texts, *letter), shape)


def verdict_shape(shape: Shape, box: Box, measure: Measure) -> tuple[tuple[ScreenShape, ...], tuple[ScreenText, ...]]:
    """Return a verdict's shape in a box, and its letter if it is one."""
    radius = int(0.36 * min(box.w, box.h))
    centre = (box.x + box.w // 2, box.y + box.h // 2)
    thick = max(2, radius // 4)
    colour = _COLOURS[shape]
    if shape == "cross":
        return tuple(_cross(centre, radius, thick, colour)), ()
    disc = ScreenShape("disc", (centre,), colour, 0 if shape == "filled" else thick, radius)
    if shape == "filled":                      # with a tick in it
        return (disc, *_tick(centre, radius, thick)), ()
    if shape == "open":
        return (disc,), ()
    inside = Box(centre[0] - radius, centre[1] - radius, 2 * radius, 2 * radius)
    return (disc,), tuple(place([TextRow("mark", "?", 0.8, colour)], inside, 2 * radius, measure))


def bar_placed(picture: RoundPicture, box: Box, unit: int, measure: Measure) -> Placed:
    """Return the bar of a round with the rounds so far below it; without an edge, the rounds alone."""
    if not picture.edge:
        return Placed((), tuple(_row_of_dots(picture.series, box, unit)))
    return _Bar(picture, box, unit, measure).placed()


class _Bar:
    """One bar: seconds become pixels, labels get lines of their own."""

    def __init__(self, picture: RoundPicture, box: Box, unit: int, measure: Measure) -> None:
        self._picture = picture
        self._box = box
        self._unit = unit
        self._measure = measure
        self._begin_s, self._end_s = picture.span_s()
        self._unknown = [dot for dot in picture.series if dot.at_s is None]
        aside = int(0.12 * box.w) if self._unknown else 0
        edge = int(0.02 * box.w)
        self._x0, self._x1 = box.x + edge + aside, box.right - edge
        self._line = int(_LABEL * unit)
        labels = _LEVELS * self._line
        dots = _STACK * int(2.3 * _DOT * unit) + self._line // 2
        height = max(8, box.h - labels - self._line // 2 - dots - self._line)
        height = min(height, int(_THICKEST * unit))
        self._track = Box(self._x0, box.y + labels + self._line // 2, self._x1 - self._x0, height)

    def placed(self) -> Placed:
        """Return all of it."""
        texts, markers = self._instants()
        shapes = [*self._windows(), *self._pushes(), *self._edge(), *markers, *self._dots()]
        return Placed((*texts, *self._below()), tuple(shapes))

    def _x(self, at_s: float) -> int:
        share = (at_s - self._begin_s) / (self._end_s - self._begin_s)
        return self._x0 + round(min(1.0, max(0.0, share)) * (self._x1 - self._x0))

    def _windows(self) -> Iterator[ScreenShape]:
        track = self._track
        yield ScreenShape("line", ((track.x, _middle(track)), (track.right, _middle(track))), _GREY, 2)
        step = max(4, self._unit // 70)
        for span in self._seen(self._picture.windows):
            left, right = self._x(span.begin_s), self._x(self._end_s if span.end_s is None else span.end_s)
            for x in range(left + step, right, step):
                yield ScreenShape("line", ((x, track.y), (x, track.bottom - 1)), ORANGE, max(1, step // 5))
            yield _outline(Box(left, track.y, right - left, track.h), ORANGE, max(1, step // 5))

    def _pushes(self) -> Iterator[ScreenShape]:
        track = self._track
        bar = Box(0, track.y + track.h // 4, 0, track.h - 2 * (track.h // 4))
        for span in self._seen(self._picture.pushes):
            left = self._x(span.begin_s)
            right = max(left + 4, self._x(self._end_s if span.end_s is None else span.end_s))
            if span.end_s is None:  # open: an arrow that points on
                tip = (right, _middle(track))
                right = max(left + 1, right - bar.h)
                yield ScreenShape("polygon", ((right, track.y), tip, (right, track.bottom)), WHITE)
            yield ScreenShape("polygon", _corners(Box(left, bar.y, right - left, bar.h)), WHITE)

    def _edge(self) -> Iterator[ScreenShape]:
        x, wide = self._x(0.0), max(3, self._unit // 120)
        top, low = self._track.y - self._line // 3, self._track.bottom + self._line // 3
        yield ScreenShape("line", ((x, top), (x, low)), YELLOW, wide)

    def _instants(self) -> tuple[list[ScreenText], list[ScreenShape]]:
        texts: list[ScreenText] = []
        shapes: list[ScreenShape] = []
        taken: list[list[tuple[int, int]]] = [[] for _ in range(_LEVELS)]  # by the labels of each line
        size = max(6, self._line // 2)
        pushes = [
            Label(f"push {n}", _PUSH, max(span.begin_s, self._begin_s))
            for n, span in enumerate(self._seen(self._picture.pushes))
        ]
        happened = [Label(one.what, tr(one.what), one.at_s) for one in self._picture.instants]
        if self._picture.limit_s is not None:
            happened.append(Label("limit", tr("limit"), self._picture.limit_s))
            shapes += self._limit(self._x(self._picture.limit_s))
        # A push is told by its bar too: its word takes what room the others leave.
        for name, text, at_s in (*sorted(happened, key=lambda label: label.at_s), *pushes):
            if not self._begin_s <= at_s <= self._end_s:
                continue
            x, wide = self._x(at_s), int(self._measure(text) * self._line) + self._line
            left = min(max(self._box.x, x - wide // 2), self._box.right - wide)
            free = (n for n, row in enumerate(taken) if all(left + wide <= a or left >= b for a, b in row))
            level = next(free, None)
            if level is not None:
                taken[level].append((left, left + wide))
                box = Box(left, self._box.y + (_LEVELS - 1 - level) * self._line, wide, self._line)
                texts += self._label(f"at {name}", text, box, WHITE if text == _PUSH else SKY_BLUE)
        for instant in self._picture.instants:
            if self._begin_s <= instant.at_s <= self._end_s:
                shapes += _marker(instant.what, self._x(instant.at_s), self._track, size)
        return texts, shapes

    def _limit(self, x: int) -> Iterator[ScreenShape]:
        """Yield a broken line."""
        step = max(4, self._track.h // 5)
        for y in range(self._track.y, self._track.bottom, 2 * step):
            low = min(y + step, self._track.bottom)
            yield ScreenShape("line", ((x, y), (x, low)), WHITE, max(2, self._unit // 200))

    def _below(self) -> Iterator[ScreenText]:
        x, low = self._x(0.0), self._box.bottom - self._line
        wide = int(self._measure(self._picture.edge) * self._line) + self._line
        left = min(max(self._x0, x - wide // 2), self._x1 - wide)
        before, after = ("", tr("later")) if self._picture.edge == CALL_EDGE else (tr("early"), tr("late"))
        yield from self._label("edge", self._picture.edge, Box(left, low, wide, self._line), YELLOW)
        for name, text, begin, end in (("early", before, self._x0, left), ("late", after, left + wide, self._x1)):
            if text and end - begin > self._measure(text) * self._line + self._line:
                yield from self._label(name, text, Box(begin, low, end - begin, self._line), WHITE)
        if self._unknown:
            box = Box(self._box.x, low, self._x0 - self._box.x, self._line)
            unmarked = all(dot.shape == "question" for dot in self._unknown)
            text = tr("no mark") if unmarked else _UNKNOWN.get(self._picture.edge, tr("no push"))
            yield from self._label("unknown", text, box, WHITE)

    def _label(self, name: str, text: str, box: Box, colour: Rgb) -> list[ScreenText]:
        return place([TextRow(name, text, _LABEL, colour)], box.grown(0), self._unit, self._measure)

    def _dots(self) -> Iterator[ScreenShape]:
        radius = max(3, int(_DOT * self._unit))
        top = self._track.bottom + self._line // 3 + radius
        taken: list[Point] = []
        for number, dot in enumerate(self._picture.series):
            aside = self._box.x + (self._x0 - self._box.x) // 2
            x = aside if dot.at_s is None else self._x(dot.at_s)
            rows = (top + row * (2 * radius + 2) for row in range(_STACK))
            free = (y for y in rows if all(y != other[1] or abs(x - other[0]) > 2 * radius for other in taken))
            centre = (x, next(free, top + (_STACK - 1) * (2 * radius + 2)))
            taken.append(centre)
            yield from _dot(dot, centre, radius)
            if dot.at_s is not None and not self._begin_s <= dot.at_s <= self._end_s:
                yield _arrow(centre, radius, -1 if dot.at_s < 0 else 1)
            if number == len(self._picture.series) - 1:
                yield ScreenShape("disc", (centre,), YELLOW, max(2, radius // 4), radius + max(3, radius // 2))

    def _seen(self, spans: Sequence[Span]) -> Iterator[Span]:
        for span in spans:
            if span.begin_s < self._end_s and (span.end_s is None or span.end_s > self._begin_s):
                yield span


def _row_of_dots(series: Sequence[Dot], box: Box, unit: int) -> Iterator[ScreenShape]:
    radius = max(3, int(1.6 * _DOT * unit))
    pitch = min(4 * radius, box.w // max(1, len(series)))
    left = box.x + (box.w - pitch * (len(series) - 1)) // 2
    for number, dot in enumerate(series):
        yield from _dot(dot, (left + number * pitch, _middle(box)), min(radius, pitch // 3))


def _dot(dot: Dot, centre: Point, radius: int) -> Iterator[ScreenShape]:
    thick = max(1, radius // 3)
    colour = _COLOURS[dot.shape]
    if dot.shape == "cross":
        yield from _cross(centre, radius, thick, colour)
        return
    if dot.shape == "question":
        yield from _question(centre, radius, thick, colour)
        return
    yield ScreenShape("disc", (centre,), colour, 0 if dot.shape == "filled" else thick, radius)


def _question(centre: Point, radius: int, thick: int, colour: Rgb) -> Iterator[ScreenShape]:
    x, y = centre
    hook = ((-0.5, -0.5), (-0.25, -0.9), (0.25, -0.9), (0.5, -0.5), (0.0, 0.0), (0.0, 0.4))
    corners = [(x + round(a * radius), y + round(b * radius)) for a, b in hook]
    for pair in pairwise(corners):
        yield ScreenShape("line", pair, colour, thick)
    dot = max(1, thick // 2)
    yield ScreenShape("disc", ((x, y + radius - dot),), colour, 0, dot)


def _tick(centre: Point, radius: int, thick: int) -> Iterator[ScreenShape]:
    (x, y), half = centre, radius // 2
    corner = (x - half // 4, y + half)
    yield ScreenShape("line", ((x - half, y + half // 6), corner), BLACK, thick)
    yield ScreenShape("line", (corner, (x + half + half // 4, y - half)), BLACK, thick)


def _arrow(centre: Point, radius: int, side: int) -> ScreenShape:
    """Return what says that a round lies further out than the bar reaches."""
    x, y = centre[0] - side * 2 * radius, centre[1]
    return ScreenShape("polygon", ((x, y - radius // 2), (x, y + radius // 2), (x + side * radius // 2, y)), WHITE)


def _cross(centre: Point, radius: int, thick: int, colour: Rgb) -> Iterator[ScreenShape]:
    x, y = centre
    yield ScreenShape("line", ((x - radius, y - radius), (x + radius, y + radius)), colour, thick)
    yield ScreenShape("line", ((x - radius, y + radius), (x + radius, y - radius)), colour, thick)


def _marker(what: Happening, x: int, track: Box, size: int) -> Iterator[ScreenShape]:
    """Yield what stands above the track at an instant: each kind has its own shape."""
    low, top = track.y - 1, track.y - 1 - size
    if what == "call":
        yield ScreenShape("polygon", ((x - size // 2, top), (x + size // 2, top), (x, low)), SKY_BLUE)
    elif what == "turn":
        yield ScreenShape(
            "polygon", ((x + size // 2, top), (x + size // 2, low), (x - size // 2, low - size // 2)), SKY_BLUE
        )
    elif what in ("home", "half home"):
        house = (
            (x - size // 2, low),
            (x - size // 2, top + size // 2),
            (x, top),
            (x + size // 2, top + size // 2),
            (x + size // 2, low),
        )
        yield ScreenShape("polygon", house, SKY_BLUE, 0 if what == "home" else max(1, size // 8))
    else:
        yield ScreenShape("line", ((x, top), (x, track.bottom)), WHITE, 2)
    if what != "end":
        yield ScreenShape("line", ((x, low), (x, track.bottom)), SKY_BLUE, 2)


def _middle(box: Box) -> int:
    return box.y + box.h // 2


def _corners(box: Box) -> tuple[Point, ...]:
    return ((box.x, box.y), (box.right, box.y), (box.right, box.bottom), (box.x, box.bottom))


def _outline(box: Box, colour: Rgb, width: int) -> ScreenShape:
    return ScreenShape("polygon", _corners(box), colour, width)
