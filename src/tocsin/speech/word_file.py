"""Store a word as a WAV file (16-bit stereo, 48 kHz) with a checksum of its samples in its name.

It is separate from the making of words, so that the sound's process need not load that.
"""

import io
import wave
import zlib
from pathlib import Path

from tocsin.model.samples import RATE_HZ, SAMPLE_BYTES, SIDES

ENDING = ".wav"


def name_of(key: str, frames: bytes) -> str:
    """Return the file name for a word's frames (16-bit little-endian stereo at 48 kHz)."""
    return f"{key}.{zlib.crc32(frames):08x}{ENDING}"


def wav_of(frames: bytes) -> bytes:
    """Return frames (16-bit little-endian stereo at 48 kHz) as the bytes of a WAV file."""
    file = io.BytesIO()
    with wave.open(file, "wb") as sound:
        sound.setnchannels(SIDES)
        sound.setsampwidth(SAMPLE_BYTES)
        sound.setframerate(RATE_HZ)
        sound.writeframes(frames)
    return file.getvalue()


def frames_in(path: Path) -> bytes | None:
    """Return a word's frames (16-bit little-endian stereo at 48 kHz), None if its file is gone or damaged."""
    try:
        with wave.open(str(path), "rb") as sound:
            form = (sound.getnchannels(), sound.getsampwidth(), sound.getframerate())
            frames = sound.readframes(sound.getnframes())
    except (OSError, EOFError, wave.Error):
        return None
    whole = form == (SIDES, SAMPLE_BYTES, RATE_HZ) and path.name == name_of(path.name.split(".")[0], frames)
    return frames if whole else None
