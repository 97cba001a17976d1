"""Make the count-in's firings: a short tone and a short light on each of the last beats before the origin.

They hang on the anchor ``count_in``, whose origin is the press of the start key, in real time. So every worker fires
them like any cue, and the last beat, on which everyone presses, is as punctual as a call. Pads do not beat: drivers'
hands are busy.

Each beat that leads has as many short tones as seconds are left, the first of them on the beat: three, two, one. The
beat to press on is one long tone, lower. Equal tones with a higher one behind are a starting signal elsewhere.
"""

import msgspec

from tocsin.model.pattern import LightPattern, Patterns, SoundPattern, SoundStep, lasts_ns
from tocsin.model.plan import ChannelName
from tocsin.model.timeline.timeline import Firing, Point, Timeline
from tocsin.units import NS_PER_MS, NS_PER_S

ANCHOR = "count_in"
BEATS = 3
# ISO 16: B5 for the beats that lead, D5 for the one to press on; within 500 to 2500 Hz, and no bundled sound's.
BEAT_HZ, LAST_HZ = 987.7666, 587.3295
_LEVEL = 0.7
_SHORT_NS, _PAUSE_NS, _LONG_NS = 60 * NS_PER_MS, 60 * NS_PER_MS, 250 * NS_PER_MS
_YELLOW, _WHITE = (240, 228, 66), (255, 255, 255)


def beat_sound(left: int) -> SoundPattern:
    """Return the sound of the beat with so many seconds left; 0 is the one to press on."""
    if not left:
        return SoundPattern(steps=(SoundStep(hz=LAST_HZ, level=_LEVEL, lasts_ns=_LONG_NS),))
    tone, pause = SoundStep(hz=BEAT_HZ, level=_LEVEL, lasts_ns=_SHORT_NS), SoundStep(lasts_ns=_PAUSE_NS)
    return SoundPattern(steps=(*(tone, pause) * (left - 1), tone))


def _light(colour: tuple[int, int, int]) -> LightPattern:
    return LightPattern(form="plain", colours=(colour,), lasts_ns=200 * NS_PER_MS, level=0.6)


_SOUNDS = {f"count_{left}": beat_sound(left) for left in range(BEATS + 1)}
_LIGHTS = {f"count_{left}": _light(_YELLOW if left else _WHITE) for left in range(BEATS + 1)}


def with_count_in(timeline: Timeline, count_in_ns: int) -> Timeline:
    """Return the timeline with the count-in's firings behind its own: one beat a second, the last on the origin."""
    if count_in_ns <= 0:
        return timeline
    beats = [left for left in range(BEATS, -1, -1) if count_in_ns >= left * NS_PER_S]
    channels: tuple[ChannelName, ...] = ("light", "sound")
    places = [(n, left, channel) for n, left in enumerate(beats) for channel in channels]
    firings = tuple(
        _firing(len(timeline.firings) + k, n, Point(ANCHOR, count_in_ns - left * NS_PER_S), channel, f"count_{left}")
        for k, (n, left, channel) in enumerate(places)
    )
    return msgspec.structs.replace(timeline, firings=timeline.firings + firings)


def with_count_in_patterns(patterns: Patterns) -> Patterns:
    """Return the patterns with those of the count-in."""
    return msgspec.structs.replace(
        patterns, light={**patterns.light, **_LIGHTS}, sound={**patterns.sound, **_SOUNDS}
    )


def _firing(no: int, n: int, begin: Point, channel: ChannelName, pattern: str) -> Firing:
    shown = lasts_ns(_LIGHTS[pattern] if channel == "light" else _SOUNDS[pattern])
    return Firing(
        no=no, cue=ANCHOR, n=n, channel=channel, role=None, begin=begin, until=None, sustained=False,
        pattern=pattern, word="", late_limit_ns=100 * NS_PER_MS, priority=9, when="", match_ns=None,
        lasts_ns=shown,
    )  # fmt: skip
