"""Play matches end to end on real parts with busy processes beside, and look at what they leave behind.

    python -m tests.attacks.soak [--minutes 45] [--busy 4] [--rate 10] [--alone 0.25] [--folder DIR]

First one ``tocsin run`` goes from standby to standby, each match begun by its key: leaks show only there. For the last
part of the time (``--alone``) each match is a run of its own. Pads are SDL's virtual ones, the strip is a
pseudo-terminal, the sound is SDL's disk driver, the window stands on a virtual display where there is one.

A row a match: what was lost, how the devices were left, and between matches the memory of its own, threads and handles
of the conductor and of each worker. A probe of real-time priority beside it tells when the machine itself stood still:
what was lost then is listed, and is not held against Tocsin. Below the rows: what each process takes a match more, and
what is amiss.

Ends with 1 if anything is amiss, else with 0. Linux only. Takes ``--minutes`` (45), on any machine, and the last match.
"""

import argparse
import contextlib
import sys
import tempfile
import threading
import time
from collections import deque
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import psutil

from tests.attacks.footprint import Footprint, growth, line, sample
from tests.attacks.judged import ended, judged
from tests.attacks.stalls import Stalls
from tests.support.stands.camera import MISSING, Server
from tests.support.stands.stand import PADS, Pads, Run, Strip, gone, wait_for, workers
from tocsin.features.measure import helper as companion

MATCH_S = 175.0                        # of match time, settling and the result's time included
PATIENCE_S = 120.0                     # more than anything takes on a busy machine
RUNG_OUT_S = 15.0                      # how long devices may take to be off after a match
PAD_NAMES = ("a", "b", "c")             # of driver, operator, coach
RIG = """
format = "tocsin-rig/1"
name = "Soak"
drives_robot = false
priority = "realtime"
{pads}
[[pad]]
role = "coach"
order = 3
[light]
port = "{port}"
leds = 30
max_ma = 5000
[sound]
{screen}
"""


class Player(Run):
    """A ``tocsin run`` whose output is read all the time, so that it never blocks."""

    def __init__(self, folder: Path, *arguments: str, **keywords: Any) -> None:
        super().__init__(folder, *arguments, terminal=True, **keywords)
        self._said: deque[str] = deque(maxlen=30)
        for stream in (self.process.stdout, self.process.stderr):
            threading.Thread(target=self._said.extend, args=(stream,), daemon=True).start()

    @property
    def said(self) -> str:
        """What it said last."""
        return "".join(self._said)[-600:]

    @property
    def ended(self) -> bool:
        """Whether the process is gone."""
        return self.process.poll() is not None

    def journals(self) -> list[Path]:
        """The journals so far, the newest last."""
        return sorted(self.runs.glob("*/journal.jsonl"))

    def begin(self, known: int) -> bool:
        """Press the start key until there is a journal more; standby takes keys once every device is open."""
        if len(self.journals()) == known and not self.ended:
            self.press("s")
            time.sleep(1)                  # a person who presses again; the caller has the limit
        return len(self.journals()) > known or self.ended

    def family(self) -> list[psutil.Process]:
        """The conductor and its workers."""
        with contextlib.suppress(psutil.Error):
            return [psutil.Process(self.pid), *workers(self.pid)]
        return []

    def close(self) -> None:
        """Leave nothing behind."""
        for process in self.family():
            with contextlib.suppress(psutil.Error):
                process.kill()
        self.process.wait(10)


class Soak:
    """The stand of one soak: what it has counted, and what is amiss."""

    def __init__(self, folder: Path, rate: float, stalls: Stalls, display: str) -> None:
        self.matches = self.firings_lost = self.restarts = 0
        self.amiss: list[str] = []
        self.excused: list[str] = []
        self.samples: list[Footprint] = []
        self._folder, self._rate, self._stalls = folder, rate, stalls
        self._strip, self._pads = Strip(folder), Pads(folder, PAD_NAMES)
        self._env = {**self._pads.env, **({"DISPLAY": display} if display else {})}
        self._rig = folder / "rig.toml"
        screen = "[screen]" if display else ""
        self._rig.write_text(RIG.format(pads=PADS, port=self._strip.link, screen=screen), "utf-8")

    def in_one_process(self, until_s: float) -> None:
        """Play matches from standby to standby of one process until a time."""
        player = self._player("--start", "key")
        try:
            while time.monotonic() < until_s and not player.ended:
                known = len(player.journals())
                wait_for(lambda known=known: player.begin(known), PATIENCE_S)
                self._watch(player, between=True)
            if not player.ended:
                self._leave(player)
        finally:
            player.close()

    def in_runs_alone(self, until_s: float) -> None:
        """Play matches in a process each until a time."""
        while time.monotonic() < until_s:
            known = len(list(self._folder.glob("runs/*/journal.jsonl")))
            player = self._player("--start", "now")
            try:
                wait_for(lambda player=player, known=known: len(player.journals()) > known or player.ended, PATIENCE_S)
                self._watch(player, between=False)
                self._leave(player)
            finally:
                player.close()

    def _player(self, *arguments: str) -> Player:
        return Player(self._folder, "--rate", str(self._rate), *arguments, rig=str(self._rig), env=self._env)

    def _watch(self, player: Player, *, between: bool) -> None:
        """Wait for the end of a match, judge it and print its row."""
        self.matches += 1
        journal = player.journals()[-1]
        wait_for(lambda: ended(journal) or player.ended, PATIENCE_S + MATCH_S / self._rate)
        found = judged(journal)
        for firing in found.lost:
            self._lost(firing)
        on = self._left_on()
        for what in (*found.torn, *found.restarted, *found.faults, *(f"{device} left on" for device in on)):
            self._is_amiss(f"{what} ({journal.parent.name})")
        self.firings_lost += len(found.lost)
        self.restarts += len(found.restarted)
        if between and not player.ended:
            self.samples.append(sample(player.family()))
        print(
            f"{self.matches:>5}  lost {len(found.lost)}  restarts {len(found.restarted)}  left on {len(on)}  "
            f"stalls {self._stalls.count} (worst {self._stalls.worst_ms:.0f} ms)  "
            f"{line(self.samples[-1]) if between and self.samples else 'a run of its own'}",
            flush=True,
        )

    def _lost(self, firing: dict[str, Any]) -> None:
        what = f"lost: {firing['channel']} {firing['cue']}: {firing.get('why') or firing['outcome']}"
        if stalled_ms := self._stalls.near(firing["at_ns"]):
            self.excused.append(f"match {self.matches}: {what}; the machine stood still for {stalled_ms:.0f} ms")
        else:
            self._is_amiss(what)

    def _left_on(self) -> list[str]:
        """Return what is lit or driven though the match has ended and had its time to ring out."""

        def lit() -> list[str]:
            return [f"pad {pad}" for pad in PAD_NAMES if not self._pads.off(pad)] + ["strip"] * (not self._strip.black)

        with contextlib.suppress(AssertionError):
            wait_for(lambda: not lit(), RUNG_OUT_S)
        return lit()

    def _leave(self, player: Player) -> None:
        """Leave standby (a run that began by itself ends by itself); nothing may be left."""
        family = player.family()

        def left() -> bool:
            if not player.ended:
                player.press("q")
                time.sleep(0.5)
            return player.ended

        with contextlib.suppress(AssertionError):
            wait_for(left, PATIENCE_S)
        if player.process.returncode != 0:
            self._is_amiss(f"the process ended with {player.process.returncode}: {player.said}")
        if not gone(family, 10):
            self._is_amiss("processes left running")
        for what in self._left_on():
            self._is_amiss(f"{what} left on after the end of the process")

    def _is_amiss(self, what: str) -> None:
        self.amiss.append(f"match {self.matches}: {what}")
        print(f"       AMISS {what}", flush=True)


def options(arguments: Sequence[str] | None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=45.0, help="in all (45)")
    parser.add_argument("--busy", type=int, default=4, help="busy processes beside it (4)")
    parser.add_argument("--rate", type=float, default=10.0, help="how fast match time goes (10)")
    parser.add_argument("--alone", type=float, default=0.25, help="the share of the time for runs of their own (0.25)")
    parser.add_argument("--folder", type=Path, help="keep the journals there")
    return parser.parse_args(arguments)


def main(arguments: Sequence[str] | None = None) -> int:
    """Soak, print, return the exit code."""
    given = options(arguments)
    began_s = time.monotonic()
    with contextlib.ExitStack() as stack:
        kept = given.folder or Path(stack.enter_context(tempfile.TemporaryDirectory(ignore_cleanup_errors=True)))
        kept.mkdir(parents=True, exist_ok=True)
        display = ""
        if not MISSING:
            server = Server((1280, 720))
            stack.callback(server.close)
            display = server.name
        stalls = stack.enter_context(Stalls())
        stack.enter_context(companion.busy(given.busy))
        soak = Soak(kept, given.rate, stalls, display)
        print(f"{given.minutes:g} minutes, {given.busy} busy processes, rate {given.rate:g}, "
              f"{'a window' if display else 'no window'}, probe {'real-time' if stalls.realtime else 'ordinary'}",
              flush=True)  # fmt: skip
        soak.in_one_process(began_s + 60 * given.minutes * (1 - given.alone))
        soak.in_runs_alone(began_s + 60 * given.minutes)
        rows, grown = growth(soak.samples)
    return verdict(soak, stalls, rows, [*soak.amiss, *grown])


def verdict(soak: Soak, stalls: Stalls, rows: Sequence[str], amiss: Sequence[str]) -> int:
    """Print what it comes to; return the exit code."""
    print(f"\n{soak.matches} matches, {soak.firings_lost} firings lost, {len(soak.excused)} of them while the "
          f"machine stood still; {soak.restarts} restarts; {stalls.count} stalls, worst {stalls.worst_ms:.0f} ms")
    for text in (*rows, *soak.excused):
        print(f"  {text}")
    print("Nothing amiss." if not amiss else f"AMISS, {len(amiss)}:")
    for text in amiss:
        print(f"  {text}")
    return 1 if amiss else 0


if __name__ == "__main__":
    sys.exit(main())
