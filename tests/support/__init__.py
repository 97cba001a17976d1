"""What tests of several rooms share: stands, simulated people, second opinions. Nothing here is a test."""

from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
BENCH = PROJECT / "tests" / "support" / "bench"        # files that run inside a worker, see TOCSIN_BENCH
