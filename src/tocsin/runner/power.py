"""Keep the laptop from sleeping and dimming, from standby to the end."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from queue import Empty, SimpleQueue

import psutil

LOW_PERCENT = 30


def battery_text() -> str:
    """Return e.g. ``battery 63 %``, ``mains``, ``battery 12 %: plug it in``; empty if the system does not say."""
    read = getattr(psutil, "sensors_battery", None)        # not on every system
    try:
        battery = read() if read else None
    # psutil asks the system, which may refuse (OSError, RuntimeError) or know of no such thing (NotImplementedError).
    except (OSError, RuntimeError, NotImplementedError):
        return ""
    if battery is None:
        return ""
    if battery.power_plugged:
        return "mains"
    text = f"battery {battery.percent:.0f} %"
    return f"{text}: plug it in" if battery.percent < LOW_PERCENT else text


# On some systems the way leads over a message bus that may not answer: nobody waits for it longer than this.
PATIENCE_S = 1.0


@contextmanager
def keep_awake(patience_s: float = PATIENCE_S) -> Iterator[str]:
    """Keep the laptop awake inside the context; yield the result in words. Raises no exception of its own.

    Waits at most ``patience_s`` seconds for an answer.
    """
    reached: SimpleQueue[str] = SimpleQueue()
    leave = threading.Event()
    thread = threading.Thread(target=_hold, args=(reached, leave), name="keep awake", daemon=True)
    thread.start()
    try:
        text = reached.get(timeout=patience_s)
    except Empty:
        text = "may fall asleep: the system does not answer"
    try:
        yield text
    finally:
        leave.set()
        thread.join(patience_s)


def _hold(reached: "SimpleQueue[str]", leave: threading.Event) -> None:
    from wakepy import keep  # here: it looks at the system while it is imported, which must not delay the start

    try:
        with keep.presenting(on_fail="pass") as mode:
            reached.put("kept awake" if mode.active else "may fall asleep: set the laptop's power plan yourself")
            leave.wait()
    except Exception as error:
        # A message bus fails in ways of its own, and none of them may take a match along.
        reached.put(f"may fall asleep: {type(error).__name__}")
