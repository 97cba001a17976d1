"""``tocsin measure lateness`` as whole processes: on all devices, on none, on a slow one, broken off, refused."""

import contextlib
import json
import os
import shutil
import signal
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import psutil
import pytest

from tests.support import BENCH
from tests.support.stands.camera import MISSING, Server
from tests.support.stands.stand import LEDS, PADS, TOCSIN, Pads, Run, gone, rig_file, wait_for

pytestmark = pytest.mark.devices
EVENTS = 12
# Root is refused nothing unless it gives the capability away.
REFUSED = ("setpriv", "--bounding-set=-sys_nice", "--inh-caps=-sys_nice", "--")
CAN_REFUSE = sys.platform == "linux" and os.geteuid() == 0 and shutil.which("setpriv") is not None
DRIVING = """\
format = "tocsin-rig/1"
name = "Stand"
drives_robot = true
priority = "raised"
"""


class Measurement:
    """A ``tocsin measure`` process whose journal, runs, pictures and temporary files would all lie in one folder."""

    def __init__(self, folder, *arguments, env=None, sound="disk", before=()):
        self.folder = folder
        self.scratch = folder / "scratch"
        self.scratch.mkdir()
        base = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
        base |= {"SDL_AUDIODRIVER": sound, "SDL_DISKAUDIOFILE": str(folder / "sound.pcm"), "TMPDIR": str(self.scratch)}
        base |= {"XDG_STATE_HOME": str(folder / "state"), "XDG_DATA_HOME": str(folder / "data")}
        self.process = subprocess.Popen(
            [*before, *TOCSIN, "measure", *arguments], env={**base, **(env or {})}, stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
        )  # fmt: skip

    def children(self, module):
        with contextlib.suppress(psutil.Error):
            return [c for c in psutil.Process(self.process.pid).children() if module in c.cmdline()]
        return []

    def finish(self):
        """Wait for the end; return exit code, what it told on stdout (JSON read), and stderr."""
        out, err = self.process.communicate(timeout=90)
        return self.process.returncode, json.loads(out) if out.startswith("{") else out, err

    def leavings(self):
        """Return what lies about of it: runs, and files that were to go away."""
        return [*self.folder.rglob("journal.jsonl"), *(self.folder / "data").rglob("*"), *self.scratch.iterdir()]


def rows_of(told, kind="rows"):
    return {row["title"]: row for row in told[kind]}


def changes(strip):
    """Return how often a strip has shown another colour than before, black aside."""
    lit = [colours[0] for _, colours in list(strip.frames) if any(colours[0])]
    return sum(one != other for one, other in pairwise([(0, 0, 0), *lit]))


# -- on all devices


@pytest.fixture(scope="module")
def everything(tmp_path_factory):
    """A measurement of four channels and the usual ways, with the processor kept busy; what the devices saw."""
    if MISSING:
        pytest.skip(f"not installed: {', '.join(MISSING)}")
    from tests.support.stands.stand import Strip

    folder = tmp_path_factory.mktemp("measure")
    strip, pads, server = Strip(folder), Pads(folder), Server((1280, 720))
    rig = Path(rig_file(folder, strip, pads=True))
    rig.write_text(rig.read_text("utf-8") + "[screen]\n", "utf-8")
    arguments = ["--rig", str(rig), "--events", str(EVENTS), "--beside", "--busy", "2", "--json"]
    measuring = Measurement(
        folder, "lateness", *arguments, "-o", str(folder / "late.svg"), env={**pads.env, "DISPLAY": server.name}
    )
    busy = wait_for(lambda: (found := measuring.children("tocsin.companion")) and found)
    pictures = []
    wait_for(lambda: changes(strip) > 2, timeout_s=40)
    while len(pictures) < 6:
        picture = server.pixels()
        if changes(strip) >= EVENTS:
            break                              # the last event is over, or will be before the next picture
        pictures.append(picture)
    code, told, err = measuring.finish()
    server.close()
    return {
        "folder": folder, "code": code, "told": told, "err": err, "strip": strip, "pads": pads, "busy": busy,
        "measuring": measuring, "pictures": pictures,
    }  # fmt: skip


def test_each_channel_and_pad_and_way_has_a_figure_for_each_event(everything):
    assert everything["code"] == 0, everything["err"]
    told = everything["told"]
    assert list(rows_of(told)) == ["rumble driver", "rumble operator", "light", "screen", "sound"]
    assert list(rows_of(told, "beside")) == ["frame loop", "threading.Timer", "sched"]
    for row in (*told["rows"], *told["beside"]):
        assert len(row["late_ms"]) == row["lateness_ms"]["n"] == EVENTS
        assert min(row["late_ms"]) > -1
    assert told["lost"] == told["faults"] == []
    assert told["whole"]
    assert told["window"]
    assert (told["events"], told["busy"], told["exit"]) == (EVENTS, 2, 0)


def test_the_figures_are_those_of_numpy(everything):
    for row in everything["told"]["rows"]:
        late, of = row["late_ms"], row["lateness_ms"]
        # numpy.quantile, "inverted_cdf": nearest rank. Figures are to the microsecond.
        for name, share in (("p50", 0.5), ("p90", 0.9)):
            assert of[name] == pytest.approx(np.quantile(late, share, method="inverted_cdf"), abs=0.00051)
        assert of["max"] == pytest.approx(max(late), abs=0.00051)
        assert of["p99"] is None


def test_a_look_once_a_frame_is_later_than_a_worker(everything):
    # The mean of a wait for the next of 60 frames a second is 8.3 ms; a worker that was as late would be none.
    told = everything["told"]
    assert rows_of(told, "beside")["frame loop"]["lateness_ms"]["p50"] > 2
    assert rows_of(told)["light"]["lateness_ms"]["p50"] < rows_of(told, "beside")["frame loop"]["lateness_ms"]["p50"]


def test_pads_shake_weakly_and_stand_at_the_end(everything):
    for pad in "ab":
        motors = everything["pads"].motors(pad)
        assert sum(high > 0 for _, _, high in motors) == EVENTS
        assert {low for _, low, _ in motors} == {0}
        assert max(high for _, _, high in motors) <= 0.21 * 65535
        assert everything["pads"].off(pad)


def test_the_strip_changes_at_each_event_and_never_by_as_much_as_a_flash(everything):
    frames = everything["strip"].frames
    assert all(len(colours) == LEDS for _, colours in frames)
    assert changes(everything["strip"]) == EVENTS
    # WCAG 2.2, "flash": changes of less than 0.10 of the maximum are none; of an LED the light goes with the value.
    assert max(max(colours[0]) for _, colours in frames) / 255 < 0.10
    assert everything["strip"].black


def test_the_word_on_the_screen_stands_still_while_events_come(everything):
    # Below this the clock counts.
    above = [picture[: picture.shape[0] * 9 // 20] for picture in everything["pictures"]]
    assert len(above) > 1
    assert (above[0] == 255).all(axis=2).mean() > 0.01
    for picture in above[1:]:
        assert (picture == above[0]).all()


def test_the_loudspeaker_ticks_softly(everything):
    samples = np.fromfile(everything["folder"] / "sound.pcm", dtype="<i2")
    assert 0 < np.abs(samples).max() < 0.1 * 32767


def test_nothing_of_it_is_left(everything):
    assert gone(everything["busy"])
    assert everything["measuring"].leavings() == []


def test_the_picture_is_drawn_and_says_what_the_text_says(everything):
    svg = (everything["folder"] / "late.svg").read_text("utf-8")
    assert svg.startswith("<?xml")
    assert "Made by Tocsin" in svg
    assert f"wrote {everything['folder'] / 'late.svg'}" in everything["err"]


def test_progress_and_cautions_are_not_in_the_json(everything):
    assert "CAUTION. Pads shake weakly" in " ".join(everything["err"].split())
    assert f"Round 1 of 1: {EVENTS} events" in everything["err"]


# -- a slow device, and a system that refuses priority


@pytest.fixture(scope="module")
def held_up(tmp_path_factory):
    """A measurement of a strip whose worker a driver holds up, beside a sound; its priority is refused where we can."""
    from tests.support.stands.stand import Strip

    folder = tmp_path_factory.mktemp("slow")
    env = {"TOCSIN_BENCH": str(BENCH / "slow_bench.py"), "TOCSIN_BENCH_SLOW": "light", "TOCSIN_BENCH_SLOW_MS": "60"}
    arguments = ["--rig", rig_file(folder, Strip(folder)), "--only", "light,sound", "--events", "16", "--json"]
    code, told, err = Measurement(folder, *arguments, env=env, before=REFUSED if CAN_REFUSE else ()).finish()
    assert code == 0, err
    return told


def test_a_slow_driver_is_seen_in_the_figures_and_in_the_verdict(held_up):
    light, sound = rows_of(held_up)["light"]["lateness_ms"], rows_of(held_up)["sound"]["lateness_ms"]
    # Held up for 60 of each 70 ms: six of seven events come late, by up to 60 ms, half of them by 25 or more.
    assert light["p50"] > 10
    assert light["p90"] > 30
    assert light["p50"] > sound["p50"] + 10
    assert "light calls began within" in held_up["verdict"][0]
    assert held_up["verdict"][0].startswith(("This laptop is late.", "This laptop is too late to be trusted."))
    assert any(line.startswith("Fix:") for line in held_up["verdict"])


@pytest.mark.skipif(not CAN_REFUSE, reason="root drops the capability with setpriv")
def test_a_refused_priority_is_told_with_what_allows_it(held_up):
    assert held_up["asked"] == "realtime"
    assert held_up["devices"]["light"]["granted"] == "ordinary"
    assert "permi" in held_up["devices"]["light"]["refused"]
    assert any(line.startswith("echo") and "rtprio" in line for line in held_up["verdict"])


# -- no device, devices that are asked for, devices that drive a robot


def test_without_any_device_it_says_so_and_times_what_a_worker_can(tmp_path):
    code, out, err = Measurement(tmp_path, "--events", "3", sound="none_of_these").finish()
    said = " ".join(out.split())
    assert (code, err) == (0, "")
    assert "stand-in 3" in said
    assert "Not in the rig 'Nothing plugged in': rumble, light." in said
    assert "Not measured: screen (absent: no display" in said
    assert "Not measured: sound (absent: no loudspeaker" in said
    assert "No device is there." in said
    assert "The device's own delay comes on top" in said


def test_a_channel_that_was_asked_for_must_be_there(tmp_path):
    measuring = Measurement(tmp_path, "--only", "sound", "--events", "3", sound="none_of_these")
    code, _, err = measuring.finish()
    assert code == 21
    assert "sound was asked for, but there is no device" in err
    assert measuring.leavings() == []


def test_pads_beside_a_robots_program_are_shaken_only_when_that_is_said(tmp_path):
    rig = tmp_path / "rig.toml"
    rig.write_text(f"{DRIVING}{PADS}[sound]\n", "utf-8")
    pads = Pads(tmp_path, ("a",))
    first, second = tmp_path / "first", tmp_path / "second"
    for folder in (first, second):
        folder.mkdir()
    code, told, err = Measurement(first, "--rig", str(rig), "--events", "2", "--json", env=pads.env).finish()
    assert code == 0, err
    assert told["pads_left_alone"]
    assert "rumble" not in told["devices"]
    assert pads.motors("a") == []
    code, told, err = Measurement(second, "--rig", str(rig), "--events", "2", "--pads", "--json", env=pads.env).finish()
    assert code == 0, err
    assert rows_of(told)["rumble driver"]["lateness_ms"]["n"] == 2
    assert list(told["devices"]["rumble"]["missing"]) == ["operator"]
    assert pads.motors("a")


def test_two_tocsins_do_not_measure_each_other(tmp_path):
    match = Run(tmp_path, "--screen", "terminal", "--start", "now")
    match.await_record(kind="header")
    code, _, err = Measurement(tmp_path, "--events", "3").finish()
    match.process.send_signal(signal.SIGINT)
    match.finish()
    assert code == 21
    assert "another Tocsin is running" in err


# -- broken off


def test_broken_off_in_a_round_it_leaves_nothing_behind(tmp_path, strip):
    measuring = Measurement(tmp_path, "--rig", rig_file(tmp_path, strip), "--events", "200", "--busy", "1", "--json")
    wait_for(lambda: sum(any(colours[0]) for _, colours in strip.frames) > 2)
    processes = measuring.children("tocsin.companion") + measuring.children("tocsin.worker")
    assert len(processes) == 5
    measuring.process.send_signal(signal.SIGTERM)
    code, told, err = measuring.finish()
    assert code == 143, err
    assert gone(processes)
    assert strip.black
    assert measuring.leavings() == []
    assert not told["whole"]
    assert 2 < rows_of(told)["light"]["lateness_ms"]["n"] < 200


def test_broken_off_among_the_usual_ways_it_leaves_nothing_behind(tmp_path):
    measuring = Measurement(tmp_path, "--events", "2", "--beside", "--busy", "1")
    ways = wait_for(
        lambda: next((c for c in measuring.children("tocsin.companion") if "ways" in c.cmdline()), None), timeout_s=40
    )
    processes = [ways, *measuring.children("tocsin.companion")]
    measuring.process.send_signal(signal.SIGINT)
    code, out, err = measuring.finish()
    assert (code, err) == (130, "")
    assert gone(processes)
    assert "Ended before its time" in out
    assert measuring.leavings() == []
