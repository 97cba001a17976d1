"""A room between a loudspeaker and a microphone: what SDL's disk driver writes is heard a known while later, in noise.

The microphone is a FIFO that SDL's disk driver records from. Sounds begin when the block that holds their first sample
was written, plus ``delay_ms``; ``begins_ns`` holds these times.
"""

import contextlib
import errno
import os
import threading
import time
from pathlib import Path

import numpy as np

RATE_HZ = 48_000
_STEP_S = 0.004
_SILENT = 240                          # frames of silence that part two sounds


class Room:
    """Carries sound from the file ``heard`` to the FIFO ``ear`` until ``stop``."""

    def __init__(self, heard: Path, ear: Path, delay_ms: float, *, gain: float = 0.2, noise: float = 0.005) -> None:
        os.mkfifo(ear)
        self.begins_ns: list[int] = []
        self._heard = heard
        self._ear = ear
        self._delay_s = delay_ms / 1000
        self._gain = gain
        self._rng = np.random.default_rng(1)
        self._noise = noise
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._work, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End it."""
        self._stopped.set()
        self._thread.join(5)

    def _work(self) -> None:
        pipe = self._open()
        if pipe is None:
            return
        began_ns = time.perf_counter_ns()
        to_come = np.zeros(RATE_HZ * 600)
        sent = read = place = 0
        silent = _SILENT
        with contextlib.suppress(BrokenPipeError):
            while not self._stopped.wait(_STEP_S):
                now_ns = time.perf_counter_ns()
                block = self._new(read)
                read += len(block)
                for begin, end in _parts(block):
                    if begin is None:                  # a stretch of silence
                        silent += end
                        place += end
                        continue
                    if silent >= _SILENT:
                        at_ns = now_ns + begin * 1e9 / RATE_HZ + self._delay_s * 1e9
                        self.begins_ns.append(round(at_ns))
                        place = round((at_ns - began_ns) * RATE_HZ / 1e9)
                    silent = 0
                    to_come[place : place + end - begin] += self._gain * block[begin:end]
                    place += end - begin
                due = int((time.perf_counter_ns() - began_ns) * RATE_HZ / 1e9)
                samples = to_come[sent:due] + self._rng.normal(0, self._noise, due - sent)
                os.write(pipe, np.round(samples * 32767).clip(-32768, 32767).astype("<i2").tobytes())
                sent = due
        os.close(pipe)

    def _open(self) -> int | None:
        """Open the FIFO once somebody listens."""
        while not self._stopped.wait(_STEP_S):
            try:
                pipe = os.open(self._ear, os.O_WRONLY | os.O_NONBLOCK)
            except OSError as error:
                if error.errno != errno.ENXIO:
                    raise
                continue
            os.set_blocking(pipe, True)
            return pipe
        return None

    def _new(self, read: int) -> np.ndarray:
        """Return what was written since the last look: the left side, within -1 to 1."""
        if not self._heard.exists():
            return np.zeros(0)
        with self._heard.open("rb") as file:
            file.seek(read * 4)
            data = file.read()
        return np.frombuffer(data[: len(data) // 4 * 4], dtype="<i2")[::2] / 32768


def _parts(block: np.ndarray) -> list[tuple[int | None, int]]:
    """Return the sound in a block as (begin, end), and stretches of silence as (None, their length)."""
    loud = np.flatnonzero(block)
    if not len(loud):
        return [(None, len(block))]
    begin, end = int(loud[0]), int(loud[-1]) + 1
    return [(None, begin), (begin, end), (None, len(block) - end)]
