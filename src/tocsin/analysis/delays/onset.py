"""Find when a known sound begins in a recording, and when each sample of the recording was taken. Pure.

A matched filter looks for the shape of the sound. The envelope of its output is used, so that the phase of loudspeaker
and microphone does not matter. A gliding sound gives a sharp peak; an echo is a second peak behind it. The first peak
of at least half the highest one counts.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tocsin.units import NS_PER_S

Samples = NDArray[np.float64]

FIRST_OF_ALL = 0.5                     # of the highest peak: what comes before an echo may be weaker than it
ABOVE_NOISE = 8.0                      # times the middle of the envelope; noise alone reaches about 4 (measured)


class SampleBlock(NamedTuple):
    """A received block of a recording: ``frames`` counts all frames up to its end, received at ``at_ns``
    (nanoseconds)."""

    frames: int
    at_ns: int


class SampleClock(NamedTuple):
    """Converts frame numbers of a recording to times: frame 0 was taken at ``zero_ns``."""

    zero_ns: float
    ns_a_frame: float

    def at_ns(self, frame: float) -> int:
        """Return the time of a frame in nanoseconds."""
        return round(self.zero_ns + frame * self.ns_a_frame)

    def frame(self, at_ns: int) -> int:
        """Return the number of the frame taken at a time in nanoseconds."""
        return round((at_ns - self.zero_ns) / self.ns_a_frame)


def sample_clock(blocks: Sequence[SampleBlock], rate_hz: int) -> SampleClock:
    """Return the clock of a recording at ``rate_hz`` from the times of its blocks. Raises ValueError without a block.

    A block can come late but never early, so a line is fitted through the earliest block of each part of the recording.
    A delay that is common to all blocks (converter, driver) cannot be seen: it stays in all times.
    """
    if not blocks:
        raise ValueError("a recording without a block")
    frames = np.array([block.frames for block in blocks], dtype=float)
    lags = np.array([block.at_ns - blocks[0].at_ns for block in blocks], dtype=float) - frames * NS_PER_S / rate_hz
    parts = np.array_split(np.arange(len(blocks)), min(8, max(1, len(blocks) // 8)))
    earliest = np.array([part[np.argmin(lags[part])] for part in parts])
    slope, lag = np.polyfit(frames[earliest], lags[earliest], 1) if len(earliest) > 2 else (0.0, lags[earliest].min())
    return SampleClock(blocks[0].at_ns + float(lag), NS_PER_S / rate_hz + float(slope))


def onset(recording: Samples, sound: Samples) -> float | None:
    """Return the frame number, with a fraction, at which a sound begins; None if noise hides it.

    ``recording`` and ``sound`` are mono samples of one rate, float64 of shape (frames,), in any common unit.
    ``recording`` needs at least twice the frames of ``sound``: the rest is taken as the noise.
    """
    if len(recording) < 2 * len(sound) or not np.any(sound):
        return None
    envelope = _envelope(recording - recording.mean(), sound - sound.mean())
    highest = float(envelope.max())
    if highest <= ABOVE_NOISE * float(np.median(envelope)) or highest == 0:
        return None
    inner = envelope[1:-1]
    peaks = np.flatnonzero((inner >= envelope[:-2]) & (inner > envelope[2:]) & (inner >= FIRST_OF_ALL * highest)) + 1
    return _vertex(envelope, int(peaks[0])) if len(peaks) else None


def _envelope(recording: Samples, sound: Samples) -> Samples:
    """Return the fit of the sound at each offset within the recording, shape (recording - sound + 1,), in its unit
    squared.

    Both are mono samples of one rate, shape (frames,).
    """
    length = 1 << int(np.ceil(np.log2(len(recording) + len(sound))))
    fit = np.fft.fft(recording, length) * np.conj(np.fft.fft(sound, length))
    # The analytic signal: positive frequencies alone, twice.
    fit[1 : length // 2] *= 2
    fit[length // 2 + 1 :] = 0
    return np.abs(np.fft.ifft(fit)[: len(recording) - len(sound) + 1])


def _vertex(envelope: Samples, peak: int) -> float:
    """Return the frame number, with a fraction, of a peak of an envelope of shape (frames,): a parabola through 3
    values."""
    before, top, after = envelope[peak - 1 : peak + 2]
    bend = before - 2 * top + after
    return peak if bend == 0 else peak + 0.5 * float((before - after) / bend)
