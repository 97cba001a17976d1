"""A rehearsal evening beside a window: the coach answers in the terminal, two crews press the window's keys.

Set ``TOCSIN_SHOTS`` to a folder to keep pictures of the window.
"""

import json
import os
import subprocess
from pathlib import Path

import pytest

from tests.support import BENCH
from tests.support.people.evening_seat import DEEDS, EveningSeat, project_in
from tests.support.stands.camera import MISSING, Server
from tests.support.stands.stand import PADS, Pads, wait_for

pytestmark = pytest.mark.devices
TRIED_MS = 500                         # for so long each pad is tried; a busy machine ends it late
FLASHES = "Is flashing light safe for everybody here? y: yes"


@pytest.fixture
def server():
    if MISSING:
        pytest.skip(f"not installed: {', '.join(MISSING)}")
    found = Server((1366, 768))
    yield found
    found.close()


class Window:
    """What stands on the window, told by the bench file in its worker, and its keys."""

    def __init__(self, server: Server, log: Path) -> None:
        self._server, self._log = server, log
        self._from = 0

    def new(self) -> None:
        """Forget what stood on the window before: another one opens."""
        self._from = len(self._told())

    def _told(self) -> list[dict[str, str]]:
        lines = self._log.read_text("utf-8").splitlines() if self._log.exists() else []
        return [json.loads(line)["rows"] for line in lines if line.endswith("}")]

    @property
    def rows(self) -> dict[str, str]:
        told = self._told()[self._from :]
        return told[-1] if told else {}

    def take_keyboard(self) -> None:
        wait_for(lambda: self.rows.get("prompt"))
        self._server.focus()
        wait_for(lambda: "Click" not in self.rows.get("keys", "Click"))

    def play(self, is_over) -> list[str]:
        """Do what the prompts say until it is over; return the prompts."""
        prompts = []
        while not is_over():
            prompt = self.rows.get("prompt", "")
            key = next((key for sign, key in DEEDS.items() if sign in prompt), "")
            if key:
                prompts.append(prompt)
                shot(self._server, f"{len(self._told()):03} {key}")
                self._server.press(key)
                wait_for(lambda prompt=prompt: is_over() or self.rows.get("prompt", "") != prompt)
        return prompts


def shakes_ms(pads: Pads, pad: str) -> list[float]:
    """Return for how long a pad shook each time, in milliseconds."""
    wait_for(lambda: pads.off(pad))
    found, since_ns = [], None
    for at_ns, *strengths in pads.motors(pad):
        if any(strengths) and since_ns is None:
            since_ns = at_ns
        elif not any(strengths) and since_ns is not None:
            found.append((at_ns - since_ns) / 1e6)
            since_ns = None
    return found


SHOTS = os.environ.get("TOCSIN_SHOTS", "")


def shot(server: Server, name: str) -> None:
    if SHOTS:
        env = {**os.environ, "DISPLAY": server.name}
        subprocess.run(["import", "-window", "root", str(Path(SHOTS) / f"{name}.png")], env=env, check=False)


def test_two_crews_at_a_window_are_asked_once_and_the_next_drill_warns_on_its_first_card(
    tmp_path, server, monkeypatch
):
    file = project_in(tmp_path)
    rig = file.parent / "rigs" / "ours.toml"
    rig.write_text(rig.read_text("utf-8") + f"[screen]\n{PADS}", "utf-8")
    monkeypatch.setenv("TOCSIN_PROJECT", str(file))
    log = tmp_path / "window.jsonl"
    bench = {"TOCSIN_BENCH": str(BENCH / "window_bench.py"), "TOCSIN_BENCH_WINDOW": str(log), "DISPLAY": server.name}
    pads = Pads(tmp_path)
    seat = EveningSeat(tmp_path, env={**pads.env, **bench})
    window = Window(server, log)
    try:
        seat.answer("Who is there?", "y")
        seat.answer("Did the driver's pad shake?", "r")
        seat.answer("Did the driver's pad shake?", "y")
        seat.answer("Did the operator's pad shake?", "s")
        seat.hear("operator's pad: skipped")
        shook_ms = [*shakes_ms(pads, "a"), *shakes_ms(pads, "b")]
        assert len(shook_ms) == 2 + 1
        assert all(TRIED_MS - 150 < ms < 4 * TRIED_MS for ms in shook_ms), "long enough to feel, and it ends by itself"
        seat.answer(FLASHES, "y")
        seat.answer("Look at the window now", "y")
        seat.answer("Did a window say TEST?", "y")
        seat.answer("Is the sound so low that nobody jumps?", "y")
        seat.answer("Did you hear a tone?", "y")
        seat.hear("What now? b: begin Push")
        window.new()
        seat.press("b")
        window.take_keyboard()
        first = window.play(lambda: "Rest as long as you like" in seat.shown)
        assert [line for line in first if "y: yes" in line] == [
            "Glasses on? y: yes, n: no", "Field empty? y: yes, n: no",
        ], "light and loudness were answered at the devices"  # fmt: skip
        seat.press("g")
        seat.hear("What now? b: begin Turn")
        window.new()
        seat.press("b")
        window.take_keyboard()
        card = [text for name, text in window.rows.items() if name.startswith("card")]
        assert "Soft things only." in card
        second = window.play(lambda: "All drills are behind you" in seat.shown)
        assert not [line for line in second if "y: yes" in line], "nobody is asked twice"
        assert len([line for line in second if "Nobody on the field?" in line]) == 2, "each crew says that it is clear"
        seat.press("e")
        seat.hear("Devices that nobody confirmed: operator's pad (skipped)")
        assert seat.end() == 0
    finally:
        seat.terminal.kill()
