"""Words as samples: cut, converted, as loud as the tones, never clipped."""

import io
import wave
from pathlib import Path

import numpy as np
import pytest
import scipy.signal
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.support.speech.voices import needs_espeak
from tocsin.channels.sound.synth import pcm
from tocsin.config.load import load
from tocsin.speech.choice import voice_for
from tocsin.speech.engine import SpeechError
from tocsin.speech.engines import engine_of_system
from tocsin.speech.loudness import WORD_PEAK, WORD_RMS, levelled

Samples = NDArray[np.float64]
TONES = load(None, ["full"], "nothing").plans[0].plan.patterns.sound
MS = 48                                # frames of the result


def wav(samples: Samples, rate_hz: int = 22_050, sides: int = 1, width: int = 2) -> bytes:
    """Return samples within -1 to 1 as a WAV file."""
    whole = np.round(samples * (2 ** (8 * width - 1) - 1)).astype({1: "<i1", 2: "<i2", 4: "<i4"}[width])
    memory = io.BytesIO()
    with wave.open(memory, "wb") as file:
        file.setnchannels(sides)
        file.setsampwidth(width)
        file.setframerate(rate_hz)
        file.writeframes(np.repeat(whole, sides).tobytes())
    return memory.getvalue()


def left(frames: bytes) -> Samples:
    """Return the left side within -1 to 1."""
    both = np.frombuffer(frames, "<i2").reshape(-1, 2)
    assert (both[:, 0] == both[:, 1]).all()
    return both[:, 0] / 32_767


def speechlike(seconds: float, rate_hz: int, loud: float, seed: int) -> Samples:
    """Return pulses of a low voice, a hundred a second, each ringing off, in two swells: peaks eight times the mean."""
    rng = np.random.default_rng(seed)
    count = round(seconds * rate_hz)
    pulses = np.zeros(count)
    pulses[:: rate_hz // 100] = 1 + rng.random(len(pulses[:: rate_hz // 100]))
    time = np.arange(rate_hz // 25) / rate_hz
    voiced = scipy.signal.fftconvolve(pulses, np.sin(2 * np.pi * 700 * time) * np.exp(-time * 250))[:count]
    swells = np.abs(np.sin(np.linspace(0, 2 * np.pi, count))) + 0.05
    return voiced * swells * loud / np.abs(voiced * swells).max()


def rms(samples: Samples) -> float:
    return float(np.sqrt(np.mean(samples**2)))


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 16_000, 22_050, 24_000, 44_100, 48_000, 96_000])
def test_silence_is_cut_on_both_sides_and_the_length_stays(rate_hz: int) -> None:
    tone = 0.3 * np.sin(2 * np.pi * 1000 * np.arange(rate_hz // 2) / rate_hz)
    hiss = 0.0005 * np.sin(np.arange(rate_hz))                 # -55 dB below the tone
    word = left(levelled(wav(np.concatenate([hiss, tone, hiss]), rate_hz)))
    assert len(word) == pytest.approx(500 * MS, abs=12 * MS)   # 5 ms are kept on each side
    spectrum = np.abs(np.fft.rfft(word * np.hanning(len(word)), 1 << 18))
    assert np.argmax(spectrum) * 48_000 / (1 << 18) == pytest.approx(1000, abs=1)
    assert np.abs(word[[0, -1]]).max() < 0.001                 # nothing clicks


def test_the_conversion_is_that_of_scipy() -> None:
    """scipy.signal.resample_poly converts in time, by a filter; ours by the spectrum."""
    voice = speechlike(0.4, 22_050, 0.001 + WORD_PEAK / 10, 3)
    ours = left(levelled(wav(voice)))
    theirs = scipy.signal.resample_poly(voice, 320, 147)
    lag = int(np.argmax(scipy.signal.correlate(theirs[: len(ours)], ours, "full", "fft"))) - len(ours) + 1
    one = theirs[max(0, lag) :][: len(ours)]
    two = ours[max(0, -lag) :][: len(one)]
    # Peaks are held down, so shapes are alike and not the same.
    assert np.corrcoef(one[: len(two)], two)[0, 1] > 0.9


@given(st.floats(0.05, 1.0), st.integers(0, 1000), st.sampled_from([8_000, 22_050, 48_000]), st.floats(0.05, 1.5))
def test_whatever_is_spoken_has_one_level_and_no_peak_above_a_tones(
    loud: float, seed: int, rate_hz: int, seconds: float
) -> None:
    word = left(levelled(wav(speechlike(seconds, rate_hz, loud, seed), rate_hz)))
    assert np.abs(word).max() <= WORD_PEAK + 1 / 32_767
    assert rms(word) <= WORD_RMS * 1.01
    assert rms(word) > WORD_RMS * 0.99 or np.abs(word).max() > 0.9 * WORD_PEAK


@given(st.lists(st.floats(-1, 1), min_size=1, max_size=400), st.sampled_from([8_000, 22_050, 96_000]))
def test_no_samples_at_all_are_ever_clipped(values: list[float], rate_hz: int) -> None:
    samples = np.array(values)
    try:
        word = left(levelled(wav(samples, rate_hz)))
    except SpeechError:
        return                                                 # next to nothing
    assert np.abs(word).max(initial=0) <= WORD_PEAK + 1 / 32_767


def test_both_sides_are_mixed() -> None:
    voice = speechlike(0.3, 22_050, 0.5, 1)
    assert levelled(wav(voice, sides=2)) == levelled(wav(voice))


@pytest.mark.parametrize(
    ("spoken", "told"),
    [(wav(np.zeros(9000)), "nothing is heard"), (wav(np.zeros(0)), "nothing is heard"), (b"", "not a WAV file"),
     (b"RIFF....", "not a WAV file"), (wav(speechlike(0.2, 22_050, 0.5, 1))[:30], "not a WAV file"),
     (wav(speechlike(0.2, 22_050, 0.5, 1), width=4), "32 bits"), (wav(speechlike(11, 8_000, 0.5, 1), 8_000), "10 s")],
)  # fmt: skip
def test_what_cannot_be_a_word_is_told(spoken: bytes, told: str) -> None:
    with pytest.raises(SpeechError, match=told):
        levelled(spoken)


def test_a_file_that_is_cut_off_gives_what_is_there() -> None:
    whole = wav(speechlike(0.4, 22_050, 0.5, 1))
    assert 0 < len(levelled(whole[: len(whole) // 2 + 1])) < len(levelled(whole))


# -- loudness, by the measure of broadcasters


def loudness(samples: Samples) -> float:
    """Return loudness in LUFS after ITU-R BS.1770-4 without its gate, of one signal on both sides.

    Coefficients for 48 kHz from memory; the test below holds them to what the standard says of a tone of 997 Hz.
    """
    shelf = ([1.53512485958697, -2.69169618940638, 1.19839281085285], [1, -1.69065929318241, 0.73248077421585])
    low_cut = ([1, -2, 1], [1, -1.99004745483398, 0.99007225036621])
    weighted = scipy.signal.lfilter(*low_cut, scipy.signal.lfilter(*shelf, samples))
    return float(-0.691 + 10 * np.log10(2 * np.mean(weighted**2)))


def test_the_measure_reads_as_the_standard_says() -> None:
    """ITU-R BS.1770-4 (from memory): 0 dBFS at 997 Hz reads -3.01 LKFS on one side, so 0.0 on both."""
    assert loudness(np.sin(2 * np.pi * 997 * np.arange(48_000) / 48_000)) == pytest.approx(0, abs=0.01)


def tone(name: str) -> Samples:
    """Return a bundled tone without its silences."""
    samples = left(pcm(TONES[name]))
    heard = np.flatnonzero(np.abs(samples) > 0.01)
    return samples[heard[0] : heard[-1] + 1]


@needs_espeak
@pytest.mark.parametrize("phrase", ["Home", "No touch", "Last one", "Choose", "Over", "Zurück"])
def test_a_word_is_about_as_loud_as_the_softest_tone_and_never_louder_than_the_main_call(
    tmp_path: Path, phrase: str
) -> None:
    engine = engine_of_system("linux")
    assert engine is not None
    engine.speak(phrase, voice_for(engine.voices(20), "en"), tmp_path / "w.wav", 20)
    spoken = (tmp_path / "w.wav").read_bytes()
    word = left(levelled(spoken))
    assert loudness(word) == pytest.approx(loudness(tone("soft")), abs=2.5)
    assert loudness(word) < loudness(tone("rising"))
    assert np.abs(word).max() <= np.abs(tone("rising")).max() + 1 / 32_767
    # What espeak-ng itself delivers is 3 dB or more below that.
    with wave.open(io.BytesIO(spoken)) as file:
        raw = np.frombuffer(file.readframes(file.getnframes()), "<i2") / 32_768
    assert loudness(scipy.signal.resample_poly(raw, 320, 147)) < loudness(word) - 3
