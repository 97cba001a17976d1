"""A coach and two crews at the terminal of ``tocsin evening``: they read what is asked, and press its keys."""

import os
import re
import time
from collections.abc import Sequence
from pathlib import Path

from tests.support.stands.terminal import Terminal
from tocsin.journal.people import People

_FRAME = str.maketrans(dict.fromkeys("│╭╮╰╯─\N{NO-BREAK SPACE}", " "))
DRILL = """
format = "tocsin-drill/1"
name = "{name}"
trains = "{name} in time"
place = "field"
plan = "full"
from = "driver.end-10s"
rounds = {rounds}
marks = ["contact"]
safely = ["Soft things only."]
questions = ["Glasses on?"]
field_questions = ["Field empty?"]
[clean]
keep_off = ["no_contact"]
"""
RIG = """
format = "tocsin-rig/1"
name = "Ours"
drives_robot = false
[start]
by = "count_in"
count_in = "1s"
[sound]
volume = 0.1
"""
# What a crew does at what stands there now: the words of a prompt, and the key.
DEEDS = {
    "Glasses on? y: yes": "y", "Field empty? y: yes": "y", "tries it)? y: yes": "y", "Nobody on the field?": "f",
    "s count-in": "s",
    "next round": "s", "end of the drill": "s",
}  # fmt: skip
RUNNING = "Watch the robot"


def project_in(folder: Path, rounds: int = 1) -> Path:
    """Write a project with two crews and two drills; return its file. Crew B has no operator."""
    home = folder / "team"
    for name in ("rigs", "drills"):
        (home / name).mkdir(parents=True)
    (home / "rigs" / "ours.toml").write_text(RIG, "utf-8")
    for name in ("push", "turn"):
        (home / "drills" / f"{name}.toml").write_text(DRILL.format(name=name.capitalize(), rounds=rounds), "utf-8")
    people = People(home / "runs")
    ann, ben, cleo = (people.keep(name) for name in ("Ann", "Ben", "Cleo"))
    file = home / "tocsin.toml"
    file.write_text(
        f"""format = "tocsin-project/1"
name = "Bell crew"
rig = "rigs/ours.toml"
drills = ["drills/push.toml", "drills/turn.toml"]
runs = "runs"
[crew.A]
driver = "{ann}"
operator = "{ben}"
[crew.B]
driver = "{cleo}"
""",
        "utf-8",
    )
    return file


class EveningSeat:
    """One life of ``tocsin evening`` in a terminal; what was read is read once."""

    def __init__(
        self, folder: Path, *arguments: str, command: Sequence[str] = ("evening",), rate: str = "40",
        env: dict[str, str] | None = None,
    ) -> None:  # fmt: skip
        more = ("--rate", rate) if command else ()
        self.terminal = Terminal(folder, *command, *more, *arguments, env=env)
        self._read = 0
        self._line = ""                    # what was shown so far, in one line
        self._in_line = 0                  # how many letters of the terminal that was made of

    @property
    def shown(self) -> str:
        """All that ever stood there, in one line. Only what is new is looked through."""
        shown = self.terminal.shown
        more = re.sub(r"\s+", " ", shown[self._in_line :].translate(_FRAME))
        self._line += more.removeprefix(" ") if self._line.endswith(" ") else more
        self._in_line = len(shown)
        return self._line

    def hear(self, *texts: str, timeout_s: float = 120) -> str:
        """Wait until one of the texts comes that was not read yet; return it."""
        until = time.monotonic() + timeout_s
        while time.monotonic() < until:
            shown = self.shown
            found = min(((at, text) for text in texts if (at := shown.find(text, self._read)) >= 0), default=None)
            if found:
                self._read = found[0] + len(found[1])
                return found[1]
            assert self.terminal.end(0) is None or self.shown != shown, f"it ended without {texts}:\n{shown[-2000:]}"
            time.sleep(0.05)
        raise AssertionError(f"none of {texts} within {timeout_s} s:\n{self.terminal.shown[-3000:]}")

    def press(self, keys: str) -> None:
        """Type."""
        self.terminal.type(keys)

    def answer(self, question: str, keys: str) -> None:
        """Wait for a question, and press its key."""
        self.hear(question)
        self.press(keys)

    def play_until(self, *signs: str, timeout_s: float = 240) -> str:
        """Play rounds until one of these stands there; return it. What stands there last is what is due."""
        until = time.monotonic() + timeout_s
        while time.monotonic() < until:
            shown = self.shown
            at, sign = max((shown.rfind(sign, self._read), sign) for sign in (*DEEDS, *signs))
            if at >= self._read:
                self._read = at + len(sign)
                if sign in signs:
                    return sign
                self.press(DEEDS[sign])
            assert self.terminal.end(0) is None or self.shown != shown, f"it ended without {signs}:\n{shown[-2000:]}"
            time.sleep(0.05)
        raise AssertionError(f"none of {signs} within {timeout_s} s:\n{self.terminal.shown[-3000:]}")

    def kill(self) -> None:
        """Pull the plug: kill -9."""
        os.kill(self.terminal.pid, 9)
        assert self.terminal.end() == -9
        self.terminal.close()

    def end(self) -> int | None:
        """Return the exit code once it has ended."""
        return self.terminal.end(120)
