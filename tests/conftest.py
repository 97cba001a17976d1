"""For all tests: random examples are given the time that they take, since the machine may be busy; and strips hang on
pseudo-terminals, which count as ports on a test bench only."""

import os
from pathlib import Path

from hypothesis import HealthCheck, settings

settings.register_profile("tocsin", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("tocsin")

os.environ.setdefault("TOCSIN_BENCH", str(Path(__file__).parent / "bench" / "bare_bench.py"))
