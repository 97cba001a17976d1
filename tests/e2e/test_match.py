"""A match on real processes: every firing once, in order, on its channel, and seen on the device itself."""

import numpy as np
import pytest

from tests.support.stands.stand import LEDS, Run, firings, rig_file, workers
from tocsin.config.load import load
from tocsin.units import NS_PER_S

pytestmark = pytest.mark.devices


def plan_firings(plan, channel):
    """Return the scheduled firings of a bundled plan on a channel."""
    timeline = load(None, [plan], "nothing").plans[0].timeline
    return [f for f in timeline.firings if f.channel == channel and f.begin.anchor == "match"]


def test_a_whole_match_without_any_device_ends_by_itself_and_says_so(tmp_path):
    code, summary, err = Run(tmp_path, "--rate", "50", env={"SDL_AUDIODRIVER": "nothing"}).finish()
    assert code == 0, err
    assert summary["outcome"] == "over"
    assert summary["exit"] == 0
    for channel in ("rumble", "light", "sound"):
        assert summary["channels"][channel]["device"] == "absent"
        assert summary["channels"][channel]["failed"] == 0
        assert summary["channels"][channel]["skipped"] == len(plan_firings("full", channel))
    assert "No display" not in err
    assert "Traceback" not in err


def test_a_whole_match_fires_everything_once_and_in_order(tmp_path, strip):
    run = Run(tmp_path, "--rate", "20", rig=rig_file(tmp_path, strip))
    code, summary, err = run.finish()
    assert code == 0, err
    for channel in ("light", "sound"):
        expected = [(f.cue, f.n) for f in plan_firings("full", channel)]
        recorded = [(r["cue"], r["n"]) for r in firings(run.records(), channel)]
        assert recorded == expected
        assert summary["channels"][channel]["firings"] == len(expected)
        # At twenty times the speed a long sound covers what comes within it: outranked, but told.
        assert summary["channels"][channel]["failed"] == 0
    assert strip.black
    assert strip.garbage == 0


def test_the_end_of_a_match_lands_on_strip_and_loudspeaker_when_the_timeline_says(tmp_path, strip):
    """The last 25 s at rate 1: the first frame of each cue arrives at origin plus offset, on a real terminal line."""
    run = Run(tmp_path, "--from", "driver.end-25s", rig=rig_file(tmp_path, strip))
    code, summary, err = run.finish()
    assert code == 0, err
    origin = next(r for r in run.records() if r["kind"] == "origin")["origin_ns"]
    lit = {"home": (204, 121, 167), "no_touch": (255, 255, 255)}
    for cue, colour in lit.items():
        due_ns = origin + next(f.begin.offset_ns for f in plan_firings("full", "light") if f.cue == cue)
        arrived = [at for at, frame in strip.frames if frame[0] == colour and at >= due_ns - NS_PER_S]
        assert arrived, f"{cue} never showed"
        # Never early; how late is for the benchmark to say on a quiet machine, half a second for this one.
        assert 0 <= arrived[0] - due_ns < NS_PER_S // 2
    home = next(frame for _, frame in strip.frames if frame[0] == lit["home"])
    assert len(home) == LEDS
    assert (255, 255, 255) in home                 # striped with white, not told by its colour alone
    assert summary["channels"]["light"]["played"] == 9
    assert summary["channels"]["sound"]["played"] == 8
    assert strip.black


def test_the_sound_of_home_rises_as_written(tmp_path, strip):
    """ISO 16: E5 = 659.2551 Hz to C6 = 1046.5023 Hz, read in the PCM that SDL wrote."""
    run = Run(tmp_path, "--from", "no_contact.begin-5s", "--only", "sound", rig=rig_file(tmp_path, strip))
    run.await_record(kind="firing", channel="sound", cue="home", outcome="played", timeout_s=30)
    run.await_record(kind="firing", channel="sound", cue="no_touch", outcome="played", timeout_s=30)
    run.process.terminate()
    run.finish()
    pcm = np.fromfile(tmp_path / "sound.pcm", dtype="<i2")[::2].astype(float)
    block = 2048
    pitches = []
    for begin in range(0, len(pcm) - block, block):
        piece = pcm[begin : begin + block]
        if np.abs(piece).max() > 3000:
            spectrum = np.abs(np.fft.rfft(piece * np.hanning(block), 16 * block))
            pitches.append(float(np.argmax(spectrum) * 48_000 / (16 * block)))
    assert min(pitches) == pytest.approx(659.3, abs=60)
    assert max(pitches) == pytest.approx(1046.5, abs=60)


def test_no_process_is_left_over(tmp_path, strip):
    run = Run(tmp_path, "--rate", "100", rig=rig_file(tmp_path, strip))
    run.worker("light")
    found = workers(run.pid)
    code, _, _ = run.finish()
    assert code == 0
    assert not [process for process in found if process.is_running()]
