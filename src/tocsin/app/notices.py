"""The newest thing to know, on the faces for a while: a refusal, a lost device, a mark that was noted."""

from tocsin.model.view import Phase
from tocsin.units import NS_PER_S

LASTS_NS = 8 * NS_PER_S                # long enough to be read between two looks at the robot
BRIEFLY_NS = 2 * NS_PER_S              # what only confirms a key


class Notices:
    """Keeps one sentence until the next one, until its time is over, or until the phase that it is about is."""

    def __init__(self) -> None:
        self._text = ""
        self._until_ns = 0
        self._phase: Phase | None = None

    def put(self, text: str, now_ns: int, lasts_ns: int = LASTS_NS, phase: Phase | None = None) -> None:
        """Take a sentence; with a ``phase`` it is about what may be done there, and goes with it."""
        self._text, self._until_ns, self._phase = text, now_ns + lasts_ns, phase

    def at(self, now_ns: int, phase: Phase) -> str:
        """Return what stands on the faces, or nothing."""
        return self._text if now_ns < self._until_ns and self._phase in (None, phase) else ""
