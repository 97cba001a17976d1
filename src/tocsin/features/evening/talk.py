"""Ask and tell at the terminal, between what fills it: single keys, and lines where a name is to be typed."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from tocsin.features.devices.tryout.people import Dialogue, EndedError
from tocsin.runner.ending import Ending, heard, take_signals

Say = Callable[[str], None]
ReadLine = Callable[[str], str]


class Talk:
    """``say`` prints a line; ``read_line`` prints a question and returns the typed line, raising EOFError at the end of
    the input."""

    def __init__(self, say: Say, read_line: ReadLine) -> None:
        self.say = say
        self._read_line = read_line

    @contextmanager
    def dialogue(self) -> Iterator[Dialogue]:
        """Yield what reads keys, for several questions and what devices do between them. Raises EndedError."""
        _demand_quiet()
        people = Dialogue(self.say)
        people.start()
        try:
            yield people
        finally:
            people.stop()

    def key(self, question: str, keys: Sequence[str]) -> str:
        """Return which key was the answer. Raises LeftError for the key that leaves, EndedError for a signal."""
        with self.dialogue() as people:
            return people.ask(question, keys) or ""

    def line(self, question: str) -> str:
        """Return a typed line, empty for none. Raises EndedError for a signal."""
        _demand_quiet()
        take_signals(_end)
        try:
            return self._read_line(question)
        except EOFError:
            return ""
        finally:
            take_signals(_ignore)              # until the next question: it hears of what came meanwhile


def _demand_quiet() -> None:
    if ending := heard():
        raise EndedError(ending)


def _end(ending: Ending) -> None:
    raise EndedError(ending)


def _ignore(ending: Ending) -> None:
    """Leave it to the next question."""
