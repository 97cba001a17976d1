"""Keep the newest notices for people for a while: a refusal, a lost device, a noted mark."""

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
    here: bool                             # of keys of the laptop: no board shows it

    def holds(self, now_ns: int, phase: Phase) -> bool:
        return now_ns < self.until_ns and self.phase in (None, phase)


class Notices:
    """Keeps sentences until their time is over, until their phase is over, or until another replaces them. In a match
    only the newest shows; in standby, where people have time to read, the earlier ones too."""

    def __init__(self) -> None:
        self._kept: list[_Notice] = []         # the newest first

    def put(
        self, text: str, now_ns: int, lasts_ns: int = LASTS_NS, phase: Phase | None = None, replace_key: str = "",
        *, here: bool = False,
    ) -> None:  # fmt: skip
        """Add a sentence; with a ``phase`` it ends with that phase; one that is for ``here`` no board shows.

        It replaces an earlier one with the same ``replace_key``; without a key, only an equal sentence.
        """
        self.drop(replace_key or text)
        self._kept.insert(0, _Notice(text, now_ns + lasts_ns, phase, replace_key or text, here))
        del self._kept[1 + MOST_EARLIER :]

    def drop(self, replace_key: str) -> None:
        """Drop the notice with a key."""
        self._kept = [notice for notice in self._kept if notice.replace_key != replace_key]

    def at(self, now_ns: int, phase: Phase, *, afar: bool = False) -> str:
        """Return the newest sentence if it is still valid, or an empty text; ``afar`` the newest for boards."""
        newest = next((notice for notice in self._kept if not (afar and notice.here)), None)
        return newest.text if newest is not None and newest.holds(now_ns, phase) else ""

    def earlier(self, now_ns: int, phase: Phase) -> tuple[str, ...]:
        """Return the valid ones before the newest, the newest first; in standby only."""
        if phase != "standby":
            return ()
        return tuple(notice.text for notice in self._kept[1:] if notice.holds(now_ns, phase))
