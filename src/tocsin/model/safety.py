"""Check what may be shown without harm: colours that all can tell apart, contrast, and how often light may flash.

* Relative luminance, contrast, flash, saturated red as in WCAG 2.2 (W3C, 2023); of red the stricter of its two texts.
* WCAG allows three flashes in any second. The people before this light are students, the age of the highest risk
  (Wilkins et al. 2005), so Tocsin shows two: four opposing changes. Saturated red never flashes.
* Seconds are half open: an event exactly one second later is in the next one.
* A slow fade counts like a jump: only the swing since the last turn matters, not the step between two frames.

Caution: these limits make seizures less likely, they do not rule them out. Ask the people around the light.
"""

from collections import deque
from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from itertools import accumulate, pairwise
from typing import TypeVar

import msgspec

from tocsin.model.pattern import Rgb
from tocsin.units import NS_PER_S

# Okabe and Ito, Color Universal Design (2002, rev. 2008), and white.
OKABE_ITO: dict[str, Rgb] = {
    "black": (0, 0, 0),
    "orange": (230, 159, 0),
    "sky_blue": (86, 180, 233),
    "bluish_green": (0, 158, 115),
    "yellow": (240, 228, 66),
    "blue": (0, 114, 178),
    "vermillion": (213, 94, 0),
    "reddish_purple": (204, 121, 167),
    "white": (255, 255, 255),
}
BLACK = OKABE_ITO["black"]

WCAG_FLASHES = 3
MAX_FLASHES = 2
# Own decision: red that has gone does not come back within this time, so that not even a slow red blink gets through.
RED_REST_NS = 5 * NS_PER_S

# Luminance inside is a whole number, so that sums and thresholds are exact.
_FULL = 1_000_000_000
_STEP = _FULL // 10                     # WCAG: a change of 0.10 ...
_BRIGHT = _FULL * 8 // 10               # ... whose darker state is below 0.80
_RED_SHARE = 0.8
_RED_STEP = 20.0                        # of (R - G - B) * 320, older text
_RED_SHIFT = 0.2                        # on the u'v' diagram, current text
# Own decision: a light below a hundredth of full has no hue worth the name. Without this the last steps of an orange
# that fades out, (1, 0, 0), would be saturated red.
_HUE_FLOOR = 0.01

_T = TypeVar("_T")


def linear(value: int) -> float:
    """Return the light, 0 to 1, of an sRGB value 0 to 255 (WCAG 2.2, "relative luminance")."""
    c = value / 255
    return c / 12.92 if c <= 0.04045 else float(((c + 0.055) / 1.055) ** 2.4)


_LINEAR = tuple(linear(value) for value in range(256))
_RED_PART, _GREEN_PART, _BLUE_PART = (
    tuple(round(share * light * _FULL) for light in _LINEAR) for share in (0.2126, 0.7152, 0.0722)
)


def relative_luminance(colour: Rgb) -> float:
    """Return the relative luminance of an sRGB colour, 0 for black to 1 for white (WCAG 2.2)."""
    red, green, blue = (_LINEAR[value] for value in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: Rgb, other: Rgb) -> float:
    """Return the contrast ratio of two colours, 1 to 21, whichever is lighter (WCAG 2.2)."""
    dark, light = sorted((relative_luminance(one), relative_luminance(other)))
    return (light + 0.05) / (dark + 0.05)


@lru_cache(maxsize=4096)
def saturated_red(colour: Rgb) -> bool:
    """Return whether red makes up at least 0.8 of a colour's light (WCAG 2.2, "red flash")."""
    red, green, blue = (_LINEAR[value] for value in colour)
    return red >= _HUE_FLOOR and red / (red + green + blue) >= _RED_SHARE


def red_turn(old: Rgb, new: Rgb) -> int:
    """Return 1 if the step between two colours is a red change towards red, -1 if away from it, 0 if it is none.

    A red change by either of WCAG's texts: one state is saturated red, and (R - G - B) * 320 changes by more than 20
    (2.0 and 2.1), or the chromaticity by more than 0.2 (2.2). Black has none: red to black is a red change.
    """
    was, becomes = saturated_red(old), saturated_red(new)
    if not (was or becomes):
        return 0
    rise = _redness(new) - _redness(old)
    if abs(rise) <= _RED_STEP and _shift(old, new) <= _RED_SHIFT:
        return 0
    if was and becomes:
        return 1 if rise > 0 else -1
    return 1 if becomes else -1


class Flicker(msgspec.Struct, frozen=True, kw_only=True):
    """The most opposing changes in any one second of a sequence; two of them make a flash."""

    general: int
    red: int

    def within(self, flashes: int) -> bool:
        """Return whether no second holds more than this many general, or red, flashes."""
        return max(self.general, self.red) <= 2 * flashes


def flicker(frames: Iterable[tuple[int, Sequence[Rgb]]]) -> Flicker:
    """Return the worst second of a sequence of (time in ns, the colour of each region), times rising.

    Every region counts by itself, and so does their mean; no region is too small to count. The first frame only sets
    the colours. Raises ValueError if frames differ in their number of regions.
    """
    whole = list(frames)
    return Flicker(general=most_general(whole), red=most_red(whole))


def most_general(frames: Iterable[tuple[int, Sequence[Rgb]]]) -> int:
    """Return the most opposing changes of luminance that any second holds, as ``flicker``."""
    times, regions = _regions(frames)
    luminances = [[_level(colour) for colour in region] for region in regions]
    luminances.append([_mean(row) for row in zip(*luminances, strict=True)])
    return max((_worst(times, series, _general_changes, _reversals) for series in luminances), default=0)


def most_red(frames: Iterable[tuple[int, Sequence[Rgb]]]) -> int:
    """Return the most red changes that any second holds, as ``flicker``."""
    times, regions = _regions(frames)
    return max((_worst(times, region, _red_changes, _places) for region in regions if _has_red(region)), default=0)


def _regions(frames: Iterable[tuple[int, Sequence[Rgb]]]) -> tuple[list[int], list[tuple[Rgb, ...]]]:
    """Return the times of frames, and the colours of each region."""
    times: list[int] = []
    rows: list[Sequence[Rgb]] = []
    for at_ns, colours in frames:
        times.append(at_ns)
        rows.append(colours)
    return times, list(zip(*rows, strict=True))


def _has_red(colours: Iterable[Rgb]) -> bool:
    """Return whether a red change is possible at all."""
    return any(map(saturated_red, set(colours)))


def _worst(
    times: Sequence[int], states: Sequence[_T], count: Callable[[Sequence[_T]], int],
    chances: Callable[[Sequence[_T]], Sequence[int]],
) -> int:  # fmt: skip
    """Return the most changes in any second, each second judged from the state just before it.

    Between two states there are no more changes than their ``chances`` differ, and one more.
    """
    # What stays as it was is no change, and a second that begins with it holds no more than the next that does not.
    moves = [n for n, state in enumerate(states) if n == 0 or state != states[n - 1]]
    at_ns, moved = [times[n] for n in moves], [states[n] for n in moves]
    most = chances(moved)
    worst = 0
    end = 0
    for begin in range(1, len(moved)):
        while end < len(moved) and at_ns[end] < at_ns[begin] + NS_PER_S:
            end += 1
        if most[end - 1] - most[begin] + 1 > worst:
            worst = max(worst, count(moved[begin - 1 : end]))
    return worst


def _places(colours: Sequence[Rgb]) -> Sequence[int]:
    """Return the place of each colour: each may be a change."""
    return range(len(colours))


def _reversals(levels: Sequence[int]) -> list[int]:
    """Return how often luminance has gone the other way up to each level; between two reversals it changes once."""
    rises = [new > old for old, new in pairwise(levels)]
    return [0, *accumulate((one != other for one, other in pairwise(rises)), initial=0)]


def _general_changes(levels: Sequence[int]) -> int:
    swing = _Swing(levels[0])
    changes = 0
    for level in levels:
        changes += swing.take(level) != 0
    return changes


def _red_changes(colours: Sequence[Rgb]) -> int:
    changes = last = 0
    since = [colours[0]]
    for colour in colours:
        turn = next((t for old in since if (t := red_turn(old, colour)) not in (0, last)), 0)
        if turn:
            changes, last, since = changes + 1, turn, []
        if colour not in since:
            since.append(colour)
    return changes


def _level(colour: Rgb) -> int:
    return _RED_PART[colour[0]] + _GREEN_PART[colour[1]] + _BLUE_PART[colour[2]]


def _mean(levels: Sequence[int]) -> int:
    return sum(levels) // max(len(levels), 1)


def _redness(colour: Rgb) -> float:
    red, green, blue = (_LINEAR[value] for value in colour)
    return max(0.0, (red - green - blue) * 320)


def _shift(one: Rgb, other: Rgb) -> float:
    """Return the distance of two colours on the CIE 1976 u'v' diagram; infinite if just one of them is black."""
    a, b = _chromaticity(one), _chromaticity(other)
    if a is None or b is None:
        return 0.0 if a is b else float("inf")
    return float(((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5)


def _chromaticity(colour: Rgb) -> tuple[float, float] | None:
    """Return u' and v' (IEC 61966-2-1 primaries), or None for what is as good as black."""
    red, green, blue = (_LINEAR[value] for value in colour)
    if max(red, green, blue) < _HUE_FLOOR:
        return None
    x = 0.4124 * red + 0.3576 * green + 0.1805 * blue
    y = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    z = 0.0193 * red + 0.1192 * green + 0.9505 * blue
    whole = x + 15 * y + 3 * z
    return 4 * x / whole, 9 * y / whole


class _Swing:
    """The luminance of one region since its last turn. A turn is a change of 0.10 against the one before it."""

    def __init__(self, level: int) -> None:
        self._low = self._high = level
        self._direction = 0

    def turn(self, level: int) -> int:
        """Return 1 or -1 if this level makes an opposing change up or down, else 0."""
        if self._direction <= 0 and level - self._low >= _STEP and self._low < _BRIGHT:
            return 1
        if self._direction >= 0 and self._high - level >= _STEP and level < _BRIGHT:
            return -1
        return 0

    def extends(self, level: int) -> bool:
        """Return whether this level carries the last change further."""
        return (self._direction > 0 and level > self._high) or (self._direction < 0 and level < self._low)

    def take(self, level: int) -> int:
        """Move to this level; return what ``turn`` says of it."""
        turn = self.turn(level)
        if turn:
            self._direction = turn
            self._low = self._high = level
        elif level < self._low:
            self._low = level
        elif level > self._high:
            self._high = level
        return turn


class _LuminanceGuard:
    """Counts the opposing changes of one luminance, each dated by its last extension.

    Dating by the extension, not by the begin, makes the count hold for every second, wherever it is cut.
    """

    def __init__(self, changes: int) -> None:
        self._swing = _Swing(0)
        self._changes = changes
        self._dates: deque[int] = deque(maxlen=changes)

    def spend(self, now_ns: int) -> None:
        self._dates.extend([now_ns] * self._changes)

    def allows(self, now_ns: int, level: int) -> bool:
        if not self._swing.turn(level):
            return True
        return len(self._dates) < self._changes or now_ns - self._dates[0] >= NS_PER_S

    def take(self, now_ns: int, level: int) -> None:
        if self._swing.turn(level):
            self._dates.append(now_ns)
        elif self._swing.extends(level):
            self._dates[-1] = now_ns
        self._swing.take(level)


class _RedGuard:
    """Keeps the red changes of one region a second apart, and red away for a while once it has gone.

    Going into and out of saturated red always counts; inside, so does every half of WCAG's step from where it settled,
    so that no two states between two changes are a full step apart.
    """

    def __init__(self) -> None:
        self._settled = BLACK
        self._changed_ns: int | None = None
        self._left_ns: int | None = None

    def spend(self, now_ns: int) -> None:
        self._changed_ns = self._left_ns = now_ns

    def allows(self, now_ns: int, colour: Rgb) -> bool:
        if not self._changes(colour):
            return True
        if self._changed_ns is not None and now_ns - self._changed_ns < NS_PER_S:
            return False
        enters = not saturated_red(self._settled)
        return not (enters and self._left_ns is not None and now_ns - self._left_ns < RED_REST_NS)

    def take(self, now_ns: int, colour: Rgb) -> None:
        was, becomes = saturated_red(self._settled), saturated_red(colour)
        if self._changes(colour):
            self._changed_ns = now_ns
            self._left_ns = now_ns if was and not becomes else self._left_ns
            self._settled = colour
        elif not becomes:
            self._settled = colour

    def _changes(self, colour: Rgb) -> bool:
        was, becomes = saturated_red(self._settled), saturated_red(colour)
        if was and becomes:
            return abs(_redness(colour) - _redness(self._settled)) > _RED_STEP / 2
        return was or becomes


class FlashGuard:
    """Limits the light of n regions: its output holds at most ``flashes`` in any second, whatever the plan.

    A region whose change would exceed that keeps its colour; if all of them together would, all keep theirs. Ask again
    with the next frame: the change is possible within a second (for red that has gone, within RED_REST_NS). All regions
    begin black.
    """

    def __init__(self, regions: int, *, flashes: int = MAX_FLASHES) -> None:
        self._shown: list[Rgb] = [BLACK] * regions
        self._regions = [_LuminanceGuard(2 * flashes) for _ in range(regions)]
        self._reds = [_RedGuard() for _ in range(regions)]
        self._whole = _LuminanceGuard(2 * flashes)

    @property
    def shown(self) -> list[Rgb]:
        """The last output colours."""
        return list(self._shown)

    def admit(self, now_ns: int, colours: Sequence[Rgb]) -> list[Rgb]:
        """Return the colours to show now: the wanted ones, and for a region that must wait its present one. Raises
        ValueError if there is not one colour for each region."""
        meters = zip(colours, self._shown, self._regions, self._reds, strict=True)
        chosen = [
            new if new == old or (general.allows(now_ns, _level(new)) and red.allows(now_ns, new)) else old
            for new, old, general, red in meters
        ]
        if not self._whole.allows(now_ns, _mean([_level(colour) for colour in chosen])):
            chosen = self._shown
        self._take(now_ns, chosen)
        return list(chosen)

    def force(self, now_ns: int, colour: Rgb = BLACK) -> list[Rgb]:
        """Set one colour for all regions without waiting, and count the change.

        Only for making safe: turning dark for good must not wait. Later changes do wait for it.
        """
        chosen = [colour] * len(self._shown)
        self._take(now_ns, chosen)
        return list(chosen)

    def spend(self, now_ns: int) -> None:
        """Take it that as much has just flashed as is allowed, red too: somebody else lit these regions before, and
        nobody knows how."""
        for meter in (self._whole, *self._regions):
            meter.spend(now_ns)
        for red in self._reds:
            red.spend(now_ns)

    def _take(self, now_ns: int, colours: Sequence[Rgb]) -> None:
        self._whole.take(now_ns, _mean([_level(colour) for colour in colours]))
        for place, colour in enumerate(colours):
            if colour != self._shown[place]:
                self._regions[place].take(now_ns, _level(colour))
                self._reds[place].take(now_ns, colour)
        self._shown = list(colours)
