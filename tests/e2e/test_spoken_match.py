"""Words of a plan, spoken by the system's own program: heard in the samples that SDL writes, behind their tones.

And without such a program, or with one that hangs: the match goes on with its tones.
"""

import os
import subprocess
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np
import psutil
import pytest
import scipy.signal
from scipy.io import wavfile

from tests.support import BENCH
from tests.support.speech.voices import HANGS, needs_espeak, script
from tests.support.stands.loudspeaker import RATE_HZ, Loudspeaker
from tests.support.stands.stand import Run, firings, gone, wait_for
from tocsin.channels.sound.synth import pcm
from tocsin.config.load import load
from tocsin.units import NS_PER_MS

pytestmark = pytest.mark.devices

GAME = """\
format = "tocsin-game/1"
name = "Two words"                        # invented
[[period]]
id = "driver"
kind = "driver"
lasts = "3s"
"""
PLAN = """\
format = "tocsin-plan/1"
name = "Ours"
game = "game.toml"
[[cue]]
id = "home"
at = "driver.begin+300ms"
sound = "steady"
say = "Home"
[[cue]]
id = "no_touch"
at = "driver.begin+1700ms"
sound = "rising"
say = "No touch"
priority = 9
"""
RIG = 'format = "tocsin-rig/1"\nname = "Ours"\ndrives_robot = false\n[sound]\nvolume = 0.8\nbuffer = 512\n'
VOLUME = 102 / 128                        # SDL's mixer knows 128 steps and rounds down (measured)
TONES = {"home": "steady", "no_touch": "rising"}
# `steady` lasts 250 ms; of `rising` the last tone ends after 180 + 60 + 180 ms; a word follows 100 ms later.
WORD_AFTER_MS = {"home": 350, "no_touch": 520}
PATTERNS = load(None, ["full"], "nothing").plans[0].plan.patterns.sound


def files(folder: Path) -> tuple[tuple[str, ...], str]:
    """Write the files; return the arguments that name plan and screen, and the rig."""
    for name, text in (("game", GAME), ("plan", PLAN), ("rig", RIG)):
        (folder / f"{name}.toml").write_text(text, "utf-8")
    return ("--plan", str(folder / "plan.toml"), "--screen", "none"), str(folder / "rig.toml")


def start(folder: Path, *arguments: str, path: str | None = None) -> Run:
    """Start a run of the plan that begins by itself; ``path`` is where programs are looked for."""
    named, rig = files(folder)
    env = {} if path is None else {"PATH": path}
    return Run(folder, *named, "--start", "now", *arguments, rig=rig, env=env)


def told(run: Run, kind: str) -> list[dict[str, object]]:
    """Return the newest journal's records of a kind, of the sound as far as they have a channel."""
    return [r for r in run.records() if r["kind"] == kind and r.get("channel", "sound") == "sound"]


class Heard(NamedTuple):
    """A run and what it sounded: the left side within -1 to 1, and when each frame was written."""

    run: Run
    code: int
    samples: np.ndarray
    loudspeaker: Loudspeaker

    def sound(self, cue: str) -> tuple[int, np.ndarray]:
        """Return where a cue's tone begins, found by its shape, and all that is heard from there until the next."""
        tone = shape(TONES[cue])
        match = scipy.signal.fftconvolve(self.samples, tone[::-1], "valid")
        begin = int(np.argmax(match))
        return begin, self.samples[begin : begin + int(1.3 * RATE_HZ)]


def shape(pattern: str) -> np.ndarray:
    return np.frombuffer(pcm(PATTERNS[pattern]), "<i2")[::2] / 32_767


@pytest.fixture(scope="module")
def heard(tmp_path_factory):
    """The second of two runs: the first one begins at once, and makes the words for the next."""
    folder = tmp_path_factory.mktemp("spoken")
    first = start(folder, "--rate", "50")
    assert first.finish()[0] == 0
    wait_for(lambda: len(list((folder / "cache" / "tocsin" / "words").glob("*.wav"))) == 2)
    (folder / "sound.pcm").unlink()
    loudspeaker = Loudspeaker(folder / "sound.pcm")
    run = start(folder)
    try:
        code, _, _ = run.finish()
    finally:
        loudspeaker.stop()
        if run.process.poll() is None:
            run.kill()
    samples = np.fromfile(folder / "sound.pcm", "<i2")[::2] / 32_767
    return Heard(run, code, samples, loudspeaker)


def rendered(folder: Path, phrase: str) -> tuple[np.ndarray, int]:
    """Return what the program says of itself, at 48 kHz, and how many samples of silence it puts before: called by
    hand, converted by scipy."""
    wav = folder / "alone.wav"
    subprocess.run(["espeak-ng", "-v", "en", "-z", "-w", str(wav), phrase], check=True, timeout=30)
    rate_hz, samples = wavfile.read(wav)
    whole = scipy.signal.resample_poly(samples / 32_768, RATE_HZ // 150, rate_hz // 150)
    loud = np.flatnonzero(np.abs(whole) > 0.005 * np.abs(whole).max())
    return whole[loud[0] : loud[-1] + 1], int(loud[0])


@needs_espeak
def test_each_firing_is_one_record_that_says_the_word_was_spoken(heard):
    assert heard.code == 0
    found = firings(heard.run.records(), "sound")
    assert [(r["cue"], r["outcome"], r["by"]) for r in found] == [
        ("home", "played", ["word"]), ("no_touch", "played", ["word"])
    ]
    assert told(heard.run, "note") == []
    assert told(heard.run, "fault") == []


@needs_espeak
@pytest.mark.parametrize(("cue", "phrase"), [("home", "Home"), ("no_touch", "No touch")])
def test_the_word_is_heard_behind_its_tone(heard, tmp_path, cue, phrase):
    _, sound = heard.sound(cue)
    begin = WORD_AFTER_MS[cue] * RATE_HZ // 1000
    assert np.abs(sound[begin - 90 * 48 : begin]).max() < 0.001          # the gap
    alone, silence = rendered(tmp_path, phrase)
    word = sound[begin : begin + len(alone) + 20 * 48]
    match = scipy.signal.fftconvolve(word, alone[::-1], "full")
    lag = int(np.argmax(match)) - len(alone) + 1
    # 5 ms are kept before the first sound; the program that speaks puts none before some words.
    assert lag == pytest.approx(min(5 * 48, silence), abs=2 * 48)
    same = word[lag : lag + len(alone)]
    assert np.corrcoef(same, alone[: len(same)])[0, 1] > 0.8             # its peaks were held down
    assert np.abs(sound[begin + len(alone) + 20 * 48 :]).max() < 0.001   # and nothing behind it


@needs_espeak
def test_the_tone_is_the_same_as_without_a_word(heard):
    for cue, pattern in TONES.items():
        _, sound = heard.sound(cue)
        tone = shape(pattern)
        assert sound[: len(tone)] == pytest.approx(tone * VOLUME, abs=0.01)


@needs_espeak
def test_sounds_begin_when_due(heard):
    """As written by SDL: never before the call, and not much after it on a busy machine."""
    origin_ns = heard.run.await_record(kind="origin")["origin_ns"]
    for record in firings(heard.run.records(), "sound"):
        due_ns = origin_ns + record["due_ns"]
        lacked_ns, had_ns = heard.loudspeaker.written_ns(heard.sound(record["cue"])[0] + 10)
        assert had_ns >= due_ns
        assert lacked_ns - due_ns < 500 * NS_PER_MS


@needs_espeak
def test_a_word_has_the_level_that_belongs_to_the_tones_and_nothing_is_clipped(heard):
    """A tone of the usual level has a root mean square of 0.8 / sqrt(2); a word a quarter of 0.8."""
    assert np.abs(heard.samples).max() <= 0.8 * VOLUME + 0.001
    for cue in TONES:
        _, sound = heard.sound(cue)
        word = sound[WORD_AFTER_MS[cue] * RATE_HZ // 1000 :]
        word = word[: np.flatnonzero(np.abs(word) > 0.001)[-1]]
        assert np.sqrt(np.mean(word**2)) == pytest.approx(0.25 * 0.8 * VOLUME, rel=0.1)


@needs_espeak
def test_a_sound_that_was_started_again_speaks_again(heard, tmp_path):
    """With the words that the first one had, and time enough for a busy machine to start the second."""
    named, rig = files(tmp_path)
    (tmp_path / "game.toml").write_text(GAME.replace("3s", "9s"), "utf-8")
    (tmp_path / "plan.toml").write_text(PLAN.replace("1700ms", "8s"), "utf-8")
    run = Run(tmp_path, *named, "--start", "now", rig=rig, env={"XDG_CACHE_HOME": str(heard.run.runs.parent / "cache")})
    run.await_record(kind="firing", channel="sound", cue="home")
    run.worker("sound").kill()
    run.finish()
    assert [(r["cue"], r["by"]) for r in firings(run.records(), "sound", "played")] == [
        ("home", ["word"]), ("no_touch", ["word"])
    ]  # fmt: skip


@needs_espeak
def test_words_that_are_made_while_people_wait_are_spoken_in_the_next_match(tmp_path):
    log = tmp_path / "ready"
    env = {"TOCSIN_BENCH": str(BENCH / "words_bench.py"), "TOCSIN_BENCH_LOG": str(log)}
    named, rig = files(tmp_path)
    run = Run(tmp_path, *named, rig=rig, env=env, terminal=True)
    wait_for(lambda: log.exists() and sorted(log.read_text("utf-8").split()) == ["home", "no_touch"])
    run.press("s")
    run.await_record(kind="end", outcome="over")
    run.press("sq")                                       # on to the next standby, and away
    assert run.finish()[0] == 0
    found = {r["cue"]: r["by"] for r in firings(run.records(), "sound", "played") if r["cue"] in TONES}
    assert found == {"home": ["word"], "no_touch": ["word"]}
    assert told(run, "note") == []


def test_without_a_voice_the_tones_sound_and_the_exit_code_is_0(tmp_path):
    run = start(tmp_path, path=str(tmp_path))
    code, summary, err = run.finish()
    assert code == 0
    assert [(r["outcome"], r["by"]) for r in told(run, "firing")] == [("played", [])] * 2
    states = told(run, "device")
    assert [r["state"] for r in states if "no voice, words are only shown" in str(r["why"])] == ["ready"]
    assert {r["state"] for r in states if not r["worker"]} == {"ready"}
    assert told(run, "fault") == []
    assert err.count("no voice") == 1
    assert summary["channels"]["sound"]["device"] == "ready"


def calling(run: Run) -> list[psutil.Process]:
    """Return the script that a run has called to speak."""
    return [p for p in psutil.Process(run.pid).children(recursive=True) if "--stdin" in p.cmdline()]


def test_a_program_that_hangs_delays_no_start_and_is_ended_with_the_run(tmp_path):
    script(tmp_path, HANGS)
    began_ns = time.perf_counter_ns()
    run = start(tmp_path, path=f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
    origin = run.await_record(kind="origin")
    hanging = wait_for(lambda: calling(run))
    code, _, err = run.finish()
    assert code == 0, err
    assert gone(hanging)
    assert origin["origin_ns"] - began_ns < 8_000 * NS_PER_MS            # a limit of a word is 10 s
    assert [(r["outcome"], r["by"]) for r in told(run, "firing")] == [("played", [])] * 2
    assert "not ready at the start" in str(told(run, "note")[0]["text"])
    assert (tmp_path / "espeak-ng.calls").read_text("utf-8").count("--stdin") == 1
