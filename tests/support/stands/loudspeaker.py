"""A loudspeaker's stand-in: the samples that SDL's disk driver writes, and when each of them was written.

The driver's pace is not the clock, so a place in the file is no time. While a run goes on the file's
size is read again and again; a frame was written between the last reading that lacked it and the first that had it.
"""

import threading
import time
from bisect import bisect_left
from pathlib import Path
from typing import NamedTuple

import numpy as np

RATE_HZ = 48_000
FRAME_BYTES = 4                        # 16 bits, two channels
_READ_S = 0.002
_WINDOW = 48                           # a millisecond
_AUDIBLE = 2000                        # of 32767: soft edges count as silence, so that tones without a pause are parted


class Tone(NamedTuple):
    """A stretch of sound: its place in frames, and its pitch in Hz near its begin and near its end."""

    begin: int
    end: int
    begins_hz: float
    ends_hz: float

    @property
    def lasts_ms(self) -> float:
        """How long it sounds."""
        return (self.end - self.begin) * 1000 / RATE_HZ


class Loudspeaker:
    """Watches the file that a run's sound goes to, from now until ``stop``."""

    def __init__(self, path: Path) -> None:
        self._path = path
        # Times, and the size that was read then: only readings that found more than before, each with the time of
        # the reading before it.
        self._sizes: list[int] = []
        self._between_ns: list[tuple[int, int]] = []
        self._stopped = threading.Event()
        self._watch = threading.Thread(target=self._read_sizes, daemon=True)
        self._watch.start()

    def stop(self) -> None:
        """End watching."""
        self._stopped.set()
        self._watch.join()

    def written_ns(self, frame: int) -> tuple[int, int]:
        """Return the times between which a frame was written."""
        return self._between_ns[bisect_left(self._sizes, (frame + 1) * FRAME_BYTES)]

    def tones(self) -> list[Tone]:
        """Return all that sounds, in order: stretches between silences."""
        if not self._path.exists():
            return []
        pcm = np.fromfile(self._path, dtype="<i2")
        left = pcm[: len(pcm) // 2 * 2 : 2].astype(float)
        windows = np.abs(left[: len(left) // _WINDOW * _WINDOW].reshape(-1, _WINDOW)).max(axis=1)
        found: list[list[int]] = []
        for window in np.flatnonzero(windows > _AUDIBLE):
            if found and window - found[-1][1] <= 2:   # a single window of silence parts nothing
                found[-1][1] = int(window)
            else:
                found.append([int(window), int(window)])
        return [self._tone(left, begin * _WINDOW, (end + 1) * _WINDOW) for begin, end in found]

    def _tone(self, left: np.ndarray, begin: int, end: int) -> Tone:
        length = min(end - begin, max(1200, (end - begin) // 5))
        return Tone(begin, end, _pitch_hz(left[begin : begin + length]), _pitch_hz(left[end - length : end]))

    def _read_sizes(self) -> None:
        size, before_ns = 0, time.perf_counter_ns()
        while not self._stopped.wait(_READ_S):
            now_ns = time.perf_counter_ns()
            now_size = self._path.stat().st_size if self._path.exists() else 0
            # The file was read after `now_ns`, so this bound lies on the safe side with the next one's begin.
            if now_size > size:
                self._sizes.append(now_size)
                self._between_ns.append((before_ns, time.perf_counter_ns()))
                size = now_size
            before_ns = now_ns


def _pitch_hz(piece: np.ndarray) -> float:
    """Return the strongest pitch of a piece."""
    points = 1 << 17
    spectrum = np.abs(np.fft.rfft(piece * np.hanning(len(piece)), points))
    return float(np.argmax(spectrum) * RATE_HZ / points)
