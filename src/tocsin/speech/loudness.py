"""Turn a program's speech into samples as loud as the tones: silence cut off, 48 kHz, both sides alike.

The peaks of speech are four to eight times its root mean square, those of a tone 1.4 times. Scaled to the same peak, a
word would be lost behind its tone. So peaks are held down by a gain that falls before each peak and rises after it, too
slowly to be heard as distortion. numpy is imported inside the functions: a start with cached words does not need it.
"""

import io
import math
import wave
from typing import TYPE_CHECKING

from tocsin.model.pattern import DEFAULT_LEVEL
from tocsin.model.samples import PEAK, RATE_HZ, SAMPLE_BYTES, SIDES
from tocsin.speech.engine import SpeechError
from tocsin.translation import tr

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float64]

VERSION = 1                            # of all this: another one makes all words anew
# The peaks of a tone of the usual level. Its root mean square would leave nothing of a word but a hum: by the measure
# of ITU-R BS.1770 a word is now about as loud as the softest of the bundled tones (see the tests).
WORD_PEAK = DEFAULT_LEVEL
WORD_RMS = 0.25 * DEFAULT_LEVEL
_LEAST_DRIVE, _MOST_DRIVE = 0.25, 6.0  # a quarter lowers even a square wave; 16 dB up: what needs more is noise
_SILENT = 0.005                        # of the peak: -46 dB
_SILENCE_KEPT_S = 0.005
_FADE_S = 0.004                        # so that nothing clicks where silence was cut
_HOLD_S = 0.008                        # how long before and after a peak the gain falls and rises: a low voice's period
_ROUNDS = 14                           # halvings: the level is then right within a hundredth of a decibel
_LOWEST_PEAK = 1e-3                    # below it there is nothing but noise
_LONGEST_S = 10.0


def levelled(wav: bytes) -> bytes:
    """Return a spoken WAV file as 16-bit little-endian stereo samples at 48 kHz, from its first sound to its last.
    Raises SpeechError if it is no such file, or silent."""
    mono, rate_hz = _decoded(wav)
    return _frames(_raised(_resampled(_cut(mono, rate_hz), rate_hz)))


def _decoded(wav: bytes) -> "tuple[Samples, int]":
    """Return a WAV file's mono samples, shape (frames,), -1 to 1, sides averaged; and their rate in Hz."""
    import numpy as np

    try:
        with wave.open(io.BytesIO(wav)) as file:
            sides, width, rate_hz = file.getnchannels(), file.getsampwidth(), file.getframerate()
            frames = file.readframes(file.getnframes())
    except (wave.Error, EOFError) as error:
        raise SpeechError(tr("what it wrote is not a WAV file ({error})", error=str(error) or tr("cut off"))) from error
    if width != SAMPLE_BYTES:
        raise SpeechError(tr("what it wrote has {bits} bits a sample instead of 16", bits=8 * width))
    whole = len(frames) // (width * sides) * width * sides
    return np.frombuffer(frames[:whole], "<i2").reshape(-1, sides).mean(axis=1) / (PEAK + 1), rate_hz


def _cut(mono: "Samples", rate_hz: int) -> "Samples":
    """Return the samples between the silences, shape (fewer frames,), at ``rate_hz``, with soft edges. ``mono``: -1 to
    1."""
    import numpy as np

    loud = np.abs(mono)
    peak = loud.max(initial=0.0)
    if peak < _LOWEST_PEAK:
        raise SpeechError(tr("nothing is heard of it"))
    heard = np.flatnonzero(loud > _SILENT * peak)
    kept = int(_SILENCE_KEPT_S * rate_hz)
    word = mono[max(0, heard[0] - kept) : heard[-1] + 1 + kept].copy()
    if len(word) > _LONGEST_S * rate_hz:
        raise SpeechError(tr("it takes more than {longest:g} s to say", longest=_LONGEST_S))
    fade = min(int(_FADE_S * rate_hz), len(word) // 2)
    slope = 0.5 - 0.5 * np.cos(np.pi * np.arange(fade) / max(fade, 1))
    word[:fade] *= slope
    word[len(word) - fade :] *= slope[::-1]
    if np.abs(word).max() < _LOWEST_PEAK:
        raise SpeechError(tr("only clicks are heard of it"))
    return word


def _resampled(word: "Samples", rate_hz: int) -> "Samples":
    """Return samples, shape (frames,), at 48 kHz from ``word`` at ``rate_hz``: exact below half of the lower rate.

    scipy.signal has the same, and takes 0.9 s to import (measured).
    """
    import numpy as np

    if rate_hz == RATE_HZ:
        return word
    part = rate_hz // math.gcd(rate_hz, RATE_HZ)
    count = -(-len(word) // part) * part + part                # whole parts, and silence against wrapping around
    spectrum = np.fft.rfft(word, count)
    target = count * RATE_HZ // rate_hz
    length = -(-len(word) * RATE_HZ // rate_hz)
    return np.fft.irfft(spectrum[: target // 2 + 1], target)[:length] * (target / count)


def _raised(word: "Samples") -> "Samples":
    """Return a word, shape (frames,), -1 to 1, 48 kHz, of the wanted root mean square, or as near as a tone's peak
    allows."""
    import numpy as np

    word = word * (WORD_PEAK / np.abs(word).max())
    loudest = _loudest_near(word)
    low, high = _LEAST_DRIVE, _MOST_DRIVE
    for _ in range(_ROUNDS):
        drive = math.sqrt(low * high)
        if math.sqrt(np.mean(_held_down(word, loudest, drive) ** 2)) < WORD_RMS:
            low = drive
        else:
            high = drive
    return _held_down(word, loudest, low)


def _loudest_near(word: "Samples") -> "Samples":
    """Return the largest absolute sample of each stretch of twice ``_HOLD_S`` that touches the word.

    ``word`` has shape (frames,), -1 to 1, 48 kHz; the result shape (frames + twice ``_HOLD_S``,), 0 to 1.
    """
    import numpy as np

    stretch = 2 * int(_HOLD_S * RATE_HZ) + 1
    loudest, reach = np.pad(np.abs(word), stretch - 1), 1
    while reach < stretch:
        further = min(reach, stretch - reach)          # twice as far each time: ten looks instead of 769
        loudest = np.maximum(loudest[:-further], loudest[further:])
        reach += further
    return loudest


def _held_down(word: "Samples", loudest: "Samples", drive: float) -> "Samples":
    """Return a word, shape (frames,), -1 to 1, 48 kHz, louder by the factor ``drive`` but never above the peak.

    ``loudest`` is from ``_loudest_near``. The gain of each sample is the least over a stretch, then averaged over the
    same stretch: the average over what holds a peak never exceeds what that peak asks for.
    """
    import numpy as np

    least = np.minimum(1.0, WORD_PEAK / np.maximum(loudest * drive, 1e-12))
    weights = np.hanning(2 * int(_HOLD_S * RATE_HZ) + 3)[1:-1]
    return word * drive * np.convolve(least, weights / weights.sum(), "valid")


def _frames(word: "Samples") -> bytes:
    import numpy as np

    return np.repeat(np.round(word * PEAK).astype("<i2"), SIDES).tobytes()
