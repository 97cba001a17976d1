"""Talk with the people at the devices: what they are told and asked, and how they leave."""

import contextlib
from collections.abc import Callable, Sequence
from queue import Empty, SimpleQueue

from tocsin.runner.ending import Ending, take_signals
from tocsin.runner.terminal.typed import Typed
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

TURN_NS = 50 * NS_PER_MS
# Letters: all of them may be pressed beside a program that drives a robot (`model.rig.KEYS_BESIDE_ROBOT`).
YES, NO, AGAIN, LEAVE_OUT, LEAVE = "y", "n", "r", "s", "q"
_ALWAYS = tr("{leave} ends", leave=LEAVE)


class LeftError(Exception):
    """A person has left, or the input has ended. Earlier confirmations stay valid."""


class EndedError(Exception):
    """A signal ends the tryout."""

    def __init__(self, ending: Ending) -> None:
        super().__init__(ending.why)
        self.ending = ending


class Dialogue:
    """Says and asks. The ``turn`` of a question is called while it waits; once it returns true, the question is
    dropped."""

    def __init__(self, say: Callable[[str], None]) -> None:
        self.say = say
        self._bell: SimpleQueue[None] = SimpleQueue()
        self.typed = Typed(self.ring)
        self._ending: Ending | None = None

    def start(self) -> None:
        """Take over signals and begin to listen."""
        take_signals(self._end)
        self.typed.start()

    def stop(self) -> None:
        """Give the terminal back."""
        self.typed.stop()

    def ring(self) -> None:
        """Wake the waiting thread. Called from threads and signal handlers."""
        self._bell.put(None)

    def wait(self) -> None:
        """Wait for a wake-up, at most one turn. Raises EndedError once a signal has come."""
        with contextlib.suppress(Empty):
            self._bell.get(timeout=TURN_NS / NS_PER_S)
        if self._ending is not None:
            raise EndedError(self._ending)

    def ask(self, question: str, keys: Sequence[str], turn: Callable[[], bool] = bool) -> str | None:
        """Return which of ``keys`` was the answer, None if the question was dropped. Raises LeftError, EndedError."""
        self.typed.forget()
        self.say(f"{question}; {_ALWAYS}")
        while not turn():
            answer = self.typed.take()
            if answer in keys:
                return answer
            if answer == LEAVE:
                raise LeftError
            if answer is None and self.typed.ended:
                self.say(tr("The input has ended: nobody can answer any more."))
                raise LeftError
            if answer is not None:
                self.say(tr("  that is no answer here: {keys}, or {leave}", keys=", ".join(keys), leave=LEAVE))
                continue
            self.wait()
        return None

    def agree(self, question: str, otherwise: str, turn: Callable[[], bool] = bool) -> bool:
        """Return whether people say yes; ``otherwise`` says what happens on a no."""
        keys = tr("{yes}: yes, {no}: {otherwise}", yes=YES, no=NO, otherwise=otherwise)
        return self.ask(f"{question} {keys}", (YES, NO), turn) == YES

    def _end(self, ending: Ending) -> None:
        self._ending = ending
        self.ring()
