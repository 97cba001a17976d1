"""The clock, the waits, and sleep of the machine as a process under skewed clocks sees it."""

import json
import os
import re
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from freezegun import freeze_time

from tests.support.preload import skew
from tocsin import monotime
from tocsin.units import NS_PER_MS, NS_PER_S

# Two clocks are never read at the same instant, and this machine may be busy.
SLACK_NS = NS_PER_S
READER = """
import json, sys
from tocsin import monotime
asleep = monotime.asleep_reader()
for line in sys.stdin:
    if line.strip() == "wait":
        monotime.wait_until(monotime.now_ns() + 5_000_000)
        monotime.sleep_ns(5_000_000)
    print(json.dumps([monotime.now_ns(), asleep(), monotime.wall_text()]), flush=True)
"""


class Reader:
    """A process that reads its clocks when asked."""

    def __init__(self, env):
        self._popen = subprocess.Popen(
            [sys.executable, "-c", READER], env={**os.environ, **env}, text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        )  # fmt: skip

    def read(self, ask="read"):
        """Return the shared time, the time asleep and the wall clock; the first lies between two readings of ours."""
        before_ns = monotime.now_ns()
        self._popen.stdin.write(f"{ask}\n")
        self._popen.stdin.flush()
        now_ns, asleep_ns, wall = json.loads(self._popen.stdout.readline())
        assert before_ns <= now_ns <= monotime.now_ns()
        return now_ns, asleep_ns, datetime.fromisoformat(wall)

    def close(self):
        self._popen.stdin.close()
        self._popen.wait(10)
        self._popen.stdout.close()


@pytest.fixture(scope="module")
def skew_env(tmp_path_factory):
    if why := skew.lacking():
        pytest.skip(why)
    return skew.build(tmp_path_factory.mktemp("skew"))


@pytest.fixture
def skewed(skew_env):
    """Return a reader under skewed clocks, and what skews them."""
    clocks = skew.Skew(skew_env)
    clocks.step_wall_ns = clocks.sleep_ns = 0
    reader = Reader(skew_env)
    yield reader, clocks
    reader.close()


def test_time_never_goes_back():
    readings = [monotime.now_ns() for _ in range(1000)]
    assert all(isinstance(ns, int) for ns in readings)
    assert all(one <= other for one, other in pairwise(readings))


@pytest.mark.devices
def test_all_processes_share_the_clock():
    reader = Reader({})
    reader.read()
    reader.close()


@pytest.mark.parametrize("ahead_ns", [0, 1, 50_000, NS_PER_MS, 3 * NS_PER_MS, 12 * NS_PER_MS])
@pytest.mark.parametrize("share", [False, True])
def test_a_wait_never_ends_early(ahead_ns, share):
    due_ns = monotime.now_ns() + ahead_ns
    monotime.wait_until(due_ns, share=share)
    assert monotime.now_ns() >= due_ns


def test_what_is_past_is_not_waited_for():
    monotime.wait_until(monotime.now_ns() - NS_PER_S)
    monotime.sleep_ns(0)
    monotime.sleep_ns(-NS_PER_S)                        # time.sleep would raise ValueError


def test_a_wait_sleeps_but_for_its_end():
    """A real-time process that spins starves the machine: at most 2 ms of processor time a wait."""
    used = []
    for _ in range(5):
        before_ns = time.thread_time_ns()
        monotime.wait_until(monotime.now_ns() + 40 * NS_PER_MS)
        used.append(time.thread_time_ns() - before_ns)
    assert min(used) <= 3 * NS_PER_MS                   # with what the sleep itself takes


def test_a_sleep_is_not_shorter_than_asked():
    before_ns = monotime.now_ns()
    monotime.sleep_ns(5 * NS_PER_MS)
    assert monotime.now_ns() - before_ns >= 5 * NS_PER_MS


def test_date_stamps_are_rfc_3339_in_utc():
    """RFC 3339, section 5.6 (from memory): date-time with "T" and "Z"."""
    with freeze_time("2026-03-14 09:26:53.589793"):
        assert monotime.wall_text() == "2026-03-14T09:26:53.589Z"
    with freeze_time("2026-03-14 09:26:53"):
        assert monotime.wall_text() == "2026-03-14T09:26:53.000Z"
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", monotime.wall_text())


def test_awake_no_time_asleep_passes():
    asleep = monotime.asleep_reader()
    first_ns = asleep()
    monotime.sleep_ns(20 * NS_PER_MS)
    assert abs(asleep() - first_ns) < SLACK_NS


@pytest.mark.devices
@pytest.mark.parametrize("slept_s", [3, 90, 8 * 3600])
def test_time_asleep_is_measured_and_the_clock_stands_meanwhile(skewed, slept_s):
    """Linux: CLOCK_MONOTONIC stops in sleep, CLOCK_BOOTTIME goes on."""
    reader, clocks = skewed
    _, before_ns, _ = reader.read()
    clocks.sleep_ns = slept_s * NS_PER_S
    _, after_ns, wall = reader.read()                   # holds its now_ns between two of ours
    assert abs(after_ns - before_ns - slept_s * NS_PER_S) < SLACK_NS
    assert monotime.clock_stops_asleep()
    # The wall clock went on too, as it does.
    assert abs(wall - datetime.now(UTC) - timedelta(seconds=slept_s)) < timedelta(seconds=30)


@pytest.mark.devices
def test_several_sleeps_add_up(skewed):
    reader, clocks = skewed
    _, first_ns, _ = reader.read()
    clocks.sleep_ns += 20 * NS_PER_S
    _, second_ns, _ = reader.read()
    clocks.sleep_ns += 40 * NS_PER_S
    _, third_ns, _ = reader.read()
    assert abs(second_ns - first_ns - 20 * NS_PER_S) < SLACK_NS
    assert abs(third_ns - first_ns - 60 * NS_PER_S) < SLACK_NS


@pytest.mark.devices
@pytest.mark.parametrize("step", [timedelta(hours=-1), timedelta(days=400), timedelta(milliseconds=-1500)], ids=str)
def test_a_step_of_the_wall_clock_is_no_sleep_and_moves_no_time(skewed, step):
    reader, clocks = skewed
    _, before_ns, _ = reader.read()
    clocks.step_wall_ns = int(step / timedelta(microseconds=1)) * 1000
    _, after_ns, wall = reader.read()
    assert abs(after_ns - before_ns) < SLACK_NS
    # Seen where it belongs: on the date stamp.
    assert abs(wall - datetime.now(UTC) - step) < timedelta(seconds=30)


@pytest.mark.devices
def test_waits_go_on_as_ever_under_skewed_clocks(skewed):
    reader, clocks = skewed
    clocks.sleep_ns, clocks.step_wall_ns = 90 * NS_PER_S, -90 * NS_PER_S
    before_ns = monotime.now_ns()
    now_ns, _, _ = reader.read("wait")
    assert now_ns - before_ns >= 10 * NS_PER_MS
