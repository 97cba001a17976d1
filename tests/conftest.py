"""For all tests: how long random lives are, who may start processes, and that strips may hang on pseudo-terminals."""

import contextlib
import gc
import importlib
import os
import signal
import sys
from pathlib import Path

import psutil
import pytest
from hypothesis import HealthCheck, settings

from tests.support import BENCH

# The machine may be busy: random examples take the time that they take.
_PATIENT = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
# `TOCSIN_EXAMPLES=200` asks for more of everything random, as CI does once: lives, mutations, simulated people (those
# by `settings.default.max_examples`). It is little where people wait for the suite.
settings.register_profile("tocsin", _PATIENT, max_examples=int(os.environ.get("TOCSIN_EXAMPLES", "25")))
settings.load_profile("tocsin")

# A pseudo-terminal counts as a port on a test bench only.
os.environ.setdefault("TOCSIN_BENCH", str(BENCH / "bare_bench.py"))

# A shell that starts the suite in the background lets it ignore Ctrl-C, and so would the programs that tests interrupt.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
# As `nohup` does with a closed terminal: the suite goes on, but a program that tests start hears of it again, since no
# handler outlives the start of a program.
if sys.platform != "win32" and signal.getsignal(signal.SIGHUP) is signal.SIG_IGN:
    signal.signal(signal.SIGHUP, lambda number, frame: None)

# Programs that tests start keep their compiled modules, as a user's do; without, each start compiles all of them anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# Python's readline tells every program that is started after it how wide the terminal was that it found, or 80.
for _name in ("COLUMNS", "LINES"):
    os.environ.pop(_name, None)
    os.unsetenv(_name)                     # readline has not told os.environ

# And so do we: half of what it takes to collect the suite is rewriting its assertions.
sys.dont_write_bytecode = False

#: What Python tells its audit hooks when a process begins (PEP 578).
_STARTS = {"subprocess.Popen", "os.posix_spawn", "os.spawn", "os.fork", "os.forkpty", "os.system", "os.exec"}
#: Test in whose time we are, if it is not marked ``devices``.
_without_devices: list[str] = []


def _watch(event, arguments):
    if event in _STARTS and _without_devices:
        raise RuntimeError(f"{_without_devices[0]} starts a process ({arguments[0]}): mark it `devices`")


sys.addaudithook(_watch)


def pytest_xdist_auto_num_workers(config):
    """Return how many files are tested at a time (``-n`` says another number): tests of devices wait most of the
    time, others never. Each process takes a gigabyte at most, with a browser and a match."""
    each = 1 if "not devices" in config.option.markexpr else 2
    return max(1, min(each * (os.cpu_count() or 1), psutil.virtual_memory().total >> 30, 16))


@pytest.hookimpl(wrapper=True)
def pytest_collection(session):
    """Collect without the garbage collector, which would look through all tests again and again, then and later; of a
    whole suite each process first imports files in an order of its own, so that none rewrites what another one has."""
    gc.disable()
    worker = getattr(session.config, "workerinput", None)
    if worker is not None and session.config.args == session.config.getini("testpaths"):
        files = sorted(Path(__file__).parent.rglob("test_*.py"))
        begin = len(files) * int(worker["workerid"].removeprefix("gw")) // worker["workercount"]
        for path in files[begin:] + files[:begin]:
            name = ".".join(path.relative_to(session.config.rootpath).with_suffix("").parts)
            with contextlib.suppress(Exception, pytest.skip.Exception):       # its collection says so again
                importlib.import_module(name)
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


def pytest_collection_modifyitems(items):
    """Mix files that mostly wait for devices with files that compute, so that both processor and devices are always at
    work; whole matches come first, for nothing long to be left at the end. Files stay whole and in their own order."""
    files: dict[Path, list] = {}
    for item in items:
        files.setdefault(item.path, []).append(item)
    waiting = [path for path, tests in files.items() if any(test.get_closest_marker("devices") for test in tests)]
    waiting.sort(key=lambda path: path.parent.name != "e2e")
    computing = [path for path in files if path not in waiting]
    mixed = sorted(
        [*((place / len(waiting), path) for place, path in enumerate(waiting)),
         *((place / len(computing), path) for place, path in enumerate(computing))],
        key=lambda pair: pair[0],
    )  # fmt: skip
    items[:] = [item for _, path in mixed for item in files[path]]


@pytest.fixture(autouse=True, scope="session")
def _no_runs_of_whoever_tests(tmp_path_factory):
    """Let what is recorded where nobody names a folder lie in one of the tests: they neither read nor fill a user's."""
    os.environ["XDG_DATA_HOME"] = str(tmp_path_factory.mktemp("data"))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item):
    """Hold tests without the mark to what it says: ``-m "not devices"`` starts nothing, so it is fast anywhere."""
    if item.get_closest_marker("devices") is None:
        _without_devices[:] = [item.nodeid]
    try:
        return (yield)
    finally:
        _without_devices.clear()
