"""Run the bench file ``TOCSIN_BENCH=file.py``, the one seam for tests: in a worker, on its device's thread, and in the
probe of pads.

The file may define ``opened(channel, now_ns)``, called once after the device was opened, and ``tick(channel, now_ns)``,
called with each tick. There it attaches SDL's virtual pads, presses their buttons, unplugs them, and writes logs.
"""

import runpy
from collections.abc import Callable
from typing import Protocol

from tocsin.seam import bench_file


class Owner(Protocol):
    """The owner of a channel's device: the channel itself, or the probe of its devices."""

    @property
    def name(self) -> str: ...


Hook = Callable[[Owner, int], None]


def _nothing(owner: Owner, now_ns: int) -> None:
    """Do nothing: there is no bench."""


class Bench:
    """The hooks of the bench file, or hooks that do nothing."""

    def __init__(self, opened: Hook = _nothing, tick: Hook = _nothing) -> None:
        self.opened = opened
        self.tick = tick


def bench_of_environment() -> Bench:
    """Return the bench that ``TOCSIN_BENCH`` names. An error in the file ends the worker with a traceback."""
    path = bench_file()
    if not path:
        return Bench()
    names = runpy.run_path(path)
    return Bench(names.get("opened", _nothing), names.get("tick", _nothing))
