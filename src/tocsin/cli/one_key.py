"""Ask a person at the terminal for one key, which acts without Enter like all keys of a match or a drill."""

import contextlib
from collections.abc import Collection
from queue import Empty, SimpleQueue

from tocsin.cli.lines import tell
from tocsin.runner.terminal.typed import Typed

_TURN_S = 0.1                          # Windows hears Ctrl-C between two turns only


def one_key(question: str, keys: Collection[str], otherwise: str) -> str:
    """Return which of ``keys`` was pressed, an empty text once the input has ended; each other key is answered by
    ``otherwise`` and the question. Enter alone says nothing. Raises KeyboardInterrupt."""
    bell: SimpleQueue[None] = SimpleQueue()
    typed = Typed(lambda: bell.put(None))
    typed.start()                          # before the question: a terminal forgets keys as it turns to single ones
    try:
        tell(question)
        while not typed.ended:
            pressed = typed.take()
            if pressed is not None and pressed in keys:
                return pressed
            if pressed is not None and pressed != "enter":
                tell(otherwise)
                tell(question)
            with contextlib.suppress(Empty):
                bell.get(timeout=_TURN_S)
        return ""
    finally:
        typed.stop()
