"""What the service of boards costs, idle and with 30 boards, and how fast it is, beside its budgets.

    python -m tests.benchmarks.service_cost [--seconds 20] [--boards 30]

Needs Linux (proportional set sizes). 30 boards listen, each asks for the clock every 2 s; the conductor shows 10 states
a second, each of them new. Times of a busy machine tell little: memory and processor are what counts.
"""

import argparse
import statistics
import tempfile
import threading
import time
from pathlib import Path

import msgspec
import psutil

from tests.support.service.peers import connected, request
from tests.support.service.service_stand import TOKENS, ServiceStand
from tests.support.service.simulated_run import SimulatedRun
from tocsin.service.messages import Answer, Show, Wish

EACH_S = 0.1


def pss_mb(process):
    """Return what a process takes of the memory, shared pages by their share, in MB."""
    return process.memory_full_info().pss / 1e6


def cpu_s(process):
    times = process.cpu_times()
    return times.user + times.system


class Listener(threading.Thread):
    """A board: notes when each state came, by the number in its notice."""

    def __init__(self, stand, no, came):
        super().__init__(daemon=True)
        self._line = connected(stand)
        headers = (f"Authorization: Bearer {TOKENS.watch}", f"Tocsin-Board: {no:032x}")
        self._line.sendall(request("GET", "/api/1/events", *headers))
        self._came = came

    def run(self):
        rest = b""
        while data := self._line.recv(1 << 16):
            now_s = time.perf_counter()
            *whole, rest = (rest + data).split(b"\n\n")
            for one in whole:
                _, found, number = one.partition(b'"notice":"no ')
                if found:
                    self._came.append((int(number.split(b'"', 1)[0]), now_s))


def exchanges(stand, over, took):
    """Ask for the clock as 30 boards do, on a line kept open."""
    while not over.wait(2 / 30):
        begun_s = time.perf_counter()
        stand.post("/api/1/clock", {}, "watch")
        took.append(time.perf_counter() - begun_s)


def presses(stand, run, count=100):
    """Return how long wishes took from their press to the conductor, and to the answer, in ms."""
    arrived = {}

    def answers(asked):
        arrived[asked.id] = time.perf_counter()
        return Answer(id=asked.id, taken=True)

    stand.answers = answers
    there, back = [], []
    for no in range(count):
        body = {
            "id": f"{no:032x}", "run": run, "action": "louder", "at_ns": time.perf_counter_ns(), "error_ns": 10**9,
        }  # fmt: skip
        begun_s = time.perf_counter()
        assert stand.post("/api/1/wishes", body).status_code == 202
        back.append((time.perf_counter() - begun_s) * 1000)
        there.append((arrived[body["id"]] - begun_s) * 1000)
        time.sleep(0.06)
    return there, back


def line(what, value, unit, aim):
    print(f"{what:<44} {value:9.2f} {unit:<4} (budget {aim})", flush=True)


def p99(values):
    return statistics.quantiles(values, n=100)[98]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--boards", type=int, default=30)
    given = parser.parse_args()
    begun_s = time.perf_counter()
    stand = ServiceStand(page="x" * 120_000)
    line("ready after its start", time.perf_counter() - begun_s, "s", "0.5")
    process = psutil.Process(stand.process.pid)
    with tempfile.TemporaryDirectory() as name, SimulatedRun(stand, Path(name)) as run:
        stand.wait_until(lambda: stand.get("/api/1/state").status_code == 200)
        time.sleep(2)
        before_s = cpu_s(process)
        time.sleep(given.seconds)
        line("idle: processor", (cpu_s(process) - before_s) / given.seconds * 100, "%", "0.2")
        line("idle: memory", pss_mb(process), "MB", "20")
        came, took, over = [], [], threading.Event()
        for no in range(given.boards):
            Listener(stand, no, came).start()
        threading.Thread(target=exchanges, args=(stand, over, took), daemon=True).start()
        stand.wait_until(lambda: stand.get("/api/1/state").json()["boards"]["watching"] == given.boards)
        before_s, sent = cpu_s(process), {}
        for no in range(round(given.seconds / EACH_S)):
            sent[no] = time.perf_counter()
            stand.down(Show(run=1, status=msgspec.structs.replace(run.desk.status, notice=f"no {no}")))
            time.sleep(EACH_S)
        time.sleep(1)
        line(f"{given.boards} boards: processor", (cpu_s(process) - before_s) / (given.seconds + 1) * 100, "%", "5")
        line(f"{given.boards} boards: memory", pss_mb(process), "MB", "20")
        # The first that comes for each state: the rest waits for this process's own threads.
        first = {}
        for no, at_s in came:
            first[no] = min(at_s, first.get(no, at_s))
        late_ms = [(at_s - sent[no]) * 1000 for no, at_s in first.items()]
        line("state to the first board, p50", statistics.median(late_ms), "ms", "-")
        line("state to the first board, p99", p99(late_ms), "ms", "10")
        line("states that came, of those sent", len({*came}) and len(came) / len(sent) / given.boards * 100, "%", "100")
        line("clock exchange, p50", statistics.median(took) * 1000, "ms", "-")
        over.set()
        there, back = presses(stand, run.run)
        line("press to conductor, p50", statistics.median(there), "ms", "-")
        line("press to conductor, p99", p99(there), "ms", "20")
        line("press to answer, p50", statistics.median(back), "ms", "-")
        assert sum(isinstance(one, Wish) for one in stand.ups) == len(there)
    stand.end()


if __name__ == "__main__":
    main()
