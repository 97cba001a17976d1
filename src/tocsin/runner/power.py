"""Keep the laptop from sleeping and dimming, from standby to the end."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from queue import Empty, SimpleQueue
from typing import NamedTuple

import psutil

from tocsin.translation import tr

LOW_PERCENT = 30


class Battery(NamedTuple):
    """A laptop's battery: its charge in percent, and whether it is on mains."""

    percent: float
    plugged: bool

    @property
    def low(self) -> bool:
        """Whether it should be plugged in."""
        return not self.plugged and self.percent < LOW_PERCENT

    @property
    def text(self) -> str:
        """Return e.g. ``battery 63 %``, ``mains``, ``battery 12 %: plug it in``."""
        if self.plugged:
            return "mains"
        text = tr("battery {percent:.0f} %", percent=self.percent)
        return tr("{text}: plug it in", text=text) if self.low else text


def battery() -> Battery | None:
    """Return the laptop's battery, None if there is none or the system does not say."""
    read = getattr(psutil, "sensors_battery", None)        # not on every system
    try:
        found = read() if read else None
    # psutil asks the system, which may refuse (OSError, RuntimeError) or know of no such thing (NotImplementedError).
    except (OSError, RuntimeError, NotImplementedError):
        return None
    return None if found is None else Battery(found.percent, bool(found.power_plugged))


def battery_text() -> str:
    """Return the battery in words, empty if there is none or the system does not say."""
    found = battery()
    return found.text if found else ""


# On some systems the way leads over a message bus that may not answer: nobody waits for it longer than this.
PATIENCE_S = 1.0


@contextmanager
def keep_awake(patience_s: float = PATIENCE_S) -> Iterator[str]:
    """Keep the laptop awake inside the context; yield the result in words. Raises no exception of its own.

    Waits at most ``patience_s`` seconds for an answer.
    """
    reached: SimpleQueue[str] = SimpleQueue()
    leave = threading.Event()
    thread = threading.Thread(target=_hold, args=(reached, leave), name=tr("keep awake"), daemon=True)
    thread.start()
    try:
        text = reached.get(timeout=patience_s)
    except Empty:
        text = tr("laptop may fall asleep: the system does not answer")
    try:
        yield text
    finally:
        leave.set()
        thread.join(patience_s)


def _hold(reached: "SimpleQueue[str]", leave: threading.Event) -> None:
    from wakepy import keep  # here: it looks at the system while it is imported, which must not delay the start

    try:
        with keep.presenting(on_fail="pass") as mode:
            reached.put(tr("kept awake") if mode.active else tr("laptop may fall asleep: set its power plan yourself"))
            leave.wait()
    except Exception as error:
        # A message bus fails in ways of its own, and none of them may take a match along.
        reached.put(tr("laptop may fall asleep: {name}", name=type(error).__name__))
