"""Record a microphone in a process of its own: its blocks go to stdout, each with the time of its arrival.

Nothing is written to disk. First a line of JSON says whether there is a microphone, then each block follows as its time
in nanoseconds, its length in bytes (both little endian), and its samples.
"""

import struct
import sys
from queue import SimpleQueue
from typing import Any

import msgspec

from tocsin import monotime
from tocsin.channels.sdl import import_pygame
from tocsin.model.samples import RATE_HZ
from tocsin.translation import tr

HEAD = struct.Struct("<qI")
FULL_SCALE = 32_768                    # 16 bits with a sign
_BLOCK = 2048                          # frames; a block's own length is no delay, since its end is what is timed


class Ear(msgspec.Struct, frozen=True, kw_only=True):
    """The microphone that listens, or why none does; ``names`` are all that exist."""

    name: str = ""
    why: str = ""
    names: tuple[str, ...] = ()


def listen(wanted: str = "") -> None:
    """Record from the first microphone whose name contains ``wanted`` until the process is ended."""
    blocks: SimpleQueue[tuple[int, bytes]] = SimpleQueue()
    ear, device = _open(wanted, blocks)
    _write(msgspec.json.encode(ear) + b"\n")
    if device is None:
        return
    device.pause(0)
    while True:
        at_ns, data = blocks.get()
        _write(HEAD.pack(at_ns, len(data)) + data)


def _open(wanted: str, blocks: "SimpleQueue[tuple[int, bytes]]") -> tuple[Ear, Any]:
    import_pygame("sound")
    try:
        from pygame._sdl2 import audio, sdl2  # not in every build of pygame
    except ImportError:
        return Ear(why=tr("this pygame cannot record")), None

    def take(device: Any, samples: memoryview) -> None:
        blocks.put((monotime.now_ns(), bytes(samples)))

    try:
        # Not the mixer, which would open the loudspeaker too, and some systems let one program alone have that.
        sdl2.init_subsystem(sdl2.INIT_AUDIO)
        names = tuple(audio.get_audio_device_names(True))
        fitting = [name for name in names if wanted.lower() in name.lower()]
        if not fitting:
            why = (
                tr("no microphone is called '{wanted}'", wanted=wanted) if names and wanted
                else tr("there is no microphone")
            )
            return Ear(why=why, names=names), None
        device = audio.AudioDevice(fitting[0], True, RATE_HZ, audio.AUDIO_S16, 1, _BLOCK, 0, take)
    except RuntimeError as error:                      # pygame's and SDL's own errors are such
        return Ear(why=tr("the microphone does not open: {error}", error=str(error).lower())), None
    return Ear(name=fitting[0], names=names), device


def _write(data: bytes) -> None:
    sys.stdout.buffer.write(data)
    sys.stdout.buffer.flush()
