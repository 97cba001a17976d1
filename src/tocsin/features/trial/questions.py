"""Ask the questions that a person answers before anything lights up, shakes or sounds without warning."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from tocsin.journal import records
from tocsin.journal.answers import Answers
from tocsin.model.plan import ChannelName
from tocsin.runner.keymap import Keymap
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.translation import tr

# Asked so that yes means that it may begin, as to all other questions here: people press one key after another.
FLASHES = tr("Signals fill screen and strip without warning: ask all. Is flashing light safe for everybody here?")
_TRIES = tr(" ({key} tries it)")
LOUDNESS = tr("Signals sound without warning. Is the sound so low that nobody jumps{tries}?", tries=_TRIES)
SOMEBODY_NEW = tr("Somebody is new tonight. ")
ROBOT_OFF = tr("Is the robot off, so that no pad here can move it?")


class Questions:
    """Questions in order; each needs a yes before the next one comes. Those that were answered tonight, for all who are
    here, are not asked."""

    def __init__(self, questions: Sequence[str], answers: Answers | None = None, session: str = "") -> None:
        """Take the questions, the answers of the evening (None: all are asked) and the drill that those hold for
        alone, empty for the evening."""
        self._due: list[Due] = []
        self._answers = answers
        self._notes: list[records.Note] = []
        self.add(questions, session)

    def add(self, questions: Sequence[str], session: str = "", *, anew: bool = False) -> None:
        """Ask these too, behind the others; ``anew`` also those that were answered tonight."""
        known = [] if self._answers is None or anew else [q for q in questions if self._answers.known(q, session)]
        self._due += [Due(question, session) for question in questions if question not in known]

    def put_first(self, question: str) -> None:
        """Ask this before the others, whatever was answered tonight; its answer is not kept."""
        self._due.insert(0, Due(question, None))

    @property
    def open(self) -> bool:
        """Whether a question waits for its answer."""
        return bool(self._due)

    def question(self, keymap: Keymap | None = None) -> str:
        """Return the due question, an empty text once all are answered; it says if only somebody new is meant. Without
        a ``keymap`` it names no key."""
        if not self.open:
            return ""
        due = self._due[0]
        kept = None if due.session is None else self._answers
        new = kept is not None and kept.asked_others(due.question, due.session or "")
        asked = without_key(due.question)
        if keymap is not None:
            asked = due.question.replace("{key}", keymap.key_for("preflight"))
        return (SOMEBODY_NEW if new else "") + asked

    def ask(self, keymap: Keymap) -> str:
        """Return the due question with its keys; an empty text once all are answered."""
        if not self.open:
            return ""
        key = keymap.key_for
        return tr("{question} {key}: yes, {key_2}: no", question=self.question(keymap), key=key("yes"), key_2=key("no"))

    def answer(self, answer: str, now_ns: int) -> Outcome:
        """Take "yes" or "no" for the due question; after a "no" it stays due."""
        if not self.open:
            return Done()
        due = self._due[0]
        text = f"{without_key(due.question)} {answer}"
        self._notes.append(records.Note(at_ns=now_ns, what="safety", text=text))
        if answer == "no":
            return Refused(tr("nothing begins yet: fix it, then answer yes"))
        self._due.pop(0)
        if self._answers is not None and due.session is not None:
            self._answers.keep(due.question, due.session)
        return Done()

    def take_notes(self) -> list[records.Note]:
        """Return the answers since the last call, for a journal."""
        notes, self._notes = self._notes, []
        return notes


class Due(NamedTuple):
    """A question to be asked, and the drill that its answer holds for, empty for the evening; None: it is not kept."""

    question: str
    session: str | None


def of_signals(channels: Iterable[ChannelName]) -> tuple[str, ...]:
    """Return what is asked once an evening before signals come on these channels."""
    there = frozenset(channels)
    return (*([FLASHES] if there & {"screen", "light"} else []), *([LOUDNESS] if "sound" in there else []))


def without_key(question: str) -> str:
    """Return a question without the key that tries it."""
    return question.replace(_TRIES, "")
