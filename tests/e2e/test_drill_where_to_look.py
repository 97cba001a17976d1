"""Where a drill shows itself: ``--screen`` means what it means of a run."""

import contextlib
import os
import subprocess

import pytest

from tests.support.people.evening import Evening
from tests.support.stands.camera import MISSING, Server
from tests.support.stands.stand import TOCSIN, rig_file, wait_for, workers

pytestmark = pytest.mark.devices


def test_a_window_that_was_asked_for_must_be_there(tmp_path):
    env = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
    env |= {"XDG_STATE_HOME": str(tmp_path / "state"), "SDL_AUDIODRIVER": "dummy"}
    files = ["--rig", rig_file(tmp_path), "--runs", str(tmp_path / "runs")]
    done = subprocess.run(
        [*TOCSIN, "drill", "words", *files, "--screen", "window"],
        env=env, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 21
    assert "screen was asked for" in done.stderr
    assert "Standby" not in done.stdout


@pytest.mark.skipif(bool(MISSING), reason=f"not installed: {', '.join(MISSING)}")
@pytest.mark.parametrize(("screen", "told"), [("terminal", True), ("none", False)])
def test_no_window_opens_on_a_display_where_none_was_asked_for(tmp_path, screen, told):
    with contextlib.closing(Server((640, 360))) as server:
        evening = Evening(tmp_path, "words", "--rig", rig_file(tmp_path), display=server.name, screen=screen)
        try:
            three = {"rumble", "light", "sound"}
            wait_for(lambda: {process.cmdline()[-1] for process in workers(evening.process.pid)} == three)
            if told:
                evening.hear("Standby")
            wait_for(lambda: evening.type("q") or evening.process.poll() is not None)    # until somebody listens
            assert evening.finish() == 0
            assert bool(evening.hearing("Standby")) is told
        finally:
            evening.close()


@pytest.mark.parametrize("command", [["drill", "fork"], ["run", "--start", "key"]], ids=lambda c: c[0])
def test_where_nobody_can_press_a_key_it_says_so_and_ends(tmp_path, command):
    env = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
    env |= {"XDG_STATE_HOME": str(tmp_path / "state"), "SDL_AUDIODRIVER": "dummy"}
    files = ["--rig", rig_file(tmp_path), "--runs", str(tmp_path / "runs")]
    done = subprocess.run(
        [*TOCSIN, *command, *files, "--screen", "none"],
        env=env, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert (done.returncode, "nobody can press a key here" in done.stderr) == (2, True)
    assert "Traceback" not in done.stderr
