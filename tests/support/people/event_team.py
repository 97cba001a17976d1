"""A drive team on an event day: it reads what stands on the laptop's window, and presses real keys and no others."""

import json
import subprocess
from pathlib import Path
from typing import Any

from tests.support.channels.screen_stand import Server
from tests.support.people.at_the_window import AtTheWindow, Hands
from tests.support.stands.stand import TOCSIN, Pads, Strip, wait_for

PROJECT = """
format = "tocsin-project/1"
name = "Bell crew"
plan = ["full"]
rig = "rig.toml"
runs = "runs"
[event]
plan = "quiet"
dates = [{dates}]
"""
RIG = """
format = "tocsin-rig/1"
name = "Pit laptop"
drives_robot = false
[screen]
width = 1366
height = 768
[sound]
[light]
port = "{port}"
[[pad]]
role = "driver"
order = 1
[[pad]]
role = "operator"
order = 2
"""


def project(folder: Path, port: Path | str, dates: str = "") -> Path:
    """Write a team's project with all devices; return its file."""
    (folder / "rig.toml").write_text(RIG.format(port=port), "utf-8")
    path = folder / "tocsin.toml"
    path.write_text(PROJECT.format(dates=dates), "utf-8")
    return path


class EventTeam:
    """A team with a laptop, two pads, a strip and a loudspeaker, which writes what it would play into ``sound``."""

    def __init__(self, folder: Path, server: Server) -> None:
        self.folder, self.server = folder, server
        self.strip = Strip(folder)
        self.pads = Pads(folder)
        self.sound = folder / "sound.pcm"
        self.project = project(folder, self.strip.link)
        self.hands = Hands(server)
        self.window: AtTheWindow | None = None

    def open(self, *arguments: str, screen: str = "window") -> AtTheWindow:
        """Start Tocsin, and wait until something stands on its window."""
        (self.folder / "window.jsonl").unlink(missing_ok=True)
        environment = {
            "TOCSIN_PROJECT": str(self.project), "SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(self.sound),
        }  # fmt: skip
        window = AtTheWindow(
            self.folder, self.server, self.pads, *arguments, command="run", screen=screen, environment=environment
        )
        self.window = window
        window.wait(lambda: bool(window.rows), "the window is empty")
        self.server.focus()
        return window

    def press(self, *keys: str) -> None:
        """Press keys, one after another."""
        for key in keys:
            self.hands.tap(key)

    @property
    def card(self) -> str:
        """What is said of the match that comes."""
        assert self.window is not None
        return "\n".join(self.window.card)

    def see(self, text: str, timeout_s: float = 120) -> None:
        """Wait until a text stands on the window."""
        window = self.window
        assert window is not None
        window.wait(lambda: text in "\n".join(window.rows.values()), f"'{text}' does not stand there", timeout_s)

    def await_folders(self, count: int) -> None:
        """Wait until so many matches have begun."""
        runs = self.folder / "runs"
        wait_for(lambda: runs.exists() and sum(path.is_dir() for path in runs.iterdir()) == count)

    def runs(self) -> list[dict[str, Any]]:
        """Return what ``tocsin runs`` says, the oldest first."""
        command = [*TOCSIN, "runs", "--json", "--runs", str(self.folder / "runs")]
        done = subprocess.run(command, capture_output=True, check=True, timeout=60)
        found: list[dict[str, Any]] = json.loads(done.stdout)
        return found[::-1]

    def close(self) -> None:
        """Leave nothing behind."""
        if self.window is not None:
            self.window.close()
        self.strip.pull_out()
