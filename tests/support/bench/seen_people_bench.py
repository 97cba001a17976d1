"""The bench file (``TOCSIN_BENCH``) with the pad of ``people_bench.py`` in people's hands, and the window of
``window_bench.py`` that tells what stands on it."""

import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(os.environ["TOCSIN_BENCH"]).resolve().parents[3]))
# Known only now.
from tests.support.bench import window_bench
from tests.support.people import people_bench


def opened(channel, now_ns):
    """Plug the pad in."""
    people_bench.opened(channel, now_ns)


def tick(channel, now_ns):
    """Press what is due, and write what stands on the window anew."""
    (window_bench if channel.name == "screen" else people_bench).tick(channel, now_ns)
