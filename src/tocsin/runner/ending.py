"""Handle the end of a run."""

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

import msgspec

from tocsin.errors import INTERRUPTED, OVER, TERMINATED
from tocsin.journal import records
from tocsin.translation import tr


class Ending(msgspec.Struct, frozen=True, kw_only=True):
    """How one run ended; ``exit`` does not count the run's failures yet."""

    outcome: records.RunOutcome
    exit: int = OVER
    why: str = ""


_NAMES = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")           # the last is Windows' own
_HANG_UP = getattr(signal, "SIGHUP", None)                     # POSIX only
_heard: list[Ending] = []              # signals are the whole process's


def take_signals(end: Callable[[Ending], None]) -> None:
    """Let each of these signals call ``end``, from the main thread, between two of its steps."""

    def on_signal(number: int, frame: FrameType | None) -> None:
        if number == signal.SIGINT:
            ending = Ending(outcome="scrapped", exit=INTERRUPTED, why="Ctrl-C")
        else:
            ending = Ending(outcome="scrapped", exit=TERMINATED, why=tr("told to end"))
        _heard.append(ending)
        end(ending)

    for number in _numbers():
        if number == _HANG_UP and signal.getsignal(number) is signal.SIG_IGN:
            continue                           # behind `nohup`: a closed terminal is to end nothing
        signal.signal(number, on_signal)


@contextmanager
def signals_given_back() -> Iterator[None]:
    """Restore each signal's handler after the context; if one has come, Ctrl-C does nothing any more: the process is
    about to end, and must not be disturbed."""
    _heard.clear()
    before = {number: signal.getsignal(number) for number in _numbers()}
    try:
        yield
    finally:
        for number, handler in before.items():
            ending = _heard and number == signal.SIGINT
            signal.signal(number, signal.SIG_IGN if ending else handler)


def heard() -> Ending | None:
    """Return what the first signal since ``signals_given_back`` asked for, also if it came too late for the run to see
    it, as in its last moments."""
    return _heard[0] if _heard else None


def _numbers() -> list[signal.Signals]:
    return [number for name in _NAMES if (number := getattr(signal, name, None)) is not None]
