"""Probes in processes of their own: virtual pads, a display server that hangs, wrong calls."""

import json
import os
import socket
import subprocess
import sys
from pathlib import Path

import psutil
import pytest

from tests.support import PROJECT
from tocsin.features.devices.probing import ask_probes
from tocsin.model.rig import Pad, Rig

pytestmark = pytest.mark.devices
# The pads are plugged in before the probe looks, as they are on a laptop.
WITH_PADS = f"""
import sys
sys.path.insert(0, {str(PROJECT)!r})
from tocsin.channels.sdl import import_pygame
pygame = import_pygame("rumble")
from tests.support.bench.virtual_pad import VirtualPads
pygame.display.init()
pygame.joystick.init()
pads, moved = VirtualPads(), []
for pad, usb in (("a", "1209:0001"), ("b", "1209:0003")):
    pads.attach(pad, usb, f"Pad {{pad}}", lambda low, high: moved.append((low, high)))
from tocsin.probe import main
code = main(["pads"])
sys.exit(f"shaken: {{moved}}" if any(any(both) for both in moved) else code)
"""


def call(*arguments: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run([sys.executable, "-P", *arguments], capture_output=True, text=True, timeout=60, check=False)


@pytest.mark.skipif(sys.platform == "win32", reason="virtual pads were tried on Linux only")
def test_pads_are_found_with_their_ids_and_not_shaken() -> None:
    done = call("-c", WITH_PADS)
    assert (done.returncode, done.stderr) == (0, "")
    told = json.loads(done.stdout)
    assert [(pad["number"], pad["name"], len(pad["guid"])) for pad in told["found"]] == [
        (1, "Pad a", 32), (2, "Pad b", 32)
    ]  # fmt: skip
    assert told["why"] == ""


@pytest.mark.parametrize("arguments", [(), ("radio",), ("pads", "{"), ("pads", "{}", "x")])
def test_a_wrong_call_is_one_line(arguments: tuple[str, ...]) -> None:
    done = call("-m", "tocsin.probe", *arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="only X11 has display servers to wait for")
def test_a_driver_that_hangs_is_said_and_left_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.socket() as server:
        # X11: display n listens on port 6000 + n (X(7), from memory). This one takes the call and says nothing.
        number = next(n for n in range(50, 500) if _bound(server, 6000 + n))
        server.listen()
        monkeypatch.setenv("DISPLAY", f"127.0.0.1:{number}")
        monkeypatch.setenv("SDL_VIDEODRIVER", "x11")
        found = ask_probes(Rig(name="r", pads=(Pad(role="driver"),)), limit_s=3)
    assert "no answer within 3 s" in found.displays.why
    assert found.displays.sizes == ()
    assert not [child for child in psutil.Process(os.getpid()).children() if "tocsin.probe" in _line(child)]


def test_a_probe_that_fails_says_why(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # A library that breaks as it is loaded, found before the real one.
    (tmp_path / "pygame.py").write_text("raise RuntimeError('half overwritten')", encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    found = ask_probes(Rig(name="r"))
    assert "half overwritten" in found.pads.why
    assert "half overwritten" in found.displays.why
    assert "half overwritten" in found.sound.why
    assert found.ports.why == ""


def _bound(server: socket.socket, port: int) -> bool:
    try:
        server.bind(("127.0.0.1", port))
    except OSError:
        return False
    return True


def _line(process: psutil.Process) -> str:
    try:
        return " ".join(process.cmdline())
    except psutil.Error:
        return ""
