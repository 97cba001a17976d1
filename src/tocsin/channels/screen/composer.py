"""Compose looks: from view, current cue and time to the whole content of the window. Pure.

Field and frame pass the flash guard as eight regions: the two colours of the stripes at the sides and of those in the
middle, of the field and of the frame. So no change of form shows a change of light that the guard did not count.
"""

from collections.abc import Iterable, Mapping
from functools import lru_cache

import msgspec

from tocsin.channels.screen.code import code_room, code_rows, code_shapes
from tocsin.channels.screen.drawing import Look
from tocsin.channels.screen.field import (
    DARK,
    Box,
    field_colours,
    four,
    frame_outline,
    full_until_ns,
    progress_of,
    room_for_words,
    thickness,
)
from tocsin.channels.screen.layout import Measure, ScreenText, TextRow, bounds, place, template
from tocsin.channels.screen.round_result import bar_placed, parts_of, verdict_placed
from tocsin.channels.screen.rows import (
    SCRIBE_SHARES,
    beneath_rows,
    cue_rows,
    foot_rows,
    scribe_row,
    view_rows,
    with_scribe,
)
from tocsin.channels.screen.steering import above, steering_rows
from tocsin.model.clock.schedule import Shot
from tocsin.model.display.round_picture import RoundPicture
from tocsin.model.display.status import Status
from tocsin.model.display.view_model import ViewModel, ViewModelMaker
from tocsin.model.pattern import ScreenPattern
from tocsin.model.safety import FlashGuard
from tocsin.model.timeline.timeline import Timeline
from tocsin.units import NS_PER_MS

FRAME_STEP_NS = 50 * NS_PER_MS         # how often a frame that shrinks is drawn
SWELL_STEP_NS = 100 * NS_PER_MS
RETRY_NS = 50 * NS_PER_MS              # how soon a change that the guard refused is tried again
_COLUMNS = 2                           # at the foot of a result, where the window is wide
_ROUNDING_NS = NS_PER_MS               # a picture for the instant of a cue shows the digits just after it
_MARGIN = 0.025
_NEVER_NS = 1 << 62


class Composer:
    """Composes looks for one timeline. ``stale_ns`` is when the last look changes by itself.

    While ``steered``, the foot of the window belongs to the steering line, and no digits count above it.
    """

    def __init__(self, measure: Measure) -> None:
        self._measure = measure
        self._placed = lru_cache(64)(self._place)
        self._maker: ViewModelMaker | None = None
        self._patterns: Mapping[str, ScreenPattern] = {}
        self._counts: Mapping[str, int] = {}
        self.stale_ns = 0
        self.steered = False

    def measured_by(self, measure: Measure) -> "Composer":
        """Measure with another font, after a window was opened again; return itself."""
        self._measure = measure
        self._placed.cache_clear()
        return self

    def load(self, timeline: Timeline, patterns: Mapping[str, ScreenPattern], counts: Mapping[str, int]) -> None:
        """Take a timeline, the patterns by id, and how often each cue's firing occurs."""
        self._maker = ViewModelMaker(timeline)
        self._patterns = patterns
        self._counts = counts

    def look(
        self,
        status: Status | None,
        shot: Shot | None,
        guard: FlashGuard,
        size: tuple[int, int],
        now_ns: int,
        latency_ns: int,
        *,
        focused: bool,
    ) -> Look:
        """Return the look at ``now_ns``; digits are those of ``latency_ns`` later, when people see it."""
        window = Box(0, 0, *size)
        self.stale_ns = _NEVER_NS
        view = self._view_at(status, now_ns + latency_ns)
        if view is not None and view.stale_ns is not None:
            self.stale_ns = view.stale_ns - latency_ns - _ROUNDING_NS
        pattern = self._patterns.get(shot.firing.pattern) if shot else None
        if pattern is not None and status is not None and "ahead" not in status.shows:
            pattern = _standing(pattern)
        if shot is None or pattern is None:
            look = self._still(view, window, focused=focused)
        else:
            look = self._cue(view, shot, pattern, window, now_ns, focused=focused)
        return self._guarded(look, guard, now_ns)

    def _still(self, view: ViewModel | None, window: Box, *, focused: bool) -> Look:
        """Return the look while no cue shows; a code has a part of the window to itself, so nothing covers it."""
        area = self._room(window).grown(-int(_MARGIN * min(window[2:])))
        unit = _unit(window[2:])
        sign = view.boards if view else None
        room = code_room(sign.code, area, unit) if sign and not self.steered else None
        if view is None or sign is None or room is None:
            return self._without_code(view, window, area, focused=focused)
        look = self._without_code(msgspec.structs.replace(view, boards=None), window, room.rest, focused=focused)
        words = self._texts(code_rows(sign), room.words, unit)
        shapes = code_shapes(sign.code, room.code)
        return look._replace(texts=(*look.texts, *words), plate=area, shapes=(*look.shapes, *shapes))

    def _without_code(self, view: ViewModel | None, window: Box, area: Box, *, focused: bool) -> Look:
        unit = _unit(window[2:])
        if view is not None and view.picture is not None:
            return self._result(view, view.picture, window, area, focused=focused)
        rows_of = steering_rows if self.steered else view_rows
        rows = rows_of(view, focused=focused) if view else []
        texts = self._texts(rows, area, unit)
        if view is not None and not self.steered:
            texts = self._with_scribe(texts, rows, view, area, unit)
        return Look(window, texts, area)

    def _result(self, view: ViewModel, picture: RoundPicture, window: Box, area: Box, *, focused: bool) -> Look:
        unit = _unit(window[2:])
        parts = parts_of(area)
        verdict = verdict_placed(picture, parts.verdict, unit, self._measure)
        bar = bar_placed(picture, parts.bar, unit, self._measure)
        texts = (*verdict.texts, *bar.texts, *self._foot(view, parts.foot, unit, focused=focused))
        return Look(window, texts, area, shapes=(*verdict.shapes, *bar.shapes))

    def _foot(self, view: ViewModel, area: Box, unit: int, *, focused: bool) -> tuple[ScreenText, ...]:
        """Return what stands below a result. Where the window is wide, what people read at leisure stands beside what
        they are to do: below each other all of it would be too small to be read."""
        due, said = foot_rows(view, focused=focused)
        if not said:
            return self._texts(due, area, unit)
        if area.w < 1.3 * unit:              # an upright one is high enough
            return self._texts(sorted([*due, *said], key=lambda row: row.place == "bottom"), area, unit)
        between = unit // 20
        wide = (area.w - between) // _COLUMNS
        left, right = area._replace(w=wide), area._replace(x=area.right - wide, w=wide)
        return (*self._texts(due, left, unit), *self._texts(said, right, unit))

    def _room(self, window: Box) -> Box:
        return above(window) if self.steered else window

    def _view_at(self, status: Status | None, at_ns: int) -> ViewModel | None:
        if status is None or self._maker is None:
            return None
        return self._maker.at(status, at_ns + _ROUNDING_NS)

    def _cue(
        self, view: ViewModel | None, shot: Shot, pattern: ScreenPattern, window: Box, now_ns: int, *, focused: bool
    ) -> Look:
        thick = thickness(window.w, window.h)
        inner = window.grown(-thick).within(self._room(window))
        pad = max(2, thick // 3)
        full_ns = full_until_ns(pattern, shot)
        full = now_ns < full_ns
        room = (inner.within(room_for_words(pattern, window)) if full else inner).grown(-pad)
        shown = None if self.steered else view
        rows = cue_rows(shown, shot.firing.word, pattern.letters)
        texts = self._texts(rows, room, _unit(window[2:]))
        if shown is not None:
            below = beneath_rows(shown, keys=not full, focused=focused)
            narrow = full or pattern.frame == "shrinks"
            texts = self._with_beneath(texts, rows, below, room, window, narrow=narrow)
        plate = bounds(texts, self._measure).grown(pad).within(inner) if texts else inner
        colours = field_colours(pattern, shot, now_ns)
        progress = progress_of(pattern, shot, now_ns, self._counts.get(shot.firing.cue, 1))
        if full:
            self._stale_at(full_ns)
        elif pattern.frame == "shrinks" and progress is not None and progress < 1:
            self._stale_at(now_ns + FRAME_STEP_NS)
        if pattern.cycle_ns and (full or progress is not None):
            self._stale_at(now_ns + SWELL_STEP_NS)
        outline = None if progress is None else frame_outline(window, plate, thick, progress)
        frame = colours if full or outline is not None else DARK
        return Look(window, texts, plate, colours if full else DARK, frame, window if full else outline, thick)

    def _with_scribe(
        self, texts: tuple[ScreenText, ...], rows: list[TextRow], view: ViewModel, area: Box, unit: int
    ) -> tuple[ScreenText, ...]:
        """Return the texts with a scribe's keys at the foot, as large as leaves the others as they are; where there is
        no room for all, without the row of devices that are well."""
        sized = [row for share in SCRIBE_SHARES if (row := scribe_row(view, share)) is not None]
        known = {text.name: text for text in texts}
        kept, fewer = _as_placed(rows, known, unit), [row for row in rows if row.name != "devices"]
        for others in (kept, _as_placed(fewer, known, unit)):
            for row in sized:
                found = self._texts(with_scribe(others, row), area, unit)
                if all(_as_large(known[text.name], text) for text in found if text.name in known):
                    return found
        return self._texts(with_scribe(fewer, sized[-1]), area, unit) if sized else texts

    def _with_beneath(
        self,
        texts: tuple[ScreenText, ...],
        rows: list[TextRow],
        below: list[TextRow],
        area: Box,
        window: Box,
        *,
        narrow: bool,
    ) -> tuple[ScreenText, ...]:
        """Return a cue's texts with the small rows below them, or as much of that as shrinks none of them.

        Where there is no room they take the place of the context. ``narrow`` leaves them no wider than the word, so
        that the plate of the words stays small.
        """
        unit = _unit(window[2:])
        if narrow:
            word = bounds(texts, self._measure)
            area = Box(word.x - unit // 20, area.y, word.w + unit // 10, area.h).within(area)
        known = {text.name: text for text in texts}
        rows = _as_placed(rows, known, unit)
        bare = [row for row in rows if row.name != "context"]
        less = [below[:count] for count in range(len(below), 0, -1)]
        for tried in [*([*rows, *small] for small in less), *([*bare, *small] for small in less)]:
            found = self._texts(tried, area, unit)
            if all(_as_large(known[text.name], text) for text in found if text.name in known):
                return found
        return texts

    def _guarded(self, look: Look, guard: FlashGuard, now_ns: int) -> Look:
        """Return the look with the colours that the guard lets out."""
        wanted = [*look.field, *look.frame]
        admitted = guard.admit(now_ns, wanted)
        if admitted != wanted:
            self._stale_at(now_ns + RETRY_NS)
        field, frame = four(admitted[:4]), four(admitted[4:])
        outline = look.outline or (look.window if frame != DARK else None)
        thick = look.thick or thickness(look.window.w, look.window.h)
        return look._replace(field=field, frame=frame, outline=outline, thick=thick)

    def _stale_at(self, at_ns: int) -> None:
        self.stale_ns = min(self.stale_ns, at_ns)

    def _texts(self, rows: list[TextRow], area: Box, unit: int) -> tuple[ScreenText, ...]:
        """Return the rows placed; the layout of rows that differ in digits only is worked out once."""
        shapes = tuple(row._replace(text=template(row.text)) for row in rows)
        placed = self._placed(shapes, area, unit)
        return tuple(text._replace(text=row.text) for text, row in zip(placed, rows, strict=True))

    def _place(self, rows: tuple[TextRow, ...], area: Box, unit: int) -> tuple[ScreenText, ...]:
        return tuple(place(rows, area, unit, self._measure))


def _standing(pattern: ScreenPattern) -> ScreenPattern:
    """Return the pattern with a frame that does not tell how soon the cue ends, since then often another one comes."""
    moves = pattern.frame in ("shrinks", "steps")
    return msgspec.structs.replace(pattern, frame="stands") if moves else pattern


def _as_placed(rows: Iterable[TextRow], known: Mapping[str, ScreenText], unit: int) -> list[TextRow]:
    """Return rows that ask for the size that they were given, so that they keep it where one of them is left out."""
    return [row._replace(line=(known[row.name].line_px + 0.5) / unit) for row in rows]


def _as_large(text: ScreenText, other: ScreenText) -> bool:
    return (text.line_px, text.slices) == (other.line_px, other.slices)


def _unit(size: tuple[int, ...]) -> int:
    """Return what the heights of rows are shares of: the height, or in an upright window little more than the width."""
    width, height = size[0], size[1]
    return int(min(height, 1.15 * width))
