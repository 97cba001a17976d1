"""Whether a silent worker hangs: silence only raises suspicion, what the system tells of the process decides.

On a busy laptop a healthy worker is silent too, since it waits for the processor, and killing it would lose its cues.
It hangs if

* it was stopped (a signal, a debugger), or
* it waits for something for a third of a second without once being woken, where a healthy one wakes every 50 ms at
  least, however busy the machine is: what waits for the processor is no longer waiting in this sense, or
* it burns a second of its own processor time without a word, however long that takes, or
* it wakes again and again, each time for less than a millisecond, and yet says nothing for two seconds: what computes
  and is pushed aside by others again and again takes longer slices.

A process that waits inside the system, mostly for a disk, is given five seconds. Where the system does not tell what
waits for the processor from what sleeps (Windows, macOS; from memory), one whose processor time stands still hangs once
this process has been on time for three seconds on end meanwhile: a machine that stalls stalls both.
"""

from typing import Literal

import msgspec

from tocsin.units import NS_PER_MS, NS_PER_S

SLICE_NS = 100 * NS_PER_MS             # the most that one turn of this process adds; a longer one was late itself
STILL_NS = 300 * NS_PER_MS
INSIDE_NS = 5 * NS_PER_S
UNTOLD_NS = 3 * NS_PER_S
BURNT_NS = NS_PER_S
WOKEN_NS = 2 * NS_PER_S
_WAKE_NS = NS_PER_MS                   # that is no more than a look whether there is something to do
_WAKES = 50                            # in that time; a healthy worker wakes twenty times a second and more

STOPPED = "was stopped"                # it cannot come back by itself

State = Literal["stopped", "waiting", "inside", "untold"]


class Evidence(msgspec.Struct, frozen=True):
    """What the system tells of a process.

    ``switches`` is how often it has given the processor up or lost it. ``state`` is "waiting" for something that wakes
    it, "inside" a call of the system that nothing interrupts, "stopped", or "untold": running, waiting for the
    processor, or not known.
    """

    cpu_ns: int
    switches: int
    state: State


class Suspicion:
    """One worker's silence so far."""

    def __init__(self) -> None:
        self.heard()

    def heard(self) -> None:
        """Take a sign of life."""
        self.silent_ns = 0
        self._first: Evidence | None = None
        self._last: Evidence | None = None
        self._still_ns: dict[State, int] = {}
        self._weighed_ns = 0

    def pass_by(self, passed_ns: int) -> None:
        """Let time pass; of a turn in which this process was late itself only a part counts."""
        self.silent_ns += min(passed_ns, SLICE_NS)

    def weigh(self, evidence: Evidence | None, passed_ns: int, burnt_ns: int = BURNT_NS) -> str:
        """Return why the worker hangs, in words that follow "worker", or nothing as long as it may be healthy.

        ``passed_ns`` is how long ago the last evidence was taken, ``burnt_ns`` how much processor time it may use
        without a word.
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
            return "stands still"
        switches, cpu_ns = evidence.switches - first.switches, evidence.cpu_ns - first.cpu_ns
        if cpu_ns >= burnt_ns:
            return f"burns processor time ({cpu_ns / NS_PER_S:.1f} s) without a word"
        woken = switches >= _WAKES and cpu_ns < switches * _WAKE_NS
        if self._weighed_ns >= WOKEN_NS and woken and evidence.state == "waiting":
            return "wakes again and again without a word"
        return ""
