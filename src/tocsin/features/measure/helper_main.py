"""Run a helper process beside a measurement: keep a processor busy, try baselines, or record."""

import os
import sys
import threading
from collections.abc import Callable, Sequence

from tocsin.features.measure.delays import microphone
from tocsin.features.measure.lateness import baselines as usual_ways
from tocsin.translation import tr

_SUM_OF = 10_000                       # some tenths of a millisecond of work at a time


def main(arguments: Sequence[str]) -> int:
    """Work until stdin ends; return 2 for a wrong call."""
    works: dict[str, Callable[..., None]] = {
        "busy": _keep_busy, "ways": usual_ways.play, "listen": microphone.listen
    }  # fmt: skip
    if not arguments or arguments[0] not in works:
        print(tr("usage: python -m tocsin.companion busy | ways TIMES | listen [NAME]"), file=sys.stderr)
        return 2
    threading.Thread(target=_end_with_stdin, daemon=True).start()
    works[arguments[0]](*arguments[1:])
    return 0


def _keep_busy() -> None:
    while True:
        sum(range(_SUM_OF))


def _end_with_stdin() -> None:
    # Not through sys.stdin, whose lock a thread that waits would still hold while Python ends.
    while os.read(0, 4096):
        pass
    os._exit(0)                            # from a thread: the work may have no end of its own
