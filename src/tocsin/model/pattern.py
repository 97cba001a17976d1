"""Define a channel's patterns over time for a cue. Patterns run in real time, whatever the rate of the match clock."""

from typing import Literal

import msgspec

Rgb = tuple[int, int, int]
DEFAULT_LEVEL = 0.8                    # of a tone


class RumbleStep(msgspec.Struct, frozen=True, kw_only=True):
    """Both motors for a time; strengths 0 to 1: strong is the low-frequency (left) motor, weak the right one."""

    strong: float = 0.0
    weak: float = 0.0
    lasts_ns: int


class RumblePattern(msgspec.Struct, frozen=True, kw_only=True):
    """Steps, the whole series repeated ``times`` times."""

    steps: tuple[RumbleStep, ...]
    times: int = 1


LightForm = Literal["plain", "swell", "on_off", "shuttle", "queue", "ebb", "bands", "apart"]
STANDING: frozenset[LightForm] = frozenset(("plain", "bands", "apart"))       # forms that look the same all the time


class LightPattern(msgspec.Struct, frozen=True, kw_only=True):
    """A form on the strip.

    ``colours`` holds one colour, or two for a form of two (bands; on_off between two; apart, the middle's second).
    ``cycle_ns`` is one round of swell, on_off, shuttle, queue. ``width`` is the share of the strip that a band, a block
    of shuttle or queue, or each outer part of apart takes. ``level`` scales the brightness. ``lasts_ns`` is how long it
    shows without an ``until``; ``ebb`` shrinks from the whole strip to nothing over the remaining time of its interval.
    """

    form: LightForm
    colours: tuple[Rgb, ...]
    lasts_ns: int
    cycle_ns: int = 1_000_000_000
    width: float = 0.125
    level: float = 1.0


ScreenField = Literal["plain", "stripes", "apart", "none"]


class ScreenPattern(msgspec.Struct, frozen=True, kw_only=True):
    """A field of colour with one word on a black plate.

    ``field`` "plain" uses one colour, "stripes" two (standing, 45 degrees), "apart" one for a block at either side and
    one for the middle (black if there is one colour only), "none" leaves the ground black.
    The full field shows for ``full_ns``, after it only a frame (at most a fifth of the area) until the cue ends.
    ``frame`` "shrinks": the frame closes in from all sides with the time left of the interval; "stands": it stays;
    "steps": it steps inward once a firing. ``cycle_ns`` above 0 makes the field swell and fade slowly.
    ``lasts_ns`` is how long it all shows when no ``until`` holds it.
    """

    field: ScreenField
    colours: tuple[Rgb, ...]
    letters: Rgb
    lasts_ns: int
    full_ns: int = 1_500_000_000
    frame: Literal["shrinks", "stands", "steps", "none"] = "stands"
    cycle_ns: int = 0


class SoundStep(msgspec.Struct, frozen=True, kw_only=True):
    """A tone of ``hz``, gliding to ``to_hz`` if that is above 0; hz 0 is silence; ``level`` 0 to 1."""

    hz: float = 0.0
    to_hz: float = 0.0
    level: float = DEFAULT_LEVEL
    lasts_ns: int


class SoundPattern(msgspec.Struct, frozen=True, kw_only=True):
    """Steps, the whole series ``times`` times; each tone rises over ``attack_ns`` and falls over ``release_ns``."""

    steps: tuple[SoundStep, ...]
    times: int = 1
    attack_ns: int = 8_000_000
    release_ns: int = 20_000_000


Pattern = RumblePattern | LightPattern | ScreenPattern | SoundPattern


class Patterns(msgspec.Struct, frozen=True, kw_only=True):
    """All patterns by channel and id."""

    rumble: dict[str, RumblePattern] = {}
    light: dict[str, LightPattern] = {}
    screen: dict[str, ScreenPattern] = {}
    sound: dict[str, SoundPattern] = {}


def lasts_ns(pattern: Pattern) -> int:
    """Return the length of a pattern by itself, in nanoseconds."""
    if isinstance(pattern, RumblePattern | SoundPattern):
        return pattern.times * sum(step.lasts_ns for step in pattern.steps)
    return pattern.lasts_ns
