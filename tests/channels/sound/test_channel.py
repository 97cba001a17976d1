"""The sound channel in a process of its own, heard in the samples that SDL's disk driver writes.

The place in that file is no time: what is held here is pitch, order, count, joints, and how much still
comes after a certain block.
"""

import json
import os
import subprocess
import sys
from itertools import groupby
from pathlib import Path

import numpy as np
import pytest

from tests.support import PROJECT

pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(sys.platform == "win32", reason="breaks the disk with a POSIX resource limit"),
]

RATE_HZ = 48_000
C5, E5, A5, C6, E6 = 523.2511, 659.2551, 880.0, 1046.5023, 1318.5102      # ISO 16 (read; E6 and the next line computed)
D5, B5, G6 = 587.3295, 987.7666, 1567.9817
BLOCK = 2048
QUIET = 50                                           # of 32767; a sound's own soft edges lie below for a moment
READY = ["device", "ready", "", ""]


def run(folder, *deeds, sound=True, driver="disk", heard="heard.pcm"):
    """Run deeds; return what the hooks answered, and the samples of the left side."""
    file = folder / heard
    env = {**os.environ, "SDL_DISKAUDIOFILE": str(file), "PULSE_SERVER": "/nothing"}
    env.pop("SDL_AUDIODRIVER", None)
    if driver:
        env["SDL_AUDIODRIVER"] = driver
    done = subprocess.run(
        [sys.executable, "-m", "tests.support.channels.sound_child", "sound" if sound else "none"],
        input=json.dumps(deeds), env=env, cwd=PROJECT, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    # The conductor would journal each line as a fault.
    assert done.stderr == ""
    samples = np.fromfile(file, "<i2")[::2].astype(float) if file.exists() else np.zeros(0)
    return json.loads(done.stdout), samples


def fire(name, no=1, priority=5, cut_ms=0):
    return ["fire", name, no, priority, cut_ms]


def blocks(samples):
    """Return (pitch to ten hertz or 0, how many blocks long) of each stretch, in order."""
    found = []
    for begin in range(0, len(samples) - BLOCK, BLOCK):
        piece = samples[begin : begin + BLOCK]
        if np.abs(piece).max() < QUIET:
            found.append(0)
            continue
        spectrum = np.abs(np.fft.rfft(piece * np.hanning(BLOCK), 16 * BLOCK))
        found.append(int(np.argmax(spectrum) * RATE_HZ / (16 * BLOCK) / 10 + 0.5) * 10)
    return [(pitch, len(list(stretch))) for pitch, stretch in groupby(found)]


def heard(samples):
    """Return the distinct tones in order, to ten hertz, without silences and the mixed blocks at edges."""
    return [pitch for pitch, _ in groupby(pitch for pitch, length in blocks(samples) if pitch and length > 1)]


def stretches(samples):
    """Return (begin, end) in frames of what sounds, in order, joined over silences of less than 20 ms."""
    loud = np.flatnonzero(np.abs(samples) > 2)
    parts = np.split(loud, np.flatnonzero(np.diff(loud) > RATE_HZ // 50) + 1)
    return [(int(part[0]), int(part[-1]) + 1) for part in parts if len(part)]


def tones(samples):
    """Return the samples of what sounds, in the same order."""
    return [samples[begin:end] for begin, end in stretches(samples)]


def pitch_hz(piece):
    spectrum = np.abs(np.fft.rfft(piece * np.hanning(len(piece)), 1 << 20))
    return float(np.argmax(spectrum) * RATE_HZ / (1 << 20))


def loudest(samples):
    return float(np.abs(samples).max(initial=0))


def told(answers, kind):
    """Return the events of a kind, in order."""
    answers = [event for answer in answers if isinstance(answer, list) for event in [answer, *answer]]
    return [event for event in answers if isinstance(event, list) and event and event[0] == kind]


def test_every_tone_comes_once_in_order_at_its_pitch(tmp_path):
    """ISO 16 within a hertz (the disk driver keeps pitch within 0.17 Hz); 750 Hz is the design's own."""
    deeds = [fire("low", 1), ["wait", 350], fire("steady", 2), ["wait", 400], fire("two_up", 3), ["wait", 500],
             fire("tick", 4), ["wait", 200], fire("soft", 5), ["wait", 450]]  # fmt: skip
    answers, samples = run(tmp_path, *deeds)
    assert answers == [[READY]] + [["played", ""]] * 5
    assert [pitch_hz(tone) for tone in tones(samples)] == pytest.approx([C5, 750, E5, A5, G6, C5], abs=1)


def test_the_count_in_says_by_its_tones_how_many_seconds_are_left(tmp_path):
    """Three, two, one short tones, then a long one that is lower; equal tones and a higher one mean a start elsewhere.
    The tick of the last seconds has a pitch of its own."""
    names = ("count_3", "count_2", "count_1", "count_0", "tick")
    deeds = [deed for no, name in enumerate(names, 1) for deed in (fire(name, no), ["wait", 600])]
    answers, samples = run(tmp_path, *deeds)
    assert answers == [[READY]] + [["played", ""]] * 5
    found = tones(samples)
    assert [pitch_hz(tone) for tone in found] == pytest.approx([B5] * 6 + [D5, G6], abs=1)
    short, long = [len(tone) / RATE_HZ for tone in found[:6]], len(found[6]) / RATE_HZ
    assert max(short) <= 0.061
    assert long == pytest.approx(0.250, abs=0.005)
    begins = [begin / RATE_HZ for begin, _ in stretches(samples)]
    assert [begins[1] - begins[0], begins[2] - begins[1], begins[4] - begins[3]] == pytest.approx([0.12] * 3, abs=0.002)


def test_what_is_heard_has_no_clicks_nor_clipping_and_lies_in_the_band(tmp_path):
    """500 to 2500 Hz: ISO 7731 (from memory). A joint that jumps would be steeper than the steepest sine."""
    deeds = [["command", "louder"]] * 5 + [fire("drop", 1), ["wait", 550], fire("rising", 2), ["wait", 650]]
    answers, samples = run(tmp_path, *deeds, fire("glide", 3), ["wait", 650])
    assert answers[-3:] == [["played", ""]] * 3
    loud = loudest(samples)
    assert 0.7 * 32_767 < loud < 0.9 * 32_767
    assert np.abs(np.diff(samples)).max() <= 2 * np.pi * E6 / RATE_HZ * loud * 1.02 + 3
    power = np.abs(np.fft.rfft(samples)) ** 2
    hz = np.fft.rfftfreq(len(samples), 1 / RATE_HZ)
    assert power[(hz >= 500) & (hz <= 2500)].sum() > 0.95 * power.sum()


def test_two_steps_without_a_pause_are_both_heard(tmp_path):
    _, samples = run(tmp_path, fire("drop"), ["wait", 700])
    assert heard(samples) == [round(C6, -1), round(E5, -1)]


@pytest.mark.parametrize("deed", [["end", 1], ["close"]], ids=["ended", "closed"])
def test_it_is_silent_at_once_after(tmp_path, deed):
    _, samples = run(tmp_path, fire("drop"), ["wait", 120], deed, ["wait", 500])
    assert heard(samples) == [round(C6, -1)]


def test_within_a_tenth_of_a_second_after_being_made_safe_nothing_sounds(tmp_path):
    answers, samples = run(tmp_path, fire("glide"), ["wait", 200], ["safe"], ["wait", 500])
    handed_out = answers[-1]
    assert loudest(samples[:handed_out]) > 1000
    assert len(samples) > handed_out + RATE_HZ // 4
    assert loudest(samples[handed_out + RATE_HZ // 10 :]) == 0


def test_a_lower_cue_is_outranked_while_the_higher_sounds(tmp_path):
    answers, samples = run(
        tmp_path, fire("drop", 1, 9), ["wait", 100], fire("low", 2, 5), ["wait", 700], fire("low", 3, 5), ["wait", 400]
    )
    assert answers[1:] == [["played", ""], ["skipped", "outranked"], ["played", ""]]
    assert heard(samples) == [round(C6, -1), round(E5, -1), round(C5, -1)]


def test_a_higher_cue_ends_the_lower(tmp_path):
    answers, samples = run(tmp_path, fire("drop", 1, 5), ["wait", 100], fire("low", 2, 9), ["wait", 600])
    assert answers[1:] == [["played", ""], ["played", ""]]
    assert heard(samples) == [round(C6, -1), round(C5, -1)]


def test_more_cues_than_the_mixer_has_voices_are_all_played(tmp_path):
    """SDL's mixer has eight voices, and the ninth play returns nothing (measured)."""
    answers, samples = run(tmp_path, *(fire("soft", no) for no in range(20)), ["wait", 400])
    assert answers[1:] == [["played", ""]] * 20
    # One of them sounds, not twenty: its own level at the rig's volume.
    assert loudest(samples) == pytest.approx(0.4 * 0.5 * 32_767, rel=0.02)


def test_a_sound_is_cut_where_the_run_has_rung_out(tmp_path):
    _, samples = run(tmp_path, fire("drop", cut_ms=150), ["wait", 600])
    assert heard(samples) == [round(C6, -1)]


SPOKEN_HZ = 2000.0                                   # of the tones that stand for words


def words(note="", **lasts_ms):
    return ["words", {cue: [SPOKEN_HZ, ms] for cue, ms in lasts_ms.items()}, note]


def test_a_word_follows_its_tone_after_a_tenth_of_a_second(tmp_path):
    answers, samples = run(tmp_path, words(low=300), fire("low"), ["wait", 900], fire("steady", 2), ["wait", 500])
    assert answers[1:] == [["played", "", "word"], ["played", ""]]
    tone, word, other = stretches(samples)
    assert heard(samples) == [round(C5, -1), SPOKEN_HZ, 750]
    assert word[0] - tone[0] == pytest.approx(0.3 * RATE_HZ, abs=20)        # `low` lasts 0.2 s, its edge is soft
    assert word[1] - word[0] == pytest.approx(0.3 * RATE_HZ, abs=30)
    assert pitch_hz(samples[other[0] : other[1]]) == pytest.approx(750, abs=1)


def test_a_silence_at_the_end_of_a_tone_counts_towards_the_gap(tmp_path):
    """`rising` sounds for twice 180 ms with 60 ms of silence after each."""
    _, samples = run(tmp_path, words(rising=200), fire("rising"), ["wait", 1000])
    first, _, word = stretches(samples)
    assert word[0] - first[0] == pytest.approx((0.18 + 0.06 + 0.18 + 0.1) * RATE_HZ, abs=20)


def test_a_tone_ends_a_word_whatever_their_priorities(tmp_path):
    """So tones are the same on a laptop that speaks and on one that does not."""
    answers, samples = run(
        tmp_path, words(drop=2000), fire("drop", 1, 9), ["wait", 800], fire("low", 2, 5), ["wait", 500]
    )
    assert answers[1:] == [["played", "", "word"], ["played", ""]]
    assert heard(samples) == [round(C6, -1), round(E5, -1), SPOKEN_HZ, round(C5, -1)]
    word, _ = stretches(samples)[-2:]
    assert word[1] - word[0] < 1.9 * RATE_HZ


def test_a_lower_cue_is_outranked_by_the_tone_only(tmp_path):
    low = [fire("low", no, 5) for no in (2, 3)]
    answers, _ = run(tmp_path, words(drop=500), fire("drop", 1, 9), ["wait", 200], low[0], ["wait", 350], low[1])
    assert answers[1:] == [["played", "", "word"], ["skipped", "outranked"], ["played", ""]]


def test_a_word_is_as_loud_as_the_volume_says(tmp_path):
    _, samples = run(tmp_path, words(low=300), fire("low"), ["wait", 900])
    _, word = tones(samples)
    assert loudest(word) == pytest.approx(0.5 * 32_767, abs=32_767 / 128)      # the child's volume is a half
    _, silent = run(tmp_path, words(low=300), ["command", "mute"], fire("low"), ["wait", 900], heard="muted.pcm")
    assert loudest(silent) == 0


@pytest.mark.parametrize("deed", [["end", 1], ["safe"], ["command", "mute"]], ids=["end", "safe", "mute"])
def test_a_word_is_silent_at_once_after(tmp_path, deed):
    _, samples = run(tmp_path, words(low=3000), fire("low"), ["wait", 500], deed, ["wait", 300])
    assert heard(samples) == [round(C5, -1), SPOKEN_HZ]
    assert len(tones(samples)[1]) < RATE_HZ


def test_a_sound_that_is_cut_where_the_run_has_rung_out_has_no_word(tmp_path):
    answers, samples = run(tmp_path, words(drop=300), fire("drop", cut_ms=150), ["wait", 900])
    assert answers[1:] == [["played", ""]]
    assert heard(samples) == [round(C6, -1)]


def test_why_words_are_not_spoken_stands_beside_the_loudspeaker_once(tmp_path):
    note = ["words", {}, "words are only shown"]
    answers, _ = run(tmp_path, note, ["wait", 50], note, ["wait", 50], words(), ["wait", 50])
    assert told(answers, "device") == [READY, ["device", "ready", "", "words are only shown"], READY]


def test_words_that_would_fill_the_memory_are_only_shown_and_it_says_so(tmp_path):
    deeds = [["long words", {"low": 1, "rising": 240}], ["wait", 50], fire("rising"), ["wait", 600], fire("low", 2)]
    answers, _ = run(tmp_path, *deeds, ["wait", 50], words(low=300), ["wait", 50])
    full = ["device", "ready", "", "some words are only shown: all sounds together last more than 240 s"]
    assert answers == [[READY], full, ["played", ""], ["played", "", "word"], READY]


def test_muted_is_silent_and_tells_and_the_next_press_is_heard_again(tmp_path):
    answers, samples = run(
        tmp_path, ["command", "mute"], fire("drop"), ["wait", 1500], ["command", "mute"], fire("low", 2), ["wait", 400]
    )
    assert [what for _, _, what, _ in told(answers, "level")] == ["muted", "volume 50 %"]
    assert ["played", ""] in answers
    assert heard(samples) == [round(C5, -1)]


def test_mute_silences_what_sounds_already(tmp_path):
    _, samples = run(tmp_path, fire("drop"), ["wait", 120], ["command", "mute"], ["wait", 500])
    assert heard(samples) == [round(C6, -1)]


@pytest.mark.parametrize(("verb", "volume"), [("softer", 0.2), ("louder", 0.8)])
def test_louder_and_softer_are_heard_and_told(tmp_path, verb, volume):
    """SDL's mixer knows 128 steps of volume (from memory) and rounds down (measured)."""
    answers, samples = run(tmp_path, *[["command", verb]] * 3, fire("low"), ["wait", 400])
    assert loudest(samples) == pytest.approx(0.6 * volume * 32_767, abs=0.6 * 32_767 / 128)
    assert answers[3][0][2] == f"volume {volume * 100:.0f} %"


def test_volume_ends_at_nothing_and_at_all(tmp_path):
    deeds = [["command", "louder"]] * 7 + [["command", "softer"]] * 12
    answers, _ = run(tmp_path, *deeds)
    levels = [answer[0][2] for answer in answers[1:]]
    assert levels[6] == "volume 100 %"
    assert levels[-1] == "volume 0 %"


def test_the_preflight_is_one_soft_tone_of_half_a_second(tmp_path):
    answers, samples = run(tmp_path, ["command", "preflight"], ["wait", 1500], ["command", "sing"])
    assert answers[1:] == [[], []]
    (tone,) = tones(samples)
    assert pitch_hz(tone) == pytest.approx(E5, abs=1)
    assert len(tone) == pytest.approx(RATE_HZ / 2, abs=RATE_HZ // 100)


def test_a_preflight_gives_way_to_a_cue_and_disturbs_none(tmp_path):
    answers, samples = run(
        tmp_path, ["command", "preflight"], ["wait", 150], fire("low"), ["command", "preflight"], ["wait", 500]
    )
    assert ["played", ""] in answers
    assert heard(samples) == [round(E5, -1), round(C5, -1)]


def test_a_device_that_goes_away_is_told_and_opened_again(tmp_path):
    deeds = [["disk", "full"], ["wait", 200], fire("low", 1), ["disk", "free"], ["wait", 1300], fire("drop", 2),
             ["wait", 600]]  # fmt: skip
    answers, samples = run(tmp_path, *deeds)
    states = [(state, why) for _, state, _, why in told(answers, "device")]
    assert [state for state, _ in states] == ["ready", "lost", "ready"]
    assert "plug it in" in states[1][1]
    assert ["failed", "loudspeaker lost"] in answers
    assert ["played", ""] in answers
    assert heard(samples) == [round(C6, -1), round(E5, -1)]


def test_a_lost_device_is_not_opened_while_a_cue_is_near(tmp_path):
    deeds = [["disk", "full"], ["wait", 200], ["disk", "free"], ["prepare", "low", 1, 1500], ["wait", 1300],
             ["command", "mute"], ["wait", 500]]  # fmt: skip
    answers, _ = run(tmp_path, *deeds)
    events = [answer for group in answers for answer in ([group] if group and group[0] == "device" else group)]
    assert [state or what for _, state, what, _ in events] == ["ready", "lost", "muted", "ready"]


def test_a_loudspeaker_that_comes_later_is_found_by_the_preflight(tmp_path):
    deeds = [["command", "preflight"], ["folder"], ["command", "preflight"], ["wait", 600], fire("low"), ["wait", 400]]
    answers, samples = run(tmp_path, *deeds, heard="later/heard.pcm")
    assert [state for _, state, _, _ in told(answers, "device")] == ["absent", "ready"]
    assert heard(samples) == [round(E5, -1), round(C5, -1)]


HOOKS = [fire("drop"), ["prepare", "drop", 2, 50], ["command", "preflight"], ["command", "mute"], ["wait", 30],
         ["end", 1], ["safe"], ["close"]]  # fmt: skip


@pytest.mark.parametrize(
    "driver",
    [
        "nothing",
        pytest.param(
            "", marks=pytest.mark.skipif(Path("/dev/snd").exists() or sys.platform != "linux", reason="can be heard")
        ),
    ],
    ids=["no such driver", "no sound device"],
)
def test_without_a_loudspeaker_it_is_absent_and_says_what_to_do(tmp_path, driver):
    """SDL's silent driver is not taken for a loudspeaker by itself."""
    answers, samples = run(tmp_path, *HOOKS, driver=driver)
    kind, state, what, why = answers[0][0]
    assert (kind, state, what) == ("device", "absent", "")
    assert "no loudspeaker" in why
    assert "plug one in" in why
    assert answers[1:] == [["skipped", "absent"], [], [["level", None, "muted", ""]], 0]
    assert len(samples) == 0


def test_the_silent_driver_is_taken_where_a_person_names_it(tmp_path):
    answers, _ = run(tmp_path, fire("low"), ["wait", 50], driver="dummy")
    assert answers == [[READY], ["played", ""]]


def test_a_rig_without_sound_is_absent_and_does_nothing(tmp_path):
    answers, samples = run(tmp_path, *HOOKS, sound=False)
    assert answers[0] == [["device", "absent", "", "the rig has no [sound]"]]
    assert answers[1:] == [["skipped", "absent"], [], [["level", None, "muted", ""]], 0]
    assert len(samples) == 0
