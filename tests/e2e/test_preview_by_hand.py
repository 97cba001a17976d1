"""Cues by hand as whole processes: virtual pads, a strip, the samples of the loudspeaker, a window that is looked at.

Set ``TOCSIN_SHOTS`` to a folder to keep the pictures of the window.
"""

import json
import os
import signal
import subprocess
import threading
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from tests.support.stands.camera import MISSING, Camera, Server
from tests.support.stands.stand import TOCSIN, Pads, rig_file, wait_for
from tests.support.stands.strip_look import WHITE, YELLOW, look
from tocsin.features.trial.questions import FLASHES, LOUDNESS
from tocsin.journal.answers import Answers
from tocsin.model.safety import flicker
from tocsin.units import NS_PER_MS, NS_PER_S

pytestmark = pytest.mark.devices

READ_MS = 60                               # by how much frames are read apart from how they were sent
PURPLE = (204, 121, 167)                   # Okabe and Ito (2008)
# In the invented game of the bundled plans: driver control ends at match second 136, the last window begins at 118.
PLAN = """
format = "tocsin-plan/1"
name = "Short"
game = "casting_day"
[[cue]]
id = "alive"
at = "driver.begin+2s"
rumble = "hello"
[[cue]]
id = "home"
at = "no_contact.begin-2s"
until = "no_contact.begin"
rumble = "triple"
light = "home"
screen = "home"
sound = "rising"
[[cue]]
id = "quick"
at = "no_contact.begin+1s"
light = "quick"
priority = 1
[pattern.light.quick]
form = "on_off"
colours = ["white"]
cycle = "500ms"
lasts = "2500ms"
"""


class Preview:
    """``tocsin preview`` at a terminal's keys; what it says to people stands on stderr."""

    def __init__(self, folder, *arguments, env=None, asked=True):
        self._answers = folder / "data" / "tocsin" / "runs"
        if asked:                                           # earlier tonight
            for question in (FLASHES, LOUDNESS):
                Answers(self._answers).keep(question)
        plan = folder / "short.toml"
        plan.write_text(PLAN, "utf-8")
        self._keyboard, terminal = os.openpty()
        base = {**os.environ, "SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(folder / "sound.pcm")}
        base |= {"XDG_STATE_HOME": str(folder / "state"), "XDG_DATA_HOME": str(folder / "data")}
        base["TMPDIR"] = str(folder / "temporary")
        (folder / "temporary").mkdir()
        base.pop("DISPLAY", None)
        self.process = subprocess.Popen(
            [*TOCSIN, "preview", "--plan", str(plan), "--json", *arguments], env={**base, **(env or {})},
            stdin=terminal, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        os.close(terminal)
        self.folder = folder
        self.said = ""
        self._heard = 0
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self):
        for line in self.process.stderr:
            self.said += line

    def await_words(self, words):
        """Wait until something has been said since what was awaited last."""
        wait_for(lambda: words in self.said[self._heard :])
        self._heard += self.said[self._heard :].index(words) + len(words)

    def press(self, keys):
        os.write(self._keyboard, keys.encode())

    def finish(self):
        """Return exit code and result; nothing may be left of the preview."""
        out = self.process.stdout.read()
        code = self.process.wait(120)
        self._reader.join(5)
        assert list((self.folder / "temporary").glob("tocsin*")) == [], "journals of a preview go with it"
        kept = [path.name for path in (self.folder / "data").rglob("*") if path.is_file()]
        assert kept in ([], ["answers.json"]), "a preview is no run"
        return code, json.loads(out) if out else {}

    def close(self):
        if self.process.poll() is None:
            self.process.terminate()
            self.process.wait(10)
        os.close(self._keyboard)
        self._reader.join(5)
        self.process.stdout.close()
        self.process.stderr.close()


@pytest.fixture
def start(tmp_path):
    """Start previews that are gone at the end of the test."""
    started = []

    def begin(*arguments, env=None, asked=True):
        started.append(Preview(tmp_path, *arguments, env=env, asked=asked))
        return started[-1]

    yield begin
    for preview in started:
        preview.close()


@pytest.fixture
def server():
    if MISSING:
        pytest.skip(f"not installed: {', '.join(MISSING)}")
    found = Server((1280, 720))
    yield found
    found.close()


def pulses(motors):
    """Return when a pad began to shake, in milliseconds after the first time."""
    began = [at_ns for (_, *before), (at_ns, *now) in pairwise([(0, 0, 0), *motors]) if any(now) and not any(before)]
    return [(at_ns - began[0]) / NS_PER_MS for at_ns in began]


def outcomes(shown):
    return {(part["channel"], part["role"]): part["outcome"] for part in shown["parts"]}


def showing(strip, name):
    return bool(strip.frames) and look(strip.frames[-1][1]) == name


def asks(server):
    """Return whether the window says, in large yellow letters, which key is due."""
    return (server.pixels() == YELLOW).all(axis=2).mean() > 0.01


def test_a_cue_comes_once_on_all_its_devices_and_the_program_ends(tmp_path, strip, server, start):
    pads, camera = Pads(tmp_path, ("a",)), Camera(server, "by-hand")
    rig = Path(rig_file(tmp_path, strip, pads=True))
    rig.write_text(rig.read_text("utf-8") + "[screen]\nfullscreen = true\n", "utf-8")
    env = {**pads.env, "DISPLAY": server.name}
    run = start("--rig", str(rig), "--play", "home", env=env)
    wait_for(lambda: showing(strip, "home"))
    lit_ns = strip.frames[-1][0]
    camera.take("field", lit_ns + 500 * NS_PER_MS)
    camera.take("frame", lit_ns + 1_750 * NS_PER_MS)
    code, result = run.finish()
    camera.keep()
    assert code == 0, run.said
    (shown,) = result["shown"]
    assert (shown["cue"], shown["moment"], shown["word"]) == ("home", "0:20", "Home")
    assert outcomes(shown) == {
        ("rumble", "driver"): "played", ("rumble", "operator"): "skipped", ("light", None): "played",
        ("screen", None): "played", ("sound", None): "played",
    }  # fmt: skip
    assert "absent: rumble (operator)" in run.said
    # The bundled triple: three times 250 ms on and 200 ms off (design, "Look and sound").
    assert pulses(pads.motors("a")) == pytest.approx([0, 450, 900], abs=120)
    assert pads.off("a")
    assert strip.black
    held = [at_ns for at_ns, frame in strip.frames if look(frame) == "home"]
    dark_ns = next(at_ns for at_ns, frame in strip.frames if at_ns > held[-1])
    assert dark_ns - held[0] == pytest.approx(2 * NS_PER_S, abs=NS_PER_S // 2)
    pcm = np.frombuffer((tmp_path / "sound.pcm").read_bytes(), np.int16)
    assert np.abs(pcm).max() > 3000
    field = camera.pictures[0]
    assert all(field.share(PURPLE, WHITE, box=margin) > 0.99 for margin in field.margins()), "the whole field"
    assert 0 < camera.pictures[1].frame_share() < 0.2


def test_light_and_loudness_are_asked_once_and_a_second_preview_plays_at_once(tmp_path, strip, start):
    arguments = ("--rig", rig_file(tmp_path, strip), "--play", "home", "--screen", "terminal")
    run = start(*arguments, asked=False)
    run.await_words("Is flashing light safe for everybody here?")
    run.press("n")
    run.await_words("fix it, then answer yes")
    assert not strip.frames or strip.black, "nothing lights up before a yes"
    run.press("y")
    run.await_words("Is the sound so low that nobody jumps")
    run.press("y")
    run.await_words("played: light, screen, sound")
    assert run.finish()[0] == 0, run.said
    (tmp_path / "temporary").rmdir()
    again = start(*arguments, asked=False)
    again.await_words("played: light, screen, sound")
    assert again.finish()[0] == 0
    assert "Is flashing light safe" not in again.said


def test_a_script_is_not_asked(tmp_path, strip, server):
    """Not even where there is a window, at which somebody could sit."""
    plan = tmp_path / "short.toml"
    plan.write_text(PLAN, "utf-8")
    rig = Path(rig_file(tmp_path, strip))
    rig.write_text(rig.read_text("utf-8") + "[screen]\n", "utf-8")
    env = {**os.environ, "XDG_STATE_HOME": str(tmp_path / "state"), "XDG_DATA_HOME": str(tmp_path / "data")}
    env |= {"SDL_AUDIODRIVER": "dummy", "DISPLAY": server.name}
    done = subprocess.run(
        [*TOCSIN, "preview", "--plan", str(plan), "--rig", str(rig), "--play", "home"], env=env,
        stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "played: light, screen, sound" in done.stdout


def test_keys_go_on_back_and_again_and_the_terminal_says_what_comes(tmp_path, strip, start):
    pads = Pads(tmp_path, ("a", "b"))
    run = start("--rig", rig_file(tmp_path, strip, pads=True), "--step", env=pads.env)
    run.await_words("Ask first whether flashing light harms anybody here")
    run.await_words("3 cues, in order of time")
    run.await_words("Press page down or s: alive, 1:35")
    run.press("s")
    run.await_words("alive, 1:35: ALIVE, for driver, operator (rumble hello)")
    run.await_words("1 of 3: alive, 1:35")
    run.await_words("played: rumble (driver, operator)")
    run.press("\x1b[D")                                     # a terminal's left arrow (ECMA-48: CUB)
    run.await_words("that is the first cue")
    run.press("r")
    run.await_words("alive, 1:35: ALIVE")
    run.await_words("played: rumble (driver, operator)")
    run.press("s")
    run.await_words("0:20  HOME")
    run.await_words("2 of 3: home, 0:20")
    run.await_words("played: rumble (driver, operator), light, screen, sound")
    run.await_words("Press page down or s: quick, 0:17")
    run.press("\x1b[D")
    run.await_words("alive, 1:35: ALIVE")
    run.await_words("played: rumble (driver, operator)")
    run.press("h")                                          # gives a cue in a run, and nothing here
    run.press("q")
    code, result = run.finish()
    assert code == 0, run.said
    assert [one["cue"] for one in result["shown"]] == ["alive", "alive", "home", "alive"]
    assert {part["outcome"] for one in result["shown"] for part in one["parts"]} == {"played"}
    assert len(pulses(pads.motors("a"))) == 1 + 1 + 3 + 1


def test_the_windows_keys_step_too_and_it_shows_which_cue_it_is(tmp_path, strip, server, start):
    rig = Path(rig_file(tmp_path, strip))
    rig.write_text(rig.read_text("utf-8") + "[screen]\nfullscreen = true\n", "utf-8")
    camera = Camera(server, "step")
    run = start("--rig", str(rig), "--step", env={"DISPLAY": server.name})
    wait_for(lambda: asks(server))
    server.focus()
    camera.take("first", 0)
    for key in ("Next", "Next"):                            # X's name of page down, which also clickers send
        server.press(key)
    wait_for(lambda: showing(strip, "home"))
    wait_for(lambda: not showing(strip, "home"))
    wait_for(lambda: asks(server))
    camera.take("rest", 0)
    server.press("q")
    code, result = run.finish()
    camera.keep()
    assert code == 0, run.said
    *before, shown = result["shown"]
    assert len(before) <= 1                                 # none if the second press came before the first cue did
    assert (shown["cue"], outcomes(shown)["screen", None]) == ("home", "played")


def test_however_fast_somebody_steps_no_second_holds_more_than_two_flashes(tmp_path, strip, start):
    """The pattern asks for two flashes a second by itself. Each press comes as it lights up a third time: whoever made
    the strip dark at once would let a fifth change into a second."""
    run = start("--rig", rig_file(tmp_path, strip), "--step", "--screen", "terminal")
    run.await_words("Press page down or s")
    run.press("sss")
    for _ in range(2):
        seen = len(strip.frames)
        wait_for(lambda: lit_up(strip.frames[seen:]) >= 3)  # noqa: B023
        run.press("r")
    wait_for(lambda: lit_up(strip.frames[seen:]) >= 4)
    run.press("q")
    code, result = run.finish()
    assert code == 0, run.said
    assert [one["cue"] for one in result["shown"]].count("quick") == 3
    # The pattern goes to the very limit, and what is read here is read some milliseconds sooner or later.
    worst = flicker([(at_ns * (1000 + READ_MS) // 1000, frame) for at_ns, frame in strip.frames])
    # WCAG 2.2 allows three flashes in any second; Tocsin's own limit is two.
    assert worst.within(2), worst
    assert worst.general == 4, "or else nothing was tried"


def lit_up(frames):
    """Return how often the strip has lit up in full."""
    return sum(now == [WHITE] * len(now) != before for (_, before), (_, now) in pairwise(frames))


def test_without_keys_and_window_it_steps_by_itself(tmp_path, strip):
    plan = tmp_path / "short.toml"
    plan.write_text(PLAN.partition('[[cue]]\nid = "quick"')[0], "utf-8")
    env = {**os.environ, "XDG_STATE_HOME": str(tmp_path / "state"), "SDL_AUDIODRIVER": "nothing"}
    env.pop("DISPLAY", None)
    arguments = ("--plan", str(plan), "--rig", rig_file(tmp_path, strip), "--step")
    done = subprocess.run(
        [*TOCSIN, "preview", *arguments], env=env, stdin=subprocess.DEVNULL, capture_output=True, text=True,
        timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    words = ["1 of 2: alive", "home, 0:20"]
    assert "Press" not in done.stdout
    lines = done.stdout.splitlines()
    assert [word for word in words if word in done.stdout] == words
    came = {"alive, 1:35: ALIVE": "absent: rumble (driver, operator)", "home, 0:20: HOME": "played: light, screen"}
    for cue, line in came.items():
        place = max(n for n, line in enumerate(lines) if line.startswith(cue))
        assert f"    {line}" in lines[place + 1 : place + 3]
    assert any(look(frame) == "home" for _, frame in strip.frames)
    assert strip.black


def test_told_to_end_it_leaves_nothing_lit_and_says_what_was_shown(tmp_path, strip, start):
    run = start("--rig", rig_file(tmp_path, strip), "--step", "--screen", "terminal")
    run.await_words("Press page down or s")
    run.press("ss")
    run.await_words("0:20  HOME")
    run.process.send_signal(signal.SIGINT)
    code, result = run.finish()
    assert code == 130                                      # 128 and the number of the signal (POSIX shells)
    assert [one["cue"] for one in result["shown"]] == ["home"]
    assert strip.black


def test_a_device_that_was_named_must_be_there(tmp_path, start):
    run = start("--rig", rig_file(tmp_path), "--play", "home", "--only", "light")
    code, _ = run.finish()
    assert code == 21
    assert "light was asked for" in run.said


def test_two_tocsins_do_not_share_the_devices(tmp_path, strip, start):
    first = start("--rig", rig_file(tmp_path, strip), "--step")
    first.await_words("Press page down or s")
    (tmp_path / "temporary").rename(tmp_path / "first")
    second = start("--play", "home")
    assert second.finish()[0] == 21
    assert "another Tocsin" in second.said
