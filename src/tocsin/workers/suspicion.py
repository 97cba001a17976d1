"""Decide whether a silent worker hangs: silence only raises suspicion, the system's data on the process decides.

On a busy laptop a healthy worker is silent too, since it waits for the processor, and killing it would lose its cues. A
worker hangs if

* it was stopped (a signal, a debugger), or
* it waits for a third of a second without being woken once, where a healthy one wakes at least every 50 ms, however
  busy the machine is (waiting for the processor does not count as waiting here), or
* it uses a second of its own processor time without a message, however long that takes, or
* it wakes again and again, each time for less than a millisecond, and sends nothing for two seconds: a healthy worker
  that others interrupt runs for longer each time.

A process that waits inside the system, mostly for a disk, gets five seconds. If the system cannot tell waiting for the
processor from sleeping (Windows, macOS; from memory), a worker whose processor time stands still hangs once this
process has been on time for three seconds on end meanwhile: a machine that stalls would stall both.
"""

from typing import Literal

import msgspec

from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

SLICE_NS = 100 * NS_PER_MS             # the most that one turn of this process adds; a longer one was late itself
STILL_NS = 300 * NS_PER_MS
INSIDE_NS = 5 * NS_PER_S
UNTOLD_NS = 3 * NS_PER_S
BURNT_NS = NS_PER_S
WOKEN_NS = 2 * NS_PER_S
_WAKE_NS = NS_PER_MS                   # that is no more than a look whether there is something to do
_WAKES = 50                            # in that time; a healthy worker wakes twenty times a second and more

STOPPED = tr("was stopped")                # it cannot come back by itself

State = Literal["stopped", "waiting", "inside", "untold"]


class Evidence(msgspec.Struct, frozen=True):
    """The system's data on a process.

    ``switches`` is how often it has given the processor up or lost it. ``state`` is "waiting" for something that wakes
    it, "inside" a system call that nothing interrupts, "stopped", or "untold": running, waiting for the processor, or
    unknown.
    """

    cpu_ns: int
    switches: int
    state: State


class Suspicion:
    """One worker's silence so far."""

    def __init__(self) -> None:
        self.heard()

    def heard(self) -> None:
        """Take a message, which ends the silence."""
        self.silent_ns = 0
        self._first: Evidence | None = None
        self._last: Evidence | None = None
        self._still_ns: dict[State, int] = {}
        self._weighed_ns = 0

    def pass_by(self, passed_ns: int) -> None:
        """Let time pass; a turn in which this process itself was late counts only in part."""
        self.silent_ns += min(passed_ns, SLICE_NS)

    def weigh(self, evidence: Evidence | None, passed_ns: int, burnt_ns: int = BURNT_NS) -> str:
        """Return why the worker hangs, in words that follow "worker", or an empty text while it may be healthy.

        ``passed_ns`` is the time since the last evidence, ``burnt_ns`` how much processor time it may use without a
        message.
        """
        if evidence is None:
            return ""
        if evidence.state == "stopped":
            return STOPPED
        if self._first is None or self._last is None:
            self._first = self._last = evidence
            return ""
        moved = (evidence.cpu_ns, evidence.switches) != (self._last.cpu_ns, self._last.switches)
        self._last = evidence
        self._weighed_ns += min(passed_ns, SLICE_NS)
        if moved:
            self._still_ns.clear()
        else:
            self._stand_still(evidence.state, passed_ns)
        return self._why(evidence, self._first, burnt_ns)

    def _stand_still(self, state: State, passed_ns: int) -> None:
        if state == "untold" and passed_ns > SLICE_NS:
            self._still_ns.clear()                 # the machine stalls: nothing can be told
            return
        self._still_ns[state] = self._still_ns.get(state, 0) + min(passed_ns, SLICE_NS)

    def _why(self, evidence: Evidence, first: Evidence, burnt_ns: int) -> str:
        limits: tuple[tuple[State, int], ...] = (("waiting", STILL_NS), ("inside", INSIDE_NS), ("untold", UNTOLD_NS))
        if any(self._still_ns.get(state, 0) >= limit_ns for state, limit_ns in limits):
            return tr("stands still")
        switches, cpu_ns = evidence.switches - first.switches, evidence.cpu_ns - first.cpu_ns
        if cpu_ns >= burnt_ns:
            return tr("uses the processor ({cpu:.1f} s), gives no answer", cpu=cpu_ns / NS_PER_S)
        woken = switches >= _WAKES and cpu_ns < switches * _WAKE_NS
        if self._weighed_ns >= WOKEN_NS and woken and evidence.state == "waiting":
            return tr("wakes again and again, no answer")
        return ""
