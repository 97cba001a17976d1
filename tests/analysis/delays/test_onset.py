"""Sounds of known begin in simulated recordings."""

import random
import statistics

import numpy as np
import pytest
from hypothesis import settings
from scipy.signal import chirp

from tocsin.analysis.delays.onset import SampleBlock, onset, sample_clock

RATE_HZ = 48_000
BIAS_MS, SPREAD_MS = 5.0, 10.0             # what a vigilance test's device may be off by


def sound(lasts_s=0.06):
    """A rise from 800 to 2400 Hz with soft edges; scipy's own chirp, not the one that Tocsin synthesises."""
    at_s = np.arange(int(lasts_s * RATE_HZ)) / RATE_HZ
    wave = chirp(at_s, 800, lasts_s, 2400, phi=-90)
    edge = int(0.002 * RATE_HZ)
    wave[:edge] *= np.linspace(0, 1, edge)
    wave[-edge:] *= np.linspace(1, 0, edge)
    return wave


def recording(rng, begin, *, gain=0.3, noise=0.01, echoes=(), hum=0.0, inverted=False, length_s=0.6):
    """Return a recording in which the sound begins at ``begin`` frames; echoes are (frames later, share of it)."""
    wave = sound() * (-1 if inverted else 1)
    count = int(length_s * RATE_HZ)
    out = rng.normal(0, noise, count) + hum * np.sin(2 * np.pi * 50 * np.arange(count) / RATE_HZ)
    for later, share in ((0, 1.0), *echoes):
        # Places between frames, by a shift of the phases.
        whole = int(begin + later)
        part = begin + later - whole
        padded = np.fft.rfft(np.concatenate([wave, np.zeros(256)]))
        moved = np.fft.irfft(padded * np.exp(-2j * np.pi * np.arange(len(padded)) * part / (len(wave) + 256)))
        out[whole : whole + len(moved)] += gain * share * moved[: max(0, len(out) - whole)]
    return out


CASES = {
    "clean": {},
    "soft": {"gain": 0.005, "noise": 0.0005},
    "noisy": {"gain": 0.05, "noise": 0.05},
    "hum": {"gain": 0.05, "noise": 0.005, "hum": 0.3},
    "inverted": {"inverted": True},
    "one echo": {"echoes": [(300, 0.7)]},
    "a louder echo": {"echoes": [(800, 1.6)]},
    "a room": {"echoes": [(200, 0.6), (450, 0.5), (900, 0.4), (1500, 0.3), (2600, 0.2)]},
    "clipped": {"gain": 3.0},
}


@pytest.mark.parametrize("case", CASES)
def test_the_begin_is_found_in_many_recordings(case):
    rng = np.random.default_rng(7)
    errors_ms = []
    for _ in range(60):
        begin = rng.uniform(3000, 12_000)
        heard = recording(rng, begin, **CASES[case])
        if case == "clipped":
            heard = heard.clip(-1, 1)
        found = onset(heard, sound())
        assert found is not None
        errors_ms.append((found - begin) * 1000 / RATE_HZ)
    assert abs(statistics.fmean(errors_ms)) < BIAS_MS / 10
    assert statistics.stdev(errors_ms) < SPREAD_MS / 20


def test_noise_alone_holds_no_sound():
    rng = np.random.default_rng(8)
    heard = [onset(rng.normal(0, 0.1, 30_000), sound()) for _ in range(4 * settings.default.max_examples)]
    assert set(heard) == {None}


def test_silence_and_another_tone_hold_no_sound():
    assert onset(np.zeros(30_000), sound()) is None
    steady = 0.3 * np.sin(2 * np.pi * 440 * np.arange(30_000) / RATE_HZ)
    assert onset(steady, sound()) is None


def test_a_recording_that_is_hardly_longer_than_the_sound_tells_nothing():
    assert onset(sound(), sound()) is None


def blocks(rng, *, size=512, count=1500, off_ppm=0.0, late_ms=0.0):
    """Return blocks of a recording that began at 1 s, as they came in: each whole, and up to ``late_ms`` late."""
    rate = RATE_HZ * (1 + off_ppm / 1e6)
    return [
        SampleBlock(n * size, round(1e9 + n * size / rate * 1e9 + rng.expovariate(1 / (late_ms + 1e-9)) * 1e6))
        for n in range(1, count + 1)
    ]


@pytest.mark.parametrize("off_ppm", [-80, 0, 80])
def test_frames_are_timed_by_the_earliest_blocks(off_ppm):
    """A converter's crystal is off by up to 100 parts in a million (common practice, no source)."""
    clock = sample_clock(blocks(random.Random(3), off_ppm=off_ppm, late_ms=6), RATE_HZ)
    for frame in (0, 100_000, 700_000):
        true_ns = 1e9 + frame / (RATE_HZ * (1 + off_ppm / 1e6)) * 1e9
        assert clock.at_ns(frame) == pytest.approx(true_ns, abs=1.5e6)
        assert clock.frame(clock.at_ns(frame)) == pytest.approx(frame, abs=1)


def test_a_recording_of_few_blocks_is_timed_by_its_nominal_rate():
    clock = sample_clock(blocks(random.Random(3), count=2), RATE_HZ)
    assert clock.at_ns(48_000) == pytest.approx(2e9, abs=1e4)
    with pytest.raises(ValueError, match="without a block"):
        sample_clock([], RATE_HZ)
