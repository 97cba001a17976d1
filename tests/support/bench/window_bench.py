"""The bench file (``TOCSIN_BENCH``) with the virtual pads of ``pads_bench.py``, and a window that people can read.

``TOCSIN_BENCH_WINDOW``: a file that gets a JSON line each time that what stands on the window changes: ``{"at_ns": 0,
"rows": {"prompt": "Press s"}}``, each row whole, however it is broken into lines there. The digits of the clock are
left out: they change all the time.
"""

import json
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(os.environ["TOCSIN_BENCH"]).resolve().parents[3]))
# Known only now.
from tests.support.bench import pads_bench

told = {"look": None, "rows": {}}


def opened(channel, now_ns):
    """Plug the pads in."""
    pads_bench.opened(channel, now_ns)


def tick(channel, now_ns):
    """Do what is due at the pads, and write what stands on the window anew."""
    if channel.name != "screen":
        pads_bench.tick(channel, now_ns)
        return
    if channel.look is None or channel.look is told["look"]:
        return
    told["look"] = channel.look
    rows = {text.name: text.text.replace("\N{NO-BREAK SPACE}", " ") for text in channel.look.texts}
    rows.pop("digits", None)
    if rows != told["rows"]:
        told["rows"] = rows
        with Path(os.environ["TOCSIN_BENCH_WINDOW"]).open("a", encoding="utf-8") as log:
            log.write(json.dumps({"at_ns": now_ns, "rows": rows}) + "\n")
