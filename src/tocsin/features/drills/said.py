"""What people say and do around the rounds of a drill: answers and notes, for the journals of these rounds."""

import contextlib
from pathlib import Path

from tocsin.config.drills import LoadedDrill
from tocsin.errors import JournalError
from tocsin.features.records.round_files import ENDED, Session, append_note
from tocsin.features.trial.questions import Questions, of_signals
from tocsin.journal import records
from tocsin.journal.answers import Answers
from tocsin.runner.options import RunOptions
from tocsin.runner.stage import Stage
from tocsin.translation import tr


class Said:
    """The questions before the rounds, and the notes for the journal of the round that comes. ``earlier`` is the folder
    of the last round of an earlier life, if there was one; ``asks``: there was something to ask before the first.
    ``pauses``: whoever leaves with rounds to come goes on with them later, and has not ended the drill."""

    def __init__(self, questions: Questions, earlier: Path | None, *, pauses: bool) -> None:
        self.questions = questions
        self.pauses = pauses
        self.asks = questions.open         # else the answers of the evening hold
        self._earlier = earlier
        self._notes: list[records.Note] = []

    def note(self, what: str, text: str, now_ns: int, source: str = "") -> None:
        """Note something for the journal of the round that comes; ``source`` is the board that wished it."""
        self._notes.append(records.Note(at_ns=now_ns, what=what, text=text, source=source))

    def take_notes(self) -> list[records.Note]:
        """Return what was said and done since the last round."""
        notes, self._notes = [*self.questions.take_notes(), *self._notes], []
        return sorted(notes, key=lambda note: note.at_ns)

    def append(self, stage: Stage, what: str, text: str, now_ns: int) -> None:
        """Append a note to the journal of the round that has ended, if there is one."""
        self._append(stage, records.Note(at_ns=now_ns, what=what, text=text, source=stage.wished_by))

    def leave(self, stage: Stage, now_ns: int, *, to_come: bool) -> None:
        """Append what was said since the round that has ended to its journal, and that the drill ends, unless it pauses
        with rounds ``to_come``."""
        for note in self.take_notes():
            self._append(stage, note)
        if not (to_come and self.pauses):
            self.append(stage, ENDED, tr("ended early") if to_come else tr("all rounds played"), now_ns)

    def farewell(self, *, to_come: bool) -> str:
        """Return whether the drill is over, as a sentence for boards."""
        if not to_come:
            return tr("The drill is over: all rounds are played")
        return tr("The drill is paused") if self.pauses else tr("The drill has ended early")

    def _append(self, stage: Stage, note: records.Note) -> None:
        folder = stage.last_folder or self._earlier
        if folder is not None:
            with contextlib.suppress(JournalError):     # the disk is full: the run's own summary has said so
                append_note(folder, note)


def questions_of(found: LoadedDrill, options: RunOptions, session: Session, answers: Answers | None) -> Questions:
    """Return what is asked before the first round: the drill's own questions, those on a bench for this drill alone,
    since they are of what was set up for it; and, once an evening, of light and loudness."""
    result = Questions(found.drill.questions, answers, session.key if found.drill.place == "bench" else "")
    if answers is not None:
        result.add(of_signals(channel for channel in found.files.rig.channels if channel in options.only))
    return result
