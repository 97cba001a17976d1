"""The tones as samples: pitch by Fourier transform, edges, loudness, and that none is a reserved alarm."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.channels.sound.synth import frames_of, pcm
from tocsin.config.load import load
from tocsin.model.pattern import Patterns, SoundPattern, SoundStep, lasts_ns
from tocsin.model.samples import RATE_HZ, SIDES
from tocsin.runner.match.count_in import BEAT_HZ, LAST_HZ, with_count_in_patterns
from tocsin.units import NS_PER_MS, NS_PER_S

BUNDLED = load(None, ["full"], "nothing").plans[0].plan.patterns.sound
# ISO 16: A4 = 440 Hz, f = 440 * 2^((n - 69) / 12) (read).
ISO_16 = {"C5": 72, "E5": 76, "A5": 81, "C6": 84, "E6": 88, "G6": 91, "B5": 83, "D5": 74}


def iso_16(note):
    return 440 * 2 ** ((ISO_16[note] - 69) / 12)


def samples(pattern):
    """Return a pattern's left channel within -1 to 1."""
    return np.frombuffer(pcm(pattern), "<i2").reshape(-1, SIDES)[:, 0] / 32_767


def pitch_hz(piece):
    """Return the strongest frequency, to a tenth of a hertz or so."""
    size = 1 << 20
    spectrum = np.abs(np.fft.rfft(piece * np.hanning(len(piece)), size))
    return float(np.argmax(spectrum) * RATE_HZ / size)


def tones(pattern):
    """Return (begin, end, step) of each step in frames, once through."""
    at, found = 0, []
    for step in pattern.steps:
        found.append((at, at + frames_of(step.lasts_ns), step))
        at = found[-1][1]
    return found


def test_the_notes_are_those_of_the_standard():
    """ISO 16 (read): C5 523.2511, E5 659.2551, A5 880.0000, C6 1046.5023; the others are computed."""
    found = [round(iso_16(note), 4) for note in ISO_16]
    assert found == [523.2511, 659.2551, 880.0, 1046.5023, 1318.5102, 1567.9817, 987.7666, 587.3295]
    assert pytest.approx([iso_16("B5"), iso_16("D5")], abs=1e-4) == [BEAT_HZ, LAST_HZ]


def test_the_tick_and_the_beats_share_their_pitch_with_no_other_sound():
    """Who hears "press now" in the last seconds presses. Steady tones: a glide passes through a pitch, no ear takes it
    for one; yet the tick lies above them all."""
    counted = with_count_in_patterns(Patterns(sound=BUNDLED)).sound
    of = {name: {step.hz for step in pattern.steps if step.hz and not step.to_hz} for name, pattern in counted.items()}
    beats = set.union(*(pitches for name, pitches in of.items() if name.startswith("count_")))
    others = set.union(*(pitches for name, pitches in of.items() if name != "tick" and not name.startswith("count_")))
    near = [(a, b) for a in of["tick"] | beats for b in others if abs(12 * np.log2(a / b)) < 0.9]
    assert near == []
    assert not of["tick"] & beats
    assert min(of["tick"]) > max(max(step.hz, step.to_hz) for name, pattern in counted.items() if name != "tick"
                                 for step in pattern.steps)  # fmt: skip
    assert len({len(counted[f"count_{left}"].steps) for left in (1, 2, 3)}) == 3


@pytest.mark.parametrize(
    ("name", "notes"),
    [
        ("soft", ["C5"]), ("drop", ["C6", "E5"]), ("tick", ["G6"]), ("two_up", ["E5", "A5"]), ("low", ["C5"]),
        ("steady", [750.0]),
    ],
)  # fmt: skip
def test_every_steady_tone_has_its_pitch_to_a_hertz(name, notes):
    pattern = BUNDLED[name]
    whole = samples(pattern)
    sounding = [(begin, end) for begin, end, step in tones(pattern) if step.hz]
    assert len(sounding) == len(notes)
    for (begin, end), note in zip(sounding, notes, strict=True):
        wanted_hz = iso_16(note) if isinstance(note, str) else note
        assert pitch_hz(whole[begin:end]) == pytest.approx(wanted_hz, abs=1)


@pytest.mark.parametrize(("name", "low", "high"), [("rising", "E5", "C6"), ("glide", "C5", "E6")])
def test_a_glide_goes_evenly_from_pitch_to_pitch(name, low, high):
    """Counted in the zero crossings: a glide has as many as its mean pitch (computed), ends beyond 10 % of its ends."""
    begin, end, _step = tones(BUNDLED[name])[0]
    piece = samples(BUNDLED[name])[begin:end]
    rises = int(np.sum((piece[:-1] < 0) & (piece[1:] >= 0)))
    mean_hz = (iso_16(low) + iso_16(high)) / 2
    assert rises == pytest.approx(mean_hz * len(piece) / RATE_HZ, abs=2)
    third = len(piece) // 5
    assert pitch_hz(piece[:third]) < mean_hz < pitch_hz(piece[-third:])


@pytest.mark.parametrize("name", sorted(BUNDLED))
def test_no_bundled_sound_clicks_clips_or_is_long(name):
    pattern = BUNDLED[name]
    whole = samples(pattern)
    assert np.abs(whole).max() <= max(step.level for step in pattern.steps) + 1e-4 <= 0.9
    assert abs(whole[0]) < 0.01
    assert abs(whole[-1]) < 0.01
    # Between two samples no more than a sine of its pitch and level moves: an edge without a ramp would jump.
    steepest = max(2 * np.pi * max(step.hz, step.to_hz) / RATE_HZ * step.level for step in pattern.steps)
    assert np.abs(np.diff(whole)).max() <= steepest * 1.05 + 1e-3
    for begin, end, step in tones(pattern):
        if step.hz:
            assert abs(whole[begin]) < 0.02
            assert abs(whole[end - 1]) < 0.02
    assert lasts_ns(pattern) <= NS_PER_S


@pytest.mark.parametrize("name", sorted(BUNDLED))
def test_the_energy_lies_where_ears_and_small_loudspeakers_are_good(name):
    """ISO 7731 (from memory): 500 to 2500 Hz."""
    whole = samples(BUNDLED[name])
    power = np.abs(np.fft.rfft(whole, max(len(whole), RATE_HZ))) ** 2
    hz = np.fft.rfftfreq(max(len(whole), RATE_HZ), 1 / RATE_HZ)
    assert power[(hz >= 500) & (hz <= 2500)].sum() > 0.85 * power.sum()


@pytest.mark.parametrize("name", sorted(BUNDLED))
def test_no_bundled_sound_is_an_evacuation_signal(name):
    """ISO 8201 / ANSI S3.41 (read): three times 0.5 s on and 0.5 s off, each within a tenth, is reserved."""
    whole = np.abs(samples(BUNDLED[name]))
    loud = np.convolve(whole, np.ones(480) / 480, "same") > 0.02
    edges = np.flatnonzero(np.diff(np.concatenate([[0], loud.astype(int), [0]])))
    on_s = (edges[1::2] - edges[::2]) / RATE_HZ
    assert sum(0.45 <= length <= 0.55 for length in on_s) < 3


def test_samples_are_stereo_with_both_sides_alike():
    both = np.frombuffer(pcm(BUNDLED["drop"]), "<i2").reshape(-1, SIDES)
    assert SIDES == 2
    assert (both[:, 0] == both[:, 1]).all()


def test_a_silence_is_silent_and_times_repeats():
    rising = samples(BUNDLED["rising"])
    half = len(rising) // 2
    assert (rising[:half] == rising[half:]).all()
    begin, end, _ = tones(BUNDLED["rising"])[1]
    assert not rising[begin:end].any()


steps = st.builds(
    SoundStep,
    hz=st.sampled_from([0.0, 500.0, 880.0, 2500.0]),
    to_hz=st.sampled_from([0.0, 700.0]),
    level=st.floats(0, 1),
    lasts_ns=st.integers(1, 400).map(lambda ms: ms * NS_PER_MS),
)
patterns = st.builds(
    SoundPattern,
    steps=st.lists(steps, min_size=1, max_size=3).map(tuple),
    times=st.integers(1, 2),
    attack_ns=st.integers(0, 300).map(lambda ms: ms * NS_PER_MS),
    release_ns=st.integers(0, 300).map(lambda ms: ms * NS_PER_MS),
)


@given(patterns)
def test_any_pattern_has_its_length_and_never_clips(pattern):
    whole = samples(pattern)
    assert len(whole) == pytest.approx(lasts_ns(pattern) * RATE_HZ / NS_PER_S, abs=1 + len(pattern.steps) * 2)
    assert np.abs(whole).max(initial=0) <= max(step.level for step in pattern.steps) + 1e-4
