"""Make tones as samples: steps of pitch or glide, with soft edges so that nothing clicks. Pure.

It does without numpy, whose import takes the worker longer than all tones of a plan, and 7 MB for its whole life.
"""

import math
import sys
from array import array

from tocsin.model.pattern import SoundPattern, SoundStep
from tocsin.model.samples import FRAME_BYTES, PEAK, RATE_HZ, SIDES
from tocsin.model.spoken import word_begins_ns
from tocsin.units import NS_PER_S


def pcm(pattern: SoundPattern) -> bytes:
    """Return a pattern as 16-bit little-endian stereo samples at 48 kHz."""
    mono = array("h")
    for step in pattern.steps:
        mono.extend(_step(step, pattern))
    if sys.byteorder == "big":
        mono.byteswap()
    both = array("h", bytes(SIDES * mono.itemsize * len(mono)))
    for side in range(SIDES):
        both[side::SIDES] = mono
    return both.tobytes() * pattern.times


def with_word(pattern: SoundPattern, tone: bytes, word: bytes) -> bytes:
    """Return a pattern's samples, ``tone``, followed by a word's at the time that ``model.spoken`` gives: all 16-bit
    little-endian stereo at 48 kHz."""
    begin = FRAME_BYTES * frames_of(word_begins_ns(pattern))
    return tone[:begin].ljust(begin, b"\0") + word


def frames_of(ns: int) -> int:
    """Return the number of frames at 48 kHz in a time in nanoseconds, rounded to the nearest."""
    return (ns * RATE_HZ + NS_PER_S // 2) // NS_PER_S


def _step(step: SoundStep, pattern: SoundPattern) -> "array[int]":
    """Return one step's samples: its pitch moves evenly from ``hz`` to ``to_hz``, its edges are half a cosine."""
    count = frames_of(step.lasts_ns)
    if step.hz <= 0 or step.level <= 0 or not count:
        return array("h", bytes(2 * count))
    # The phase is the integral of a pitch that begins as ``hz`` and rises by the same each sample.
    radians = 2 * math.pi * step.hz / RATE_HZ
    bend = math.pi * ((step.to_hz or step.hz) - step.hz) / RATE_HZ / count
    peak, sin = step.level * PEAK, math.sin
    wave = [peak * sin((radians + bend * (n + 1)) * n) for n in range(count)]
    _soften(wave, frames_of(pattern.attack_ns), frames_of(pattern.release_ns))
    return array("h", map(round, wave))


def _soften(wave: list[float], attack: int, release: int) -> None:
    """Let a step swell and fade; edges that do not fit share the step in their proportion."""
    count = len(wave)
    if attack + release > count:
        attack = count * attack // (attack + release)
        release = count - attack
    for n in range(attack):
        wave[n] *= 0.5 - 0.5 * math.cos(math.pi * n / attack)
    for n in range(1, release + 1):
        wave[count - release + n - 1] *= 0.5 + 0.5 * math.cos(math.pi * n / release)
