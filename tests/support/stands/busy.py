"""How much a stand may be late itself on a busy machine."""

import psutil


def allowed(ms: float) -> float:
    """Return a bound in milliseconds for what a stand stamps: as it is where each processor has at most two things to
    do, and wider by as much as there is more."""
    per_processor = psutil.getloadavg()[0] / (psutil.cpu_count() or 1)
    return ms * max(1.0, per_processor / 2)
