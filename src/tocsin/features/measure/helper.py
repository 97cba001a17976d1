"""Start processes beside a measurement: load for the processor, the simple baselines, a recorder.

A companion lives as long as its stdin is open, so it ends with the process that started it, however that ends.
"""

import subprocess
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

from tocsin.spawn import Process, start_module

_PATIENCE_S = 2.0


def start(*words: str) -> Process:
    """Start ``python -m tocsin.companion`` with these arguments, out of reach of Ctrl-C, its streams as pipes."""
    return start_module("tocsin.companion", *words)


def end(process: Process) -> None:
    """End a companion by closing its stdin, or else by force, and release it."""
    for pipe in (process.stdin, process.stdout, process.stderr):
        if pipe is not None:
            pipe.close()
    try:
        process.wait(_PATIENCE_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait(_PATIENCE_S)


def answer(process: Process, limit_s: float) -> bytes:
    """Return the line that a companion prints, empty if it ends without one; after ``limit_s`` seconds it is ended."""
    assert process.stdout is not None      # a pipe, see above
    watch = threading.Timer(limit_s, process.kill)
    watch.start()
    try:
        return process.stdout.readline()
    finally:
        watch.cancel()


@contextmanager
def busy(count: int) -> Iterator[None]:
    """Keep this many processors busy inside the context."""
    with ExitStack() as stack:
        for _ in range(count):
            stack.callback(end, start("busy"))
        yield


