"""The newest things to know, shown to people for a while: a refusal, a lost device, a mark that was noted."""

from typing import NamedTuple

from tocsin.model.clock.origins import Phase
from tocsin.units import NS_PER_S

LASTS_NS = 8 * NS_PER_S                # long enough to be read between two looks at the robot
BRIEFLY_NS = 2 * NS_PER_S              # what only confirms a key
MOST_EARLIER = 2                       # more are not read
ANSWER = "answer"                      # what a key came to: with the next key it is of no more use


class _Notice(NamedTuple):
    text: str
    until_ns: int
    phase: Phase | None
    replace_key: str

    def holds(self, now_ns: int, phase: Phase) -> bool:
        return now_ns < self.until_ns and self.phase in (None, phase)


class Notices:
    """Keeps sentences until their time is over, until the phase that they are about is, or until another takes their
    place. In a match only the newest shows; in standby, which is read from near by, those before it too."""

    def __init__(self) -> None:
        self._kept: list[_Notice] = []         # the newest first

    def put(
        self, text: str, now_ns: int, lasts_ns: int = LASTS_NS, phase: Phase | None = None, replace_key: str = ""
    ) -> None:
        """Take a sentence; with a ``phase`` it is about what may be done there, and goes with it.

        It takes the place of an earlier one on its ``replace_key``; without one, of its equal only.
        """
        self.drop(replace_key or text)
        self._kept.insert(0, _Notice(text, now_ns + lasts_ns, phase, replace_key or text))
        del self._kept[1 + MOST_EARLIER :]

    def drop(self, replace_key: str) -> None:
        """Keep nothing on a topic any more."""
        self._kept = [notice for notice in self._kept if notice.replace_key != replace_key]

    def at(self, now_ns: int, phase: Phase) -> str:
        """Return the newest sentence if it still holds, or nothing."""
        return self._kept[0].text if self._kept and self._kept[0].holds(now_ns, phase) else ""

    def earlier(self, now_ns: int, phase: Phase) -> tuple[str, ...]:
        """Return those before the newest that still hold, the newest first; in standby only."""
        if phase != "standby":
            return ()
        return tuple(notice.text for notice in self._kept[1:] if notice.holds(now_ns, phase))
