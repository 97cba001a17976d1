"""Give each command the largest files that are read, filled with one thing again and again, and see what it takes.

Prints a row a file and command: exit code, seconds of processor time, most memory of a process (MB), the first line
that it printed. The same units fill files as in ``tests/config/test_bounds.py``, and more that are no mistake at all.

Ends with 1 if a command took more than 5 s or 300 MB, was still there after a minute, or printed a traceback, else with
0. POSIX only: it asks the system what a process took. Takes five minutes on two quiet cores.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import NamedTuple

from tocsin.config.toml.bounds import MOST_BYTES

MOST_S, MOST_MB = 5.0, 300.0
PATIENCE_S = 60.0
PLAN = 'format = "tocsin-plan/1"\nname = "A"\ngame = "casting_day"\n'
GAME = 'format = "tocsin-game/1"\nname = "A"                     # invented\n'
RIG = 'format = "tocsin-rig/1"\nname = "A"\n'
DRILL = 'format = "tocsin-drill/1"\nname = "A"\n'
PERIOD = '[[period]]\nid = "driver"\nkind = "driver"\nlasts = "600s"\n'
CUE = '[[cue]]\nid = "c@"\nat = "driver.begin+{at}ms"\n'
STEPS = ", ".join('{ strong = 0.5, lasts = "60ms" }' for _ in range(50))


class Large(NamedTuple):
    """A file of ``most`` units below a head; ``@`` in a unit stands for its number, ``{at}`` for 45 times that."""

    head: str
    unit: str
    most: int = 10**9
    foot: str = ""

    def text(self) -> str:
        """Return as much of it as is read."""
        units, room = [], MOST_BYTES - len(self.head) - len(self.foot)
        for n in range(self.most):
            unit = self.unit.replace("@", str(n)).replace("{at}", str(45 * n))
            room -= len(unit)
            if room < 0:
                break
            units.append(unit)
        return self.head + "".join(units) + self.foot


PLANS = {
    "wrong cues": Large(PLAN, '[[cue]]\nid = "c@"\nat = "nowhere.begin"\nrumbel = "short"\n'),
    "wrong cues, as many as are read": Large(PLAN, '[[cue]]\nid = "c@"\nat = "nowhere.begin"\nrumbel = "x"\n', 2000),
    "wrong patterns of good cues": Large(PLAN, CUE + 'light = "nothere@"\npriority = "high"\nsay = 5\n', 2000),
    "empty cues": Large(PLAN, "[[cue]]\n"),
    "unknown keys": Large(PLAN, "k@ = 1\n"),
    "unquoted words": Large(PLAN, "a@ = b c\n"),
    "a key again and again": Large(PLAN, 'name = "A"\n'),
    "lists that never close": Large(PLAN, "a = [\n"),
    "strings that never close": Large(PLAN, '"""\n'),
    "empty lines": Large(PLAN, "\n"),
    "comments": Large(PLAN, "# a word and another\n"),
    "cues with all that a cue can have": Large(
        PLAN, CUE + 'rumble = "short"\nlight = "home"\nscreen = "home"\nsound = "steady"\nsay = "Home"\npriority = 5\n',
        2000,
    ),
    "cues that repeat": Large(PLAN, CUE + 'every = "100ms"\nuntil = "driver.end"\nrumble = "short"\n', 60),
    "cues that blink": Large(PLAN, CUE + 'light = "b"\n', 2000,
                             '[pattern.light.b]\nform = "on_off"\ncolours = ["white"]\ncycle = "400ms"\n'
                             'lasts = "20s"\n'),
    "cues that swell": Large(PLAN, CUE + 'light = "b"\npriority = 1\n', 2000,
                               '[pattern.light.b]\nform = "swell"\ncolours = ["white"]\ncycle = "2s"\n'
                               'lasts = "9s"\n'),
    "patterns of fifty steps": Large(PLAN, f"[pattern.rumble.p@]\nsteps = [{STEPS}]\n", 300),
    "tones of ten seconds": Large(PLAN, '[pattern.sound.p@]\nsteps = [{ hz = 750.0, lasts = "10s" }]\n'),
}  # fmt: skip
GAMES = {
    "periods": Large(GAME, '[[period]]\nid = "p@"\nkind = "pause"\nlasts = "1s"\n'),
    "wrong periods": Large(GAME, '[[period]]\nid = "p@"\nkind = "stroll"\nlasts = "1 hour"\n'),
    "windows": Large(GAME + PERIOD, '[[window]]\nid = "w@"\nbegin = "driver.end-20s"\nend = "driver.end"\n'),
}
RIGS = {
    "pads": Large(RIG, '[[pad]]\nrole = "driver"\norder = 1\n'),
    "wrong keys": Large(RIG, "k@ = 1\n"),
    "keys": Large(RIG + "[keys]\n", 'a@ = "mark contact"\n'),
}
DRILLS = {
    "wrong keys": Large(DRILL, "k@ = 1\n"),
    "setups": Large(DRILL + 'plan = "full"\n[vary]\nsetup = [\n', '"The robot stands at the door @",\n', foot="]\n"),
}
_ENDS_SOON = "--screen none --start now --rate 100 --from driver.end-2s"
COMMANDS = {
    "plan.toml": ("check plan.toml", "preview --plan plan.toml", "preview --plan plan.toml -o plan.svg",
                  "export --plan plan.toml --to json -o plan.json", "export --plan plan.toml --to page -o plan.html",
                  "export --plan plan.toml --to card -o card.pdf",
                  "export --plan plan.toml --to java -o Cues.java", f"run --plan plan.toml {_ENDS_SOON}"),
    "game.toml": ("check game.toml", "preview --plan full --game game.toml", f"run --game game.toml {_ENDS_SOON}"),
    "rig.toml": ("check rig.toml", f"run --rig rig.toml {_ENDS_SOON}"),
    "drill.toml": ("check drill.toml", "drill drill.toml --screen none"),
}  # fmt: skip
KINDS = {"plan.toml": PLANS, "game.toml": GAMES, "rig.toml": RIGS, "drill.toml": DRILLS}


class Took(NamedTuple):
    """What a command took, and how it ended; ``code`` None if it had to be killed."""

    code: int | None
    cpu_s: float
    peak_mb: float
    said: str

    @property
    def amiss(self) -> bool:
        """Whether that is more than a command may take."""
        return self.code is None or self.cpu_s > MOST_S or self.peak_mb > MOST_MB or "Traceback" in self.said


def took(command: str, folder: Path) -> Took:
    """Run a command in a folder, alone and without a display; return what it took."""
    env = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
    env |= {"XDG_STATE_HOME": str(folder / "state"), "SDL_AUDIODRIVER": "dummy"}
    process = subprocess.Popen(
        [sys.executable, "-m", "tocsin", *command.split()],
        cwd=folder, env=env, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip
    killed = threading.Event()
    alarm = threading.Timer(PATIENCE_S, lambda: (killed.set(), process.kill()))
    alarm.start()
    assert process.stdout is not None  # it was asked for
    with process.stdout:
        said = process.stdout.read().decode("utf-8", "replace")
    _, status, usage = os.wait4(process.pid, 0)        # unlike Popen's own wait it tells of this process alone
    alarm.cancel()
    process.returncode = os.waitstatus_to_exitcode(status)
    peak = usage.ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)
    return Took(None if killed.is_set() else process.returncode, usage.ru_utime + usage.ru_stime, peak, said)


def main() -> int:
    """Attack, print, return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", default="", help="files of which something is named so, e.g. swell")
    given = parser.parse_args()
    began_s, rows, amiss = time.monotonic(), 0, 0
    print(f"{'file':<45}{'command':<44}{'exit':>5}{'cpu s':>8}{'MB':>7}  first line")
    for kind, files in KINDS.items():
        for name, large in files.items():
            if given.only not in f"{kind}: {name}":
                continue
            for command in COMMANDS[kind]:
                with tempfile.TemporaryDirectory() as folder:
                    (Path(folder) / kind).write_text(large.text(), "utf-8")
                    found = took(command, Path(folder))
                rows, amiss = rows + 1, amiss + found.amiss
                first = next(iter(found.said.splitlines()), "")[:50]
                print(f"{f'{kind}: {name}':<45}{command[:42]:<44}{found.code!s:>5}{found.cpu_s:>8.2f}"
                      f"{found.peak_mb:>7.0f}  {'AMISS ' if found.amiss else ''}{first}", flush=True)  # fmt: skip
    print(f"{rows} commands, {amiss} amiss, in {time.monotonic() - began_s:.0f} s")
    return int(amiss > 0)


if __name__ == "__main__":
    sys.exit(main())
