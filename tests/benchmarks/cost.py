"""What Tocsin costs a laptop: memory and processor of all its processes in a match, and how long it takes to start.

    python -m tests.benchmarks.cost

Needs a display (``xvfb-run`` does) and Linux (proportional set sizes). Strip, pads and sound are the test stand's.
Aims: 140 MB, 8 % of one core with a 720p window, ``--help`` within 0.3 s, standby within 1.2 s.
"""

import argparse
import contextlib
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import psutil

from tests.support.stands.stand import PADS, Pads, Strip

SPAN_S = 20.0


def seconds(*arguments: str) -> float:
    """Return how long a command takes, the median of five."""
    times = []
    for _ in range(5):
        begin = time.perf_counter()
        subprocess.run([sys.executable, "-m", "tocsin", *arguments], check=True, capture_output=True)
        times.append(time.perf_counter() - begin)
    return statistics.median(times)


def family(pid: int) -> list[psutil.Process]:
    """Return the conductor and its workers."""
    parent = psutil.Process(pid)
    return [parent, *parent.children(recursive=True)]


def starts() -> None:
    """Print how long commands take to start."""
    print(f"tocsin --help          {seconds('--help'):6.2f} s   (aim 0.30)", flush=True)
    print(f"python -c pass         {_bare():6.2f} s   (the interpreter alone)", flush=True)


def match() -> None:
    """Print how long a run takes to standby, and what its processes take in a match."""
    with tempfile.TemporaryDirectory() as name, contextlib.ExitStack() as stack:
        folder = Path(name)
        strip, pads = Strip(folder), Pads(folder)
        (folder / "rig.toml").write_text(
            f'format = "tocsin-rig/1"\nname = "Cost"\ndrives_robot = false\n{PADS}\n'
            f'[light]\nport = "{strip.link}"\n[sound]\n[screen]\n'
        )
        env = {
            **os.environ, **pads.env, "SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(folder / "pcm"),
            "XDG_STATE_HOME": name,
        }  # fmt: skip
        begin = time.perf_counter()
        run = subprocess.Popen(
            [sys.executable, "-m", "tocsin", "run", "--rig", str(folder / "rig.toml"), "--runs", name, "--start", "now",
             "--from", "driver.begin+60s"],
            env=env, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        stack.callback(run.wait)
        stack.callback(run.terminate)
        # By itself the run begins as soon as standby is reached: its journal appears then.
        while not list(folder.glob("*/journal.jsonl")):
            if run.poll() is not None:
                raise OSError(f"tocsin run ended with {run.returncode}: {run.stderr.read()[-300:]}")
            time.sleep(0.01)
        print(f"tocsin run to standby  {time.perf_counter() - begin:6.2f} s   (aim 1.20)", flush=True)
        time.sleep(2)
        processes = family(run.pid)
        before = {process.pid: sum(process.cpu_times()[:2]) for process in processes}
        time.sleep(SPAN_S)
        total = 0.0
        for process in processes:
            used = (sum(process.cpu_times()[:2]) - before[process.pid]) / SPAN_S * 100
            memory = process.memory_full_info().pss / 1e6
            words = process.cmdline()
            print(f"  {words[-1] if 'tocsin.worker' in words else 'conductor':<10} {memory:6.1f} MB  {used:5.2f} %")
            total += used
        print(f"memory, all processes  {sum(p.memory_full_info().pss for p in processes) / 1e6:6.1f} MB  (aim 140)")
        print(f"processor, all         {total:6.2f} %   (aim 8, of one core)", flush=True)


def main() -> None:
    """Measure and print; one part that fails leaves the other."""
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.parse_args()
    for part in (starts, match):
        try:
            part()
        except (subprocess.CalledProcessError, OSError, psutil.Error) as error:
            print(f"{part.__name__}: not measured: {error}", flush=True)


def _bare() -> float:
    begin = time.perf_counter()
    subprocess.run([sys.executable, "-c", "pass"], check=True)
    return time.perf_counter() - begin


if __name__ == "__main__":
    main()
