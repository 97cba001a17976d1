"""Says what processor time a run of tests took, by file: `pytest -p tests.support.processor [--by-test] ...`.

It is user and system time of each of pytest's processes and of all that tests started: what has ended (as the kernel
reckons it, once somebody waited for it) and what still lives, such as a browser that several tests share. What was
handed over to init meanwhile is missing. The second column is the time by the clock, which on an idle machine says how
long tests wait, and beside other work nothing.
"""

import os
from collections import Counter
from pathlib import Path

import psutil
import pytest

_COLLECTING = "(collecting, in all processes)"
_SHOWN = 40                                # files, unless `-v` asks for all


def pytest_addoption(parser):
    parser.addoption("--by-test", action="store_true", help="processor time by test, where files are not fine enough")


def pytest_configure(config):
    config.pluginmanager.register(_Times(config), "processor_times")


def _spent_s(with_living: bool) -> float:
    """User and system seconds of this process and of its children, of those alive too if asked for."""
    times = os.times()
    spent_s = times.user + times.system + times.children_user + times.children_system
    if with_living:
        for child in psutil.Process().children(recursive=True):
            try:
                spent_s += sum(child.cpu_times()[:4])
            except psutil.Error:           # it ended meanwhile
                continue
    return spent_s


class _Times:
    """Processor seconds by node id. Each report carries what was spent since the one before it, so that the process
    that distributes tests adds them up, also of a run that somebody breaks off."""

    def __init__(self, config):
        self._config = config
        self._last_s = 0.0
        self._collecting_s = 0.0
        self._seconds: Counter[str] = Counter()
        self._wall_s: Counter[str] = Counter()
        self._tests: Counter[str] = Counter()

    def pytest_collection_finish(self):
        self._last_s = self._collecting_s = _spent_s(False)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_makereport(self, item, call):
        report = yield
        now_s = _spent_s(item.get_closest_marker("devices") is not None)
        report.processor_s = [now_s - self._last_s, self._collecting_s]
        self._last_s, self._collecting_s = now_s, 0.0
        return report

    def pytest_runtest_logreport(self, report):
        name = report.nodeid if self._config.getoption("--by-test") else report.nodeid.partition("::")[0]
        spent_s, collecting_s = report.processor_s
        self._seconds[name] += spent_s
        self._seconds[_COLLECTING] += collecting_s
        self._wall_s[name] += report.duration
        self._tests[name] += report.when == "setup"

    def pytest_terminal_summary(self, terminalreporter):
        shown = None if self._config.getoption("verbose") > 0 else _SHOWN
        folders: Counter[str] = Counter()
        waited_s: Counter[str] = Counter()
        for name, spent_s in self._seconds.items():
            folder = "/".join(Path(name.partition("::")[0]).parts[:2])
            folders[folder] += spent_s
            waited_s[folder] += self._wall_s[name]
        terminalreporter.section("seconds: of the processor, by the clock")
        for name, spent_s in self._seconds.most_common(shown):
            terminalreporter.write_line(f"{spent_s:8.1f} {self._wall_s[name]:8.1f}  {self._tests[name]:5}  {name}")
        terminalreporter.write_line("")
        for folder, spent_s in folders.most_common():
            terminalreporter.write_line(f"{spent_s:8.1f} {waited_s[folder]:8.1f}  {folder}")
        terminalreporter.write_line(f"{folders.total():8.1f} {waited_s.total():8.1f}  all")
