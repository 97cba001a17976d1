"""How a run ends."""

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

import msgspec

from tocsin.errors import INTERRUPTED, OVER, TERMINATED
from tocsin.journal import records


class Ending(msgspec.Struct, frozen=True, kw_only=True):
    """How one run ended; ``exit`` does not count yet what failed in it."""

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
            ending = Ending(outcome="scrapped", exit=TERMINATED, why="told to end")
        _heard.append(ending)
        end(ending)

    for number in _numbers():
        if number == _HANG_UP and signal.getsignal(number) is signal.SIG_IGN:
            continue                           # behind `nohup`: a closed terminal is to end nothing
        signal.signal(number, on_signal)


@contextmanager
def signals_given_back() -> Iterator[None]:
    """Let each of these signals do behind the context what it did before it; if one has come, Ctrl-C does nothing any
    more: the process is about to end, and is not to be disturbed at that."""
    _heard.clear()
    before = {number: signal.getsignal(number) for number in _numbers()}
    try:
        yield
    finally:
        for number, handler in before.items():
            ending = _heard and number == signal.SIGINT
            signal.signal(number, signal.SIG_IGN if ending else handler)


def heard() -> Ending | None:
    """Return what the first signal asked for since ``signals_given_back`` was entered, also where it came too late for
    whoever had taken it, as in the last moments of a run."""
    return _heard[0] if _heard else None


def _numbers() -> list[signal.Signals]:
    return [number for name in _NAMES if (number := getattr(signal, name, None)) is not None]
