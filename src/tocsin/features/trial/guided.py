"""Guide a measurement that a person begins: cautions, a key, one piece played to its end."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Literal, NamedTuple

from tocsin.config.load import Loaded
from tocsin.features.trial.cue_files import hushed
from tocsin.features.trial.questions import Questions
from tocsin.journal import records
from tocsin.model.clock.origins import Phase
from tocsin.model.timeline.timeline import MATCH, Point
from tocsin.runner.ending import Ending
from tocsin.runner.options import RunOptions
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Piece, Stage
from tocsin.translation import tr

_TERMINAL = "terminal"                   # what plays a screen's cue where there is no window
_QUIET = ("louder", "softer", "mute")     # not while it runs: all signals must stay alike


class PlayedFiring(NamedTuple):
    """A firing with a device call: when it was to land by that call and the rig's latency, in nanoseconds on the shared
    clock, and the same after the begin of the piece. ``device`` is its channel or the role of its pad."""

    cue: str
    device: str
    at_ns: int
    after_ns: int


def played_in(kept: Iterable[records.Record]) -> Iterator[PlayedFiring]:
    """Yield the firings that devices played, without those shown in a terminal only, which draws too slowly to be
    timed."""
    origin_ns = 0
    for record in kept:
        if isinstance(record, records.OriginRecord) and record.anchor == MATCH and record.origin_ns is not None:
            origin_ns = record.origin_ns
        elif isinstance(record, records.FiringRecord) and record.outcome == "played" and record.late_ns is not None:
            after_ns = record.due_ns + record.late_ns
            if record.by != (_TERMINAL,):
                yield PlayedFiring(record.cue, record.role or record.channel, origin_ns + after_ns, after_ns)


class Guided(Programme):
    """Plays one piece and leaves. ``kept`` are its records, none if it was not played to its end; ``absent`` says why
    each missing channel is missing; ``window`` is whether there is one."""

    reloads = False
    of_match = False

    def __init__(
        self,
        files: Loaded,
        options: RunOptions,
        questions: Sequence[str],
        card: Sequence[str],
        begins_by: Literal["start", "yes"] = "start",
        meanwhile: str = "",
        say: Callable[[str], None] | None = None,
    ) -> None:
        """Take what is played, what is asked before, what a person must know, by which key it begins, what they
        have to do meanwhile, and what prints a line where the terminal shows nothing else."""
        super().__init__(files, options)
        self.kept: tuple[records.Record, ...] = ()
        self.absent: dict[str, str] = {}
        self.window = False
        self._cautions = Questions(questions)
        self._card = tuple(card)
        self._begins_by = begins_by
        self._meanwhile = meanwhile
        self._say = say

    def piece(self, plan_no: int) -> Piece:
        """Return the piece; the screen shows nothing that tells when its signals come."""
        found = self._files.plans[plan_no]
        return Piece(self._files, hushed(found.timeline), found.plan.patterns, Point(MATCH, 0), {})

    def turn(self, stage: Stage, now_ns: int) -> None:
        """Leave if nobody can answer the questions; the terminal says once where they are asked."""
        if not stage.front.opened:
            return
        if self._say is not None:
            if stage.has_window and not stage.front.in_terminal:
                self._say(tr("The window shows it.") if not stage.by_key else tr("The window asks."))
            self._say = None
        self.leave_if_deserted(stage)

    def card(self, now_ns: int) -> tuple[str, ...]:
        """Return what a person must know before it begins."""
        return self._card

    def ask(self, stage: Stage, phase: Phase) -> str:
        """Return the question or the key that is due."""
        if phase != "standby":
            return tr("That was all") if phase == "over" else self._meanwhile
        key = stage.keymap.key_for(self._begins_by)
        return self._cautions.ask(stage.keymap) or tr("Press {key}: begin", key=key)

    def keys(self, phase: Phase) -> tuple[tuple[str, str], ...]:
        """Return the keys for what is due."""
        if phase != "standby":
            return ()
        answers = (("yes", "yes"), ("no", "no")) if self._cautions.open else ()
        begin = (("yes", "begin"),) if not self._cautions.open and self._begins_by == "yes" else ()
        return (*answers, *begin, ("softer", "softer"), ("louder", "louder"))

    def act(self, action: str, stage: Stage, now_ns: int) -> Outcome | None:
        """Take an answer; begin by the start key once all are given."""
        if stage.match.lifecycle.phase != "standby":
            return Done() if action in _QUIET else None
        if action in ("yes", "no") and self._cautions.open:
            return self._cautions.answer(action, now_ns)
        if action == self._begins_by:
            if self._cautions.open:
                return Refused(tr("answer the questions first"))
            return stage.match.start_now(now_ns)
        return None

    def take_notes(self) -> list[records.Note]:
        """Return the answers to the questions before the begin."""
        return self._cautions.take_notes()

    def ended(self, stage: Stage, ending: Ending, now_ns: int) -> tuple[str, ...]:
        """Keep the records, and leave."""
        states = stage.device_states
        self.absent = {
            channel: states.why(channel) or states.state(channel)
            for channel in stage.channels
            if states.state(channel) != "ready"
        }
        self.window = stage.has_window
        if ending.outcome == "over":
            self.kept = tuple(stage.match.record.kept)
        stage.leave("measured")
        return ()
