"""Find flashing light: what a plan asks of strip and screen, each and both together, second by second.

Nobody sees these flashes, since both devices keep to two flashes in any second whatever a plan says. But a plan that
asks for more looks different from what its writer expects, and on other devices it could harm.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tocsin.lint import limits as limit
from tocsin.lint.finding import WARN, Finding, Kind, Level
from tocsin.lint.limits import MOST_FLASHES, STILL_STRIPES, WISE_FLASHES
from tocsin.lint.shows import Colours, LightShow, ScreenShow
from tocsin.lint.subject import Subject
from tocsin.lint.tracks import PlacedFiring, Track
from tocsin.model.diagnostics import Path
from tocsin.model.pattern import Rgb
from tocsin.model.safety import BLACK, linear, most_red, relative_luminance, saturated_red
from tocsin.translation import tr
from tocsin.units import NS_PER_S

# Whole numbers, as there, so that sums and thresholds are exact. The thresholds are those of WCAG 2.2, "flash".
FULL = 1_000_000_000
_STEP = FULL // 10
_BRIGHT = FULL * 8 // 10
Levels = NDArray[np.int64]
_PARTS = np.array(
    [[round(share * linear(value) * FULL) for value in range(256)] for share in (0.2126, 0.7152, 0.0722)], np.int64
)

KINDS_OF_FLASHING: dict[str, Kind] = {
    "flash": Kind(
        ("error", "warning"),
        "{cues} would make the {device} flash {flashes} times in the second that begins {when} ({changes} changes "
        "between bright and dark), on {area}.",
        "Fast flashing can cause a seizure. Devices slow it down, so it will not look as written.",
        "Take a longer cycle, or more time between the cues: at most two flashes in a second.",
        (limit.MOST_FLASHES, limit.WISE_FLASHES),
    ),
    "red_flash": Kind(
        ("error", "warning"),
        "{cues} would make the {device} flash {flashes} times in red in one second {when}, on {area}.",
        "Flashing red causes seizures most easily. Devices slow it, so it will not look as written.",
        "Take another colour: yellow, orange, sky_blue or white.",
        (limit.MOST_FLASHES, limit.WISE_FLASHES),
    ),
    "moving_stripes": Kind(
        WARN,
        "The light pattern '{pattern}' lets stripes run along the strip.",
        "Stripes that move disturb more than still ones, and may do harm as flashing does.",
        'Write: form = "bands", or "shuttle" for one block that moves.',
        (limit.STILL_STRIPES,),
    ),
}


def levels(colours: NDArray[np.uint8]) -> Levels:
    """Return the relative luminance of ``colours``, 0 to FULL, shape (...); colours are sRGB 0 to 255, shape (..., 3)
    (WCAG 2.2)."""
    lit: Levels = _PARTS[0][colours[..., 0]] + _PARTS[1][colours[..., 1]] + _PARTS[2][colours[..., 2]]
    return lit


def changes(
    times: NDArray[np.int64], regions: Levels, starts: int | None = None, above: int = 0
) -> NDArray[np.int64]:
    """Return the number of opposing changes in the second after each frame, shape (frames, regions).

    ``times`` are nanoseconds, rising, shape (frames,); ``regions`` are levels 0 to FULL, shape (frames, regions). Each
    second is judged from the state just before it, so the first frame only gives that state and its row is 0. Only the
    first ``starts`` frames begin a second. A count that cannot exceed ``above`` stays 0.
    """
    frames, width = regions.shape
    counts = np.zeros((frames, width), np.int64)
    begins = np.arange(1, min(starts or frames, frames))
    ends = np.searchsorted(times, times[begins] + NS_PER_S)
    # While light rises, or falls, only how far it comes matters: a second is its state before, the levels at which it
    # turns round, and the last one. There are no more changes than rises and falls.
    turned = _turns(regions)
    if turned.sum(axis=0).max(initial=0) + 1 <= above:
        return counts
    region, turns = np.nonzero(turned.T)
    firsts, lasts = (
        np.searchsorted(region * frames + turns, places[:, None] + np.arange(width) * frames)
        for places in (begins + 1, ends)
    )
    rows, columns = np.nonzero(lasts - firsts + 1 > above)
    if not len(rows):
        return counts
    inside = (lasts - firsts)[rows, columns]
    order = np.argsort(-inside, kind="stable")         # seconds with few turns are behind all that go on
    rows, columns, inside = rows[order], columns[order], inside[order]
    firsts = firsts[rows, columns]
    swing = _Swings(regions[begins[rows] - 1, columns])
    for step in range(int(inside.max(initial=0))):
        on = int(np.searchsorted(-inside, -step))
        swing.take(regions[turns[firsts[:on] + step] - 1, columns[:on]])
    swing.take(regions[ends[rows] - 1, columns])
    counts[begins[rows], columns] = swing.changes
    return counts


def _turns(regions: Levels) -> NDArray[np.bool_]:
    """Return where the level goes the other way than at its last change, shape (frames, regions); levels are 0 to
    FULL."""
    turns = np.zeros(regions.shape, np.bool_)
    ways = np.sign(np.diff(regions, axis=0))
    moved = np.where(ways != 0, np.arange(len(ways))[:, None], 0)
    last = np.take_along_axis(ways, np.maximum.accumulate(moved, axis=0), axis=0)
    turns[2:] = ways[1:] * last[:-1] < 0
    return turns


class _Swings:
    """The luminance, 0 to FULL, of many seconds (shape (seconds,)) since their last turn, as ``model.safety`` has it
    for one, and the counts of their changes."""

    def __init__(self, levels: Levels) -> None:
        self._low, self._high = levels.copy(), levels.copy()
        self._way = np.zeros_like(levels)
        self.changes = np.zeros_like(levels)

    def take(self, level: Levels) -> None:
        """Move the first ``len(level)`` seconds to these levels, shape (some seconds,)."""
        on = len(level)
        low, high, way = self._low[:on], self._high[:on], self._way[:on]
        up = (way <= 0) & (level - low >= _STEP) & (low < _BRIGHT)
        down = ~up & (way >= 0) & (high - level >= _STEP) & (level < _BRIGHT)
        turned = up | down
        self.changes[:on] += turned
        way[up], way[down] = 1, -1
        np.minimum(low, level, out=low)
        np.maximum(high, level, out=high)
        low[turned] = high[turned] = level[turned]


_CHUNK_NS = 2 * NS_PER_S               # so many seconds' begins are looked at in one go
_WISE, _MOST = 2 * int(WISE_FLASHES.value), 2 * int(MOST_FLASHES.value)        # in opposing changes
# A second of more changes holds so many turns (``Show.turns``); of both devices one more change may be under way.
_TURNS, _TURNS_TOGETHER = _WISE, _WISE - 1
_PACKED = np.array([1 << 16, 1 << 8, 1])                                         # a colour as one number
_BOTH = tr("strip and screen together")


class _Peak(NamedTuple):
    """The worst second of a device: ``begin_ns`` of it, relative to what was looked at."""

    code: str
    device: str
    changes: int
    area: str
    begin_ns: int
    lasts_ns: int


def flashing(subject: Subject) -> Iterator[Finding]:
    """Yield what flashes too often, and stripes that move."""
    yield from _moving_stripes(subject)
    for track in subject.tracks:
        if track.of("light") or track.of("screen"):
            yield from _Watch(subject, track).findings()


def _moving_stripes(subject: Subject) -> Iterator[Finding]:
    for channel, name in subject.used:
        if channel != "light":
            continue
        pattern = subject.plan.patterns.light[name]
        one, other = (*pattern.colours, BLACK)[:2]
        differ = abs(relative_luminance(one) - relative_luminance(other)) * pattern.level >= STILL_STRIPES.value
        if pattern.form == "queue" and differ:
            for cue in subject.owners("light", name):
                path = subject.pattern("light", name, cue, "form")
                yield Finding(code="moving_stripes", level="warning", path=path, facts={"pattern": name})


class _Watch:
    """Looks at one track wherever light may turn often enough."""

    def __init__(self, subject: Subject, track: Track) -> None:
        self._subject = subject
        self._track = track
        self._light = LightShow(track.of("light"), subject.plan.patterns, subject.devices, subject.light.leds)
        self._screen = ScreenShow(track.of("screen"), subject.plan.patterns, subject.devices)
        self._turns = {show: np.array(sorted(show.turns()), np.int64) for show in (self._light, self._screen)}
        self._known: dict[object, list[_Peak]] = {}
        self._told: set[frozenset[str]] = set()

    def findings(self) -> Iterator[Finding]:
        """Yield them in the order of the track."""
        for begin_ns, end_ns in self._pieces():
            for at_ns in range(begin_ns, end_ns + 1, _CHUNK_NS):
                yield from self._piece(at_ns)

    def _pieces(self) -> Iterator[tuple[int, int]]:
        """Yield where seconds begin that may hold too many changes."""
        turns = np.sort(np.concatenate([*self._turns.values()]))
        crowded = _crowded(turns, _TURNS_TOGETHER)
        before = np.maximum(turns[np.maximum(crowded - 1, 0)], turns[crowded] - NS_PER_S)
        begin_ns: int | None = None
        last_ns = 0
        for low_ns, high_ns in zip(before.tolist(), turns[crowded].tolist(), strict=True):
            if begin_ns is not None and low_ns > last_ns:
                yield begin_ns, last_ns
                begin_ns = None
            begin_ns = low_ns if begin_ns is None else begin_ns
            last_ns = high_ns
        if begin_ns is not None:
            yield begin_ns, last_ns

    def _piece(self, begin_ns: int) -> Iterator[Finding]:
        before_ns, end_ns = begin_ns - 1, begin_ns + _CHUNK_NS + NS_PER_S
        cues = frozenset(p.firing.cue for _, p in self._shown(before_ns, end_ns))
        if cues in self._told:
            return
        looks = (self._light.facts(before_ns, end_ns), self._screen.facts(before_ns, end_ns))
        if looks not in self._known:
            self._known[looks] = self._peaks(before_ns, end_ns)
        for peak in self._known[looks]:
            finding = self._finding(peak, before_ns)
            if finding.level == "error":
                self._told.add(cues)
            yield finding

    def _peaks(self, before_ns: int, end_ns: int) -> list[_Peak]:
        """Return what exceeds a limit in the seconds that begin behind the first moment, up to a chunk later."""
        moments = [*self._light.moments(before_ns, end_ns), *self._screen.moments(before_ns, end_ns)]
        inside = sorted({before_ns, *(at_ns for at_ns in moments if before_ns < at_ns < end_ns)})
        times = np.array(inside, np.int64) - before_ns
        starts = int(np.searchsorted(times, _CHUNK_NS + 2))
        means: list[Levels] = []
        found: list[_Peak] = []
        shows = (("strip", self._light), ("screen", self._screen))
        for device, show in shows:
            if not any(span.placed for span in show.within(before_ns, end_ns)):
                continue
            looks, frames = show.frames(inside)
            colours, shares = _merged(looks, show.shares)
            lit = levels(colours)
            mean = np.round(lit @ shares).astype(np.int64)[:, None]
            means.append(mean[frames])
            if not self._may_flash(show, before_ns, end_ns):
                continue
            peaks = [_general(device, times, np.hstack([lit, mean])[frames], shares, starts),
                     _red(device, times, colours, frames, shares)]  # fmt: skip
            found += [peak for peak in peaks if peak is not None]
        if len(means) == len(shows) and not any(peak.code == "flash" for peak in found):
            both = _general(_BOTH, times, (means[0] + means[1]) // 2, np.zeros(0), starts)
            found += [both] if both is not None else []
        return found

    def _may_flash(self, show: LightShow | ScreenShow, before_ns: int, end_ns: int) -> bool:
        """Return whether some second of a device by itself may hold too many changes."""
        first, last = np.searchsorted(self._turns[show], (before_ns, end_ns))
        return bool(len(_crowded(self._turns[show][first:last], _TURNS)))

    def _shown(self, begin_ns: int, end_ns: int) -> list[tuple[str, PlacedFiring]]:
        """Return what both devices show between two times, each with its device, in the order of begins."""
        pairs = [("strip", self._light), ("screen", self._screen)]
        shown = [(name, s.placed) for name, show in pairs for s in show.within(begin_ns, end_ns) if s.placed]
        return sorted(shown, key=lambda pair: (pair[1].begin_ns, pair[1].firing.no))

    def _finding(self, peak: _Peak, before_ns: int) -> Finding:
        begin_ns = before_ns + peak.begin_ns
        shown = self._shown(begin_ns, begin_ns + peak.lasts_ns)
        there = [p for device, p in shown if peak.device in (device, _BOTH)]
        if peak.code == "red_flash":
            there = [p for p in there if self._is_red(p)] or there
            begin_ns = max(begin_ns, there[0].begin_ns)
        cues = list(dict.fromkeys(p.firing.cue for p in there))
        facts = {
            "device": peak.device, "flashes": f"{peak.changes / 2:g}", "changes": str(peak.changes), "area": peak.area,
            "cues": ", ".join(f"'{cue}'" for cue in cues[:3]) + (tr(" and others") if len(cues) > 3 else ""),
            "when": self._track.when(max(begin_ns, 0)),
        }  # fmt: skip
        level: Level = "error" if peak.changes > _MOST else "warning"
        return Finding(code=peak.code, level=level, path=self._path(there), facts=facts)

    def _path(self, there: list[PlacedFiring]) -> Path:
        last = there[-1].firing
        if len({(p.firing.no, p.begin_ns) for p in there}) == 1:
            return self._subject.pattern(last.channel, last.pattern, last.cue, "cycle")
        return self._subject.rhythm(last.cue)

    def _is_red(self, placed: PlacedFiring) -> bool:
        patterns = self._subject.plan.patterns
        known = patterns.light if placed.firing.channel == "light" else patterns.screen
        return any(saturated_red(colour) for colour in known[placed.firing.pattern].colours)


def _crowded(turns: NDArray[np.int64], many: int) -> NDArray[np.int64]:
    """Return the indices of the turns (ns, rising, shape (turns,)) whose next second holds ``many``, shape
    (crowded,)."""
    return np.flatnonzero(np.searchsorted(turns, turns + NS_PER_S) - np.arange(len(turns)) >= many)


def _merged(colours: Colours, shares: NDArray[np.float64]) -> tuple[Colours, NDArray[np.float64]]:
    """Return colours (shape (looks, groups, 3)) and shares of the area (shape (groups,)); regions that always look
    alike become one group. ``colours`` has shape (looks, regions, 3), ``shares`` shape (regions,)."""
    alike: dict[bytes, list[int]] = {}
    for place in range(colours.shape[1]):
        alike.setdefault(colours[:, place].tobytes(), []).append(place)
    groups = list(alike.values())
    return colours[:, [group[0] for group in groups]], np.array([shares[group].sum() for group in groups])


def _general(
    device: str, times: NDArray[np.int64], regions: Levels, shares: NDArray[np.float64], starts: int
) -> _Peak | None:
    """Return the worst second of general flashes; regions after the last share are means.

    ``times`` are nanoseconds, shape (frames,); ``regions`` levels, shape (frames, regions); ``shares`` 0 to 1.
    """
    counts = changes(times, regions, starts, above=_WISE)
    most = counts.max(axis=1)
    worst = int(most.argmax())
    if most[worst] <= _WISE:
        return None
    row: list[int] = counts.tolist()[worst]
    flash = [count > _WISE for count in row[: len(shares)]]
    area = _area(flash, shares) if any(flash) else tr("all of it taken together")
    return _Peak("flash", device, int(most[worst]), area, int(times[worst]), NS_PER_S)


def _red(
    device: str, times: NDArray[np.int64], colours: Colours, frames: NDArray[np.int64], shares: NDArray[np.float64]
) -> _Peak | None:
    """Return the worst second of red changes by either of WCAG's texts, counted as everywhere else in Tocsin.

    ``times`` are nanoseconds and ``frames`` indices of looks, both of shape (frames,); ``colours`` are sRGB, shape
    (looks, regions, 3); ``shares`` of the area 0 to 1, shape (regions,).
    """
    packed = colours.astype(np.int64) @ _PACKED
    red: set[Rgb] = {colour for colour in map(_unpacked, set(packed.ravel().tolist())) if saturated_red(colour)}
    if not red:
        return None
    rows: list[list[Rgb]] = [[(r, g, b) for r, g, b in row] for row in colours.tolist()]
    flash = [not red.isdisjoint(column) for column in zip(*rows, strict=True)]
    looks = [[colour for colour, does in zip(row, flash, strict=True) if does] for row in rows]
    seen = [looks[look] for look in frames.tolist()]
    most = most_red(zip(times.tolist(), seen, strict=True))
    if most <= _WISE:
        return None
    return _Peak("red_flash", device, most, _area(flash, shares), 1, int(times[-1]))


def _unpacked(number: int) -> Rgb:
    return number >> 16, number >> 8 & 255, number & 255


def _area(flash: Sequence[bool], shares: NDArray[np.float64]) -> str:
    """Return how much of a device flashes, in words."""
    share = sum(share for share, does in zip(shares.tolist(), flash, strict=True) if does)
    return tr("{share:.0f}% of its area", share=share * 100)
