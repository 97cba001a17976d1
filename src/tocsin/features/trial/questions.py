"""Ask the questions that a person answers before anything lights up, shakes or sounds without warning."""

from collections.abc import Sequence

from tocsin.journal import records
from tocsin.runner.keymap import Keymap
from tocsin.runner.outcome import Done, Outcome, Refused

FLASHES = "Signals fill screen and strip without warning. Is nobody here harmed by flashing light?"
LOUDNESS = "Signals sound without warning. Is the sound so low that nobody jumps ({key} tries it)?"
ROBOT_OFF = "Is the robot off, so that no pad here can move it?"


class Questions:
    """Questions in order; each needs a yes before the next one comes."""

    def __init__(self, questions: Sequence[str]) -> None:
        self._questions = tuple(questions)
        self._answered = 0
        self._notes: list[records.Note] = []

    @property
    def open(self) -> bool:
        """Whether a question waits for its answer."""
        return self._answered < len(self._questions)

    def ask(self, keymap: Keymap) -> str:
        """Return the due question with its keys; an empty text once all are answered."""
        if not self.open:
            return ""
        key = keymap.key_for
        question = self._questions[self._answered].format(key=key("preflight"))
        return f"{question} {key('yes')}: yes, {key('no')}: no"

    def answer(self, answer: str, now_ns: int) -> Outcome:
        """Take "yes" or "no" for the due question; a "no" stops the measurement."""
        if not self.open:
            return Done()
        question = self._questions[self._answered].partition(" (")[0].rstrip("?") + "?"
        self._notes.append(records.Note(at_ns=now_ns, what="safety", text=f"{question} {answer}"))
        if answer == "no":
            return Refused("nothing begins before that is so: fix it, then answer yes")
        self._answered += 1
        return Done()

    def take_notes(self) -> list[records.Note]:
        """Return the answers since the last call, for a journal."""
        notes, self._notes = self._notes, []
        return notes
