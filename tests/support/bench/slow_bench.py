"""The bench file (``TOCSIN_BENCH``) that holds one channel's worker up, as a slow driver would.

``TOCSIN_BENCH_SLOW``: the channel; each of its ticks takes ``TOCSIN_BENCH_SLOW_MS`` milliseconds.
"""

import os
import time

slow_channel = os.environ["TOCSIN_BENCH_SLOW"]
slow_s = int(os.environ["TOCSIN_BENCH_SLOW_MS"]) / 1000


def tick(channel, now_ns):
    """Hold the worker up."""
    if channel.name == slow_channel:
        time.sleep(slow_s)
