"""Listen while cues are played: run the recorder, keep the recording, and find the known sound in it."""

import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager

import msgspec
import numpy as np

from tocsin.analysis.delays.onset import SampleBlock, Samples, onset, sample_clock
from tocsin.channels.sound.synth import pcm
from tocsin.errors import DeviceError
from tocsin.features.measure import helper as companion
from tocsin.features.measure.delays.microphone import FULL_SCALE, HEAD, Ear
from tocsin.model.pattern import SoundPattern
from tocsin.model.samples import RATE_HZ, SIDES
from tocsin.spawn import Process
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

_OPENS_WITHIN_S = 15.0                 # a system may ask a person whether Tocsin may listen
_ENDS_WITHIN_S = 2.0
_BEFORE_NS, _AFTER_NS = 100 * NS_PER_MS, 1_200 * NS_PER_MS     # a call, in which its sound is looked for


class Listening:
    """A microphone's recording: mono samples, 16-bit little-endian, at ``RATE_HZ``. ``name`` is the microphone."""

    def __init__(self, process: Process) -> None:
        self.name = ""
        self._process = process
        self._ear: Ear | None = None
        self._opened = threading.Event()
        self._blocks: list[SampleBlock] = []
        self._data: list[bytes] = []
        self._thread = threading.Thread(target=self._read, name="listening", daemon=True)
        self._thread.start()

    def await_open(self) -> None:
        """Wait until the microphone listens. Raises DeviceError with the available ones if it does not exist."""
        self._opened.wait(_OPENS_WITHIN_S)
        ear = self._ear or Ear(why=tr("the microphone did not answer: may Tocsin record here?"))
        if ear.why:
            there = (
                tr("there is {names}", names=", ".join(ear.names)) if ear.names
                else tr("plug one in, or film instead: --template FILE")
            )
            raise DeviceError(ear.why, hint=there)
        self.name = ear.name

    def delays_ms(self, calls_ns: Iterable[int], sound: SoundPattern) -> tuple[list[float], int]:
        """Return the milliseconds from each call until its sound was heard, and the number of unheard calls."""
        calls_ns = tuple(calls_ns)
        if not self._blocks:
            return [], len(calls_ns)
        clock = sample_clock(self._blocks, RATE_HZ)
        heard, wanted = _samples(b"".join(self._data)), _samples(pcm(sound))[::SIDES]
        found: list[float] = []
        unheard = 0
        for call_ns in calls_ns:
            begin = max(0, clock.frame(call_ns - _BEFORE_NS))
            at = onset(heard[begin : max(begin, clock.frame(call_ns + _AFTER_NS))], wanted)
            if at is None:
                unheard += 1
            else:
                found.append((clock.at_ns(begin + at) - call_ns) / NS_PER_MS)
        return found, unheard

    def stop(self) -> None:
        """End the recorder after its last block has arrived."""
        if self._process.stdin is not None:
            self._process.stdin.close()
        self._thread.join(_ENDS_WITHIN_S)

    def _read(self) -> None:
        stream = self._process.stdout
        assert stream is not None              # asked for
        try:
            self._ear = msgspec.json.decode(stream.readline(), type=Ear)
        except (msgspec.DecodeError, ValueError, OSError):
            self._ear = Ear(why=tr("the recorder ended before it began"))
        self._opened.set()
        frames = 0
        while len(head := stream.read(HEAD.size)) == HEAD.size:
            at_ns, length = HEAD.unpack(head)
            data = stream.read(length)
            if len(data) < length:
                return                         # ended in its middle
            frames += len(data) // 2
            self._blocks.append(SampleBlock(frames, at_ns))
            self._data.append(data)


def _samples(data: bytes) -> Samples:
    return np.frombuffer(data, dtype="<i2").astype(np.float64) / FULL_SCALE


@contextmanager
def listening(name: str) -> Iterator[Listening]:
    """Record inside the context from the microphone whose name contains ``name``. Raises DeviceError without one."""
    process = companion.start("listen", name)
    found = Listening(process)
    try:
        found.await_open()
        yield found
    finally:
        found.stop()
        companion.end(process)
