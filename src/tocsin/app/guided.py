"""A measurement that a person begins: cautions, the start key, one piece that is played to its end, and no more."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from tocsin import monotime
from tocsin.app.cautions import Cautions
from tocsin.app.ending import Ending
from tocsin.app.options import RunOptions
from tocsin.app.programme import Piece, Programme
from tocsin.app.react_block import hushed
from tocsin.config.load import Loaded
from tocsin.journal import records
from tocsin.model.timeline import MATCH, Point
from tocsin.model.view import Phase

if TYPE_CHECKING:
    from tocsin.app.conductor import Conductor

_QUIET = ("louder", "softer", "mute")     # not while it runs: all signals must stay alike


class Guided(Programme):
    """Plays one piece and leaves. ``kept`` are its records, none if it was not played to its end; ``absent`` says of
    each channel that is not there why; ``window`` is whether there is one; ``deserted``: nobody could press a key."""

    reloads = False

    def __init__(self, files: Loaded, options: RunOptions, questions: Sequence[str], card: Sequence[str]) -> None:
        super().__init__(files, options)
        self.kept: tuple[records.Record, ...] = ()
        self.absent: dict[str, str] = {}
        self.window = self.deserted = False
        self._cautions = Cautions(questions)
        self._card = tuple(card)

    def piece(self, plan_no: int) -> Piece:
        """Return the piece; no face can tell when its signals come."""
        found = self._files.plans[plan_no]
        self.newest = Piece(hushed(found.timeline), found.plan.patterns, Point(MATCH, 0), {})
        return self.newest

    def turn(self, conductor: "Conductor", now_ns: int) -> None:
        """Leave where nobody can answer the questions."""
        if conductor.by_key and conductor.faces.opened and not conductor.faces.interactive and not self.deserted:
            self.deserted = True
            conductor.leave("nobody can press a key")

    def card(self) -> tuple[str, ...]:
        """Return what a person must know before it begins."""
        return self._card

    def ask(self, conductor: "Conductor", phase: Phase) -> str:
        """Return the question or the key that is due."""
        if phase != "standby":
            return ""
        key = conductor.actions.keymap.key_for("start")
        return self._cautions.ask(conductor.actions.keymap) or f"Press {key}: begin"

    def keys(self, phase: Phase) -> tuple[tuple[str, str], ...]:
        """Return the keys for what is due."""
        if phase != "standby":
            return ()
        answers = (("yes", "yes"), ("no", "no")) if self._cautions.open else ()
        return (*answers, ("softer", "softer"), ("louder", "louder"))

    def act(self, action: str, conductor: "Conductor") -> str | None:
        """Take an answer; begin by the start key once all are given."""
        if conductor.match.lifecycle.phase != "standby":
            return "" if action in _QUIET else None
        if action in ("yes", "no"):
            return self._cautions.answer(action)
        if action == "start":
            if self._cautions.open:
                return "answer the questions first"
            return conductor.match.start_now(monotime.now_ns())
        return None

    def take_notes(self) -> list[records.Note]:
        """Return what was answered before it began."""
        return self._cautions.take_notes()

    def ended(self, conductor: "Conductor", ending: Ending) -> tuple[str, ...]:
        """Keep what was recorded, and leave."""
        board = conductor.board
        self.absent = {
            channel: board.why(channel) or board.state(channel)
            for channel in conductor.channels
            if board.state(channel) != "ready"
        }
        self.window = "screen" in conductor.supervision.channels and board.state("screen") == "ready"
        if ending.outcome == "over":
            self.kept = tuple(conductor.match.record.kept)
        conductor.leave("measured")
        return ()
