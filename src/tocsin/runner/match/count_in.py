"""Make the count-in's firings: a short tone and a short light on each of the last beats before the origin.

They hang on the anchor ``count_in``, whose origin is the press of the start key, in real time. So every worker fires
them like any cue, and the last beat, on which everyone presses, is as punctual as a call. Pads do not beat: drivers'
hands are busy.
"""

import msgspec

from tocsin.model.pattern import LightPattern, Patterns, SoundPattern, SoundStep
from tocsin.model.plan import ChannelName
from tocsin.model.timeline.timeline import Firing, Point, Timeline
from tocsin.units import NS_PER_MS, NS_PER_S

ANCHOR = "count_in"
BEATS = 3
# ISO 16: A5 for the beats that lead, E6 for the one to press on; both within 500 to 2500 Hz.
BEAT_HZ, LAST_HZ = 880.0, 1318.5102
_YELLOW, _WHITE = (240, 228, 66), (255, 255, 255)


def _sound(hz: float) -> SoundPattern:
    return SoundPattern(steps=(SoundStep(hz=hz, level=0.7, lasts_ns=120 * NS_PER_MS),))


def _light(colour: tuple[int, int, int]) -> LightPattern:
    return LightPattern(form="solid", colours=(colour,), lasts_ns=200 * NS_PER_MS, level=0.6)


_SOUNDS = {"count_beat": _sound(BEAT_HZ), "count_last": _sound(LAST_HZ)}
_LIGHTS = {"count_beat": _light(_YELLOW), "count_last": _light(_WHITE)}


def with_count_in(timeline: Timeline, count_in_ns: int) -> Timeline:
    """Return the timeline with the count-in's firings behind its own: one beat a second, the last on the origin."""
    if count_in_ns <= 0:
        return timeline
    beats = [count_in_ns - k * NS_PER_S for k in range(BEATS, -1, -1) if count_in_ns >= k * NS_PER_S]
    channels: tuple[ChannelName, ...] = ("light", "sound")
    places = [(n, offset_ns, channel) for n, offset_ns in enumerate(beats) for channel in channels]
    firings = tuple(
        _firing(len(timeline.firings) + k, n, offset_ns, channel, last=offset_ns == count_in_ns)
        for k, (n, offset_ns, channel) in enumerate(places)
    )
    return msgspec.structs.replace(timeline, firings=timeline.firings + firings)


def with_count_in_patterns(patterns: Patterns) -> Patterns:
    """Return the patterns with those of the count-in."""
    return msgspec.structs.replace(
        patterns, light={**patterns.light, **_LIGHTS}, sound={**patterns.sound, **_SOUNDS}
    )


def _firing(no: int, n: int, offset_ns: int, channel: ChannelName, *, last: bool) -> Firing:
    pattern = "count_last" if last else "count_beat"
    shown = {"light": _LIGHTS[pattern].lasts_ns, "sound": _SOUNDS[pattern].steps[0].lasts_ns}
    return Firing(
        no=no, cue=ANCHOR, n=n, channel=channel, role=None, begin=Point(ANCHOR, offset_ns), until=None, sustained=False,
        pattern=pattern, word="", late_limit_ns=100 * NS_PER_MS, priority=9, when="", match_ns=None,
        lasts_ns=shown[channel],
    )  # fmt: skip
