"""Raise the priority of a worker's process at the start of a run, and restore it at its end.

Real time is never used beside a robot program (the rig forbids it) or for the screen, and always with a limit on run
time: a real-time process that spins would block the whole machine.
"""

import contextlib
import os
import signal
import sys
from types import FrameType

from tocsin.model.plan import ChannelName
from tocsin.model.rig import Priority
from tocsin.translation import tr

REALTIME_CHANNELS: tuple[ChannelName, ...] = ("rumble", "light", "sound")
FIFO_PRIORITY = 5                      # low: above everything ordinary, below everything that has a reason
RUN_LIMIT_US = 200_000                 # without a sleep; a spin takes 2 ms
# Code that is not Python's may spin and never let the handler run: then the kernel ends the process, and the conductor
# starts another.
KILL_LIMIT_US = 2_000_000
NICE = -5

_ordinary_nice: list[int] = []


def raise_self(priority: Priority, channel: ChannelName) -> tuple[Priority, str]:
    """Raise this process; return the granted priority, and why not more (or an empty text). Never raises an
    exception."""
    why = ""
    if priority == "realtime" and channel in REALTIME_CHANNELS:
        why = _realtime()
        if not why:
            return "realtime", ""
    if priority in ("realtime", "raised"):
        refused = _raised()
        return ("ordinary", refused) if refused else ("raised", why)
    return "ordinary", ""


def hand_back() -> None:
    """Return to the ordinary priority."""
    if sys.platform == "win32":
        _take_class("NORMAL_PRIORITY_CLASS")
        return
    if sys.platform == "linux":
        with contextlib.suppress(OSError):
            # The flag stays: only a privileged process may clear it, and the call would be refused as a whole.
            os.sched_setscheduler(0, os.SCHED_OTHER | os.SCHED_RESET_ON_FORK, os.sched_param(0))
    if _ordinary_nice:
        with contextlib.suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, 0, _ordinary_nice[0])


def _realtime() -> str:
    """Ask for real time; return why not, or nothing."""
    if sys.platform == "win32":
        refused = _take_class("HIGH_PRIORITY_CLASS")            # never the real-time class: it starves the system
        return tr("no high priority: {refused}", refused=refused) if refused else ""
    if sys.platform != "linux":
        return tr("real time is for Linux and Windows only")
    try:
        _limit_run_time()
        os.sched_setscheduler(0, os.SCHED_FIFO | os.SCHED_RESET_ON_FORK, os.sched_param(FIFO_PRIORITY))
    except OSError as error:
        return tr("no real-time priority: {reason}", reason=_reason(error))
    return ""


def _limit_run_time() -> None:
    """Let the kernel tell when this process ran too long without a sleep: then it hands real time back and says so
    on stderr, which the conductor keeps."""
    import resource  # here: there is none on Windows

    def on_limit(number: int, frame: FrameType | None) -> None:
        hand_back()
        told = tr("real-time priority handed back: {limit_ms} ms without a sleep", limit_ms=RUN_LIMIT_US // 1000)
        os.write(2, f"{told}\n".encode())

    signal.signal(signal.SIGXCPU, on_limit)
    _, hard = resource.getrlimit(resource.RLIMIT_RTTIME)
    hard = KILL_LIMIT_US if hard == resource.RLIM_INFINITY else min(KILL_LIMIT_US, hard)
    resource.setrlimit(resource.RLIMIT_RTTIME, (min(RUN_LIMIT_US, hard), hard))


def _raised() -> str:
    """Ask for a raised priority; return why not, or nothing."""
    if sys.platform == "win32":
        refused = _take_class("ABOVE_NORMAL_PRIORITY_CLASS")
        return tr("no raised priority: {refused}", refused=refused) if refused else ""
    try:
        if not _ordinary_nice:
            _ordinary_nice.append(os.getpriority(os.PRIO_PROCESS, 0))
        os.setpriority(os.PRIO_PROCESS, 0, NICE)
    except OSError as error:
        return tr("no raised priority: {reason}", reason=_reason(error))
    return ""


def _take_class(name: str) -> str:
    """Take a priority class of Windows; return why that was refused, or nothing."""
    import psutil  # only here: it takes half of a worker's start, and no other system needs it

    try:
        psutil.Process().nice(getattr(psutil, name))
    except (psutil.Error, OSError) as error:
        return _reason(error)
    return ""


def _reason(error: Exception) -> str:
    return (getattr(error, "strerror", None) or str(error)).lower()
