"""What `tocsin check` costs on plans far larger than any match: time by the number of cues, and where it goes.

    python -m tests.benchmarks.check_cost

Aims: 2,000 cues and 20,000 firings in under 2 s of processor time, and about linear. "alike" plans repeat one call;
"varied" ones are crowded at random over an hour: they differ in every moment, priority and pattern, and many of their
cues cover each other and flash. Growth is the processor time of reading and inspecting against that of half as many
cues: 2.0 is linear. Processor time, too, is longer while other programs run.
"""

import argparse
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tocsin.config.checking import examine
from tocsin.features.check.findings import found_in

GAME = """\
format = "tocsin-game/1"
name = "Long"                             # invented
[[period]]
id = "driver"
kind = "driver"
lasts = "3600s"
[[window]]
id = "late"
begin = "driver.end-20s"
end = "driver.end"
"""
HEAD = 'format = "tocsin-plan/1"\nname = "Large"\ngame = "game.toml"\n'
RUMBLES = ("triple", "long", "short", "double", "close")
LIGHTS = ("prepare", "home", "no_touch", "over", "choose", "queue", "shrink", "on_off")
SCREENS = ("prepare", "home", "no_touch", "over", "choose", "step", "coach")
SOUNDS = ("soft", "steady", "rising", "drop", "two_up")
SIZES = (500, 1000, 2000)              # cues, each twice as many as before
OCCURRENCES = 2                        # of each cue; each has five firings: two pads, strip, screen, sound


def alike(cues: int) -> str:
    """Return a plan of cues that come one after another, all of one look."""
    looks = ("short", "home", "home", "steady", 5)
    return HEAD + "".join(_cue(n, [n * 1750, n * 1750 + 875], *looks) for n in range(cues))


def varied(cues: int) -> str:
    """Return a plan of cues at any time, of any look."""
    dice = random.Random(1)
    moments = dice.sample(range(3_590_000), cues * OCCURRENCES)
    return HEAD + "".join(
        _cue(n, moments[OCCURRENCES * n : OCCURRENCES * (n + 1)], dice.choice(RUMBLES), dice.choice(LIGHTS),
             dice.choice(SCREENS), dice.choice(SOUNDS), dice.randrange(10))
        for n in range(cues)
    )  # fmt: skip


def _cue(n: int, at_ms: list[int], rumble: str, light: str, screen: str, sound: str, priority: int) -> str:
    at = ", ".join(f'"driver.begin+{ms}ms"' for ms in at_ms)
    return (
        f'[[cue]]\nid = "cue_{n}"\nat = [{at}]\nrumble = "{rumble}"\nlight = "{light}"\nscreen = "{screen}"\n'
        f'sound = "{sound}"\nsay = "Home"\npriority = {priority}\n'
    )


def measure(plan: Callable[[int], str], cues: int, folder: Path, half_s: float) -> float:
    """Print a line: cues, firings, findings, seconds for reading and compiling, for inspecting, their growth against
    those of half as many cues, and for the whole command; return the seconds for reading and inspecting."""
    path = folder / f"{plan.__name__}_{cues}.toml"
    path.write_text(plan(cues), encoding="utf-8")
    begin = time.process_time()
    checked = examine([str(path)])
    read_s = time.process_time() - begin
    assert not checked.problems, checked.problems[0]
    told = found_in(checked)
    inspected_s = time.process_time() - begin - read_s
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    wall = time.perf_counter()
    subprocess.run([sys.executable, "-m", "tocsin", "check", str(path)], stdout=subprocess.DEVNULL, check=False)
    wall_s = time.perf_counter() - wall
    whole_s = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before
    firings = len(checked.plans[0].loaded.timeline.firings)
    growth = f"{(read_s + inspected_s) / half_s:.1f}" if half_s else "-"
    print(f"{plan.__name__:<8}{cues:>6}{firings:>9}{len(told):>10}{read_s:>9.2f}{inspected_s:>10.2f}{growth:>9}"
          f"{whole_s:>10.2f}{wall_s:>8.2f}", flush=True)  # fmt: skip
    return read_s + inspected_s


def main() -> None:
    """Measure and print. Linux and macOS only: it asks for the processor time of children."""
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args()
    print("plan      cues  firings  findings  read s  inspect s   growth   check s  wall s   (aim: check 2.0 at 20000)")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "game.toml").write_text(GAME, encoding="utf-8")
        for plan in (alike, varied):
            half_s = 0.0
            for cues in SIZES:
                half_s = measure(plan, cues, folder, half_s)


if __name__ == "__main__":
    main()
