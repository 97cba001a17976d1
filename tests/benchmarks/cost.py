"""What Tocsin costs a laptop: memory and processor of all its processes in a match, and how long it takes to start.

    python tests/benchmarks/cost.py

Needs a display (``xvfb-run`` does) and Linux (proportional set sizes). Strip, pads and sound are the test stand's.
Aims: 160 MB, 8 % of one core with a 720p window, ``--help`` within 0.3 s, standby within 2.5 s.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import psutil

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "e2e"))
from stand import PADS, Pads, Strip

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


def main() -> None:
    """Measure and print."""
    print(f"tocsin --help          {seconds('--help'):6.2f} s   (aim 0.30)")
    print(f"python -c pass         {_bare():6.2f} s   (the interpreter alone)")
    with tempfile.TemporaryDirectory() as name:
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
            env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        # By itself the run begins as soon as standby is reached: its journal appears then.
        while not list(folder.glob("*/journal.jsonl")):
            time.sleep(0.01)
        print(f"tocsin run to standby  {time.perf_counter() - begin:6.2f} s   (aim 2.50)")
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
        print(f"memory, all processes  {sum(p.memory_full_info().pss for p in processes) / 1e6:6.1f} MB  (aim 160)")
        print(f"processor, all         {total:6.2f} %   (aim 8, of one core)")
        run.terminate()
        run.wait()


def _bare() -> float:
    begin = time.perf_counter()
    subprocess.run([sys.executable, "-c", "pass"], check=True)
    return time.perf_counter() - begin


if __name__ == "__main__":
    main()
