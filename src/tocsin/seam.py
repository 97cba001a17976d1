"""The one seam for tests, ``TOCSIN_BENCH=file.py``: set by whoever starts Tocsin, and by no file that it reads."""

import os


def bench_file() -> str:
    """Return the path of the bench file, or an empty text; only test benches set it."""
    return os.environ.get("TOCSIN_BENCH", "")
