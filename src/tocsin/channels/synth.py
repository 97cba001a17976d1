"""Tones of our own as samples: steps of pitch or glide, with soft edges so that nothing clicks. Pure."""

import numpy as np
from numpy.typing import NDArray

from tocsin.model.pattern import SoundPattern, SoundStep
from tocsin.model.samples import FRAME_BYTES, PEAK, RATE_HZ, SIDES
from tocsin.model.spoken import word_begins_ns
from tocsin.units import NS_PER_S


def pcm(pattern: SoundPattern) -> bytes:
    """Return a pattern as 16-bit little-endian stereo samples at 48 kHz."""
    once = np.concatenate([_step(step, pattern) for step in pattern.steps])
    mono = np.tile(once, pattern.times)
    samples = np.round(mono * PEAK).astype("<i2")
    return np.repeat(samples, SIDES).tobytes()


def with_word(pattern: SoundPattern, word: bytes) -> bytes:
    """Return a pattern's samples, and behind them those of a word, where ``model.spoken`` lets it begin."""
    begin = FRAME_BYTES * frames_of(word_begins_ns(pattern))
    return pcm(pattern)[:begin].ljust(begin, b"\0") + word


def frames_of(ns: int) -> int:
    """Return how many frames a time takes, rounded to the nearest."""
    return (ns * RATE_HZ + NS_PER_S // 2) // NS_PER_S


def _step(step: SoundStep, pattern: SoundPattern) -> NDArray[np.float64]:
    """Return one step within -1 to 1: its pitch moves evenly from ``hz`` to ``to_hz``, its edges are half a cosine."""
    count = frames_of(step.lasts_ns)
    if step.hz <= 0 or step.level <= 0:
        return np.zeros(count)
    hz = np.linspace(step.hz, step.to_hz or step.hz, count, endpoint=False)
    phase = 2 * np.pi * (np.cumsum(hz) - hz[:1]) / RATE_HZ
    return step.level * _envelope(count, frames_of(pattern.attack_ns), frames_of(pattern.release_ns)) * np.sin(phase)


def _envelope(count: int, attack: int, release: int) -> NDArray[np.float64]:
    """Return the loudness over a step; edges that do not fit share the step in their proportion."""
    if attack + release > count:
        attack = count * attack // (attack + release)
        release = count - attack
    loud = np.ones(count)
    if attack:
        loud[:attack] = 0.5 - 0.5 * np.cos(np.pi * np.arange(attack) / attack)
    if release:
        loud[count - release :] = 0.5 + 0.5 * np.cos(np.pi * np.arange(1, release + 1) / release)
    return loud
