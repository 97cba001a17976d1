"""The command ``tocsin``, also as ``python -m tocsin``: Ctrl-C ends it quietly while the command line is loaded."""

import os
import signal
import sys
from types import FrameType


def run() -> int:
    """Load the command line, run it and return its exit code."""
    # What is ignored, as behind `nohup`, stays so.
    is_ours = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if is_ours:
        signal.signal(signal.SIGINT, _leave)
    from tocsin.cli.main import main  # takes a tenth of a second, in which people press Ctrl-C

    if is_ours:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    return main()


def _leave(number: int, frame: FrameType | None) -> None:
    """End at once: nothing is open yet."""
    os._exit(130)                      # errors.INTERRUPTED, which may not be loaded yet


if __name__ == "__main__":
    sys.exit(run())
