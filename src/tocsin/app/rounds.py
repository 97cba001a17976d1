"""The rounds of a drill as a programme: questions, field clear, a round, its result, the next.

No round begins by a timer: before each a person says that the field is clear, and a person presses start. Before the
first round, and after each new battery, the safety questions are asked; the next round's journal has the answers.
"""

import contextlib
from collections.abc import Sequence
from enum import Enum, auto
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from tocsin import monotime
from tocsin.app.ending import Ending
from tocsin.app.options import ROUND, RunOptions
from tocsin.app.programme import Piece, Programme
from tocsin.app.round_files import DROPPED, ENDED, REPEATED, RoundFacts, Session, append_note, take_back_newest
from tocsin.app.round_report import RoundReport, report_of, series_lines, series_rows
from tocsin.config.drills import LoadedDrill
from tocsin.errors import JournalError
from tocsin.journal import records
from tocsin.model.compiler import compile_plan
from tocsin.model.timeline import MATCH, Point, Timeline
from tocsin.model.view import Phase
from tocsin.rehearsal.variation import Condition, conditions, varied
from tocsin.units import NS_PER_S

if TYPE_CHECKING:
    from tocsin.app.conductor import Conductor

CREWS = ("A", "B", "C")
REASONS = ("wrong set-up", "robot or field failed", "start or marks wrong")
_NO_BREAK = "\N{NO-BREAK SPACE}"


class Step(Enum):
    """What the drill waits for."""

    QUESTIONS = auto()
    CLEAR = auto()
    START = auto()                         # all said: the start key begins the round
    RESULT = auto()                        # the round has ended
    REASON = auto()                        # the round is to be dropped: why?


# What must wait for a round's result, or the round would be lost.
_AFTER_THE_RESULT = ("start", "leave", "repeat", "drop", "clear", "crew", "battery")


class Rounds(Programme):
    """Plays the rounds of a drill, one journal each, until all are played or a person leaves."""

    results_stand = True
    reloads = False                        # all rounds of a drill are of one plan

    def __init__(
        self,
        found: LoadedDrill,
        options: RunOptions,
        session: Session,
        past: tuple[RoundReport, ...] = (),
        earlier: Path | None = None,
    ) -> None:
        """Take a drill and where it stands; ``past`` and ``earlier`` are the rounds of an earlier life and the folder
        of the last of them."""
        super().__init__(found.files, options)
        self._drill = found.drill
        self._found = found.files.plans[0]
        self._rounds = conditions(found.drill, session.seed)
        self._reports = list(past)
        self._answered = 0
        self._notes: list[records.Note] = []
        self._step = Step.QUESTIONS if found.drill.questions else Step.CLEAR
        self._lost: tuple[str, ...] = ()
        self._earlier = earlier
        self._rested_ns: int | None = None         # when the rest after the newest round is over
        self.session = session

    # -- what is played

    def piece(self, plan_no: int) -> Piece:
        """Return the next round, its plan varied as its condition says."""
        condition = self._condition
        timeline, mistakes = compile_plan(self._found.game, varied(self._found.plan, self._drill, condition))
        if timeline is None:
            raise ValueError(f"round {condition.number} does not compile: {mistakes[0].code}")
        facts = RoundFacts(
            name=self.session.name, key=self.session.key, seed=self.session.seed, round=condition.number,
            crew=self.session.crew, battery=self.session.on_battery, half_speed=condition.half_speed,
            condition=msgspec.to_builtins(condition),
        )  # fmt: skip
        self.newest = Piece(
            timeline, self._found.plan.patterns, self._begin(timeline, condition), {ROUND: msgspec.to_builtins(facts)},
            condition.late_start_ns, self._found.plan,
        )  # fmt: skip
        return self.newest

    @property
    def finished(self) -> bool:
        """Whether all rounds have been played."""
        return self.session.place >= len(self._rounds)

    @property
    def _condition(self) -> Condition:
        condition = self._rounds[min(self.session.place, len(self._rounds) - 1)]
        if self._files.rig.start.by == "count_in":
            return condition
        return msgspec.structs.replace(condition, late_start_ns=0)      # nothing is counted that it could lag behind

    def _begin(self, timeline: Timeline, condition: Condition) -> Point:
        if self._drill.begin is None:
            return Point(MATCH, 0)
        point = timeline.locate(self._drill.begin)
        return Point(point.anchor, point.offset_ns - condition.earlier_ns)

    # -- what people see

    def card(self) -> tuple[str, ...]:
        """Return what the crew must know before the round; what is to surprise them is not told."""
        if self._step is Step.QUESTIONS:
            return (f"{self._drill.name}: {self._drill.trains}", *self._drill.safely)
        condition = self._condition
        battery = (f"battery had {_rounds(self.session.on_battery)}",) if self.session.on_battery else ()
        lines = [
            _parts(f"Round {condition.number} of {len(self._rounds)}", f"crew {self.session.crew}", *battery)
        ]
        if condition.half_speed:
            lines.append("HALF SPEED, not counted")
        if condition.setup:
            lines.append(f"Set-up: {condition.setup}")
        if condition.coach:
            lines.append(f"Coach: {condition.coach}")
        if condition.draw_out:
            lines.append(f"Without {condition.draw_out}")
        if rest_ns := max(0, (self._rested_ns or 0) - monotime.now_ns()):
            lines.append(f"Rest: {-(-rest_ns // NS_PER_S)} s more for people and motors. Nothing begins by itself")
        return (*lines, *series_rows(self._reports, self._drill, self._left))

    def ask(self, conductor: "Conductor", phase: Phase) -> str:
        """Return the question or the key that is due."""
        key = conductor.actions.keymap.key_for
        match self._step:
            case Step.QUESTIONS:
                question = self._drill.questions[self._answered]
                return f"{question} {_parts(key('yes') + ': yes', key('no') + ': no')}"
            case Step.CLEAR:
                return f"Nobody on the field? {_parts('Press ' + key('clear') + '.')} {_parts('Tocsin is no stop')}"
            case Step.REASON:
                reasons = (f"{key(f'plan.{n}')}: {reason}" for n, reason in enumerate(REASONS))
                return f"Why not? {_parts(*reasons)}"
            case Step.RESULT:
                last = self.session.place + 1 >= len(self._rounds)
                return f"Press {key('start')}: {'end of the drill' if last else 'next round'}"
        return {"over": "The result comes", "scrapped": "This round is played again"}.get(phase, "")

    def result(self) -> tuple[str, ...]:
        """Return how the newest round went, by the marks that hold now."""
        if not self._reports or self._step not in (Step.RESULT, Step.REASON):
            return ()
        rows = self._reports[-1].rows
        if self._step is Step.REASON:
            return rows[:1]
        return (*rows, *self._lost, *series_rows(self._reports, self._drill, self._left))

    def series(self) -> tuple[str, ...]:
        """Return the whole series in full sentences."""
        return series_lines(self._reports, self._drill, self._left)

    @property
    def _left(self) -> int:
        """How many rounds are still to come."""
        return len(self._rounds) - self.session.place - (self._step in (Step.RESULT, Step.REASON))

    def refuses_start(self) -> str:
        """Return what has to be said before a round may start."""
        match self._step:
            case Step.QUESTIONS:
                return "answer the safety questions first"
            case Step.CLEAR:
                return "say first that the field is clear"
            case _:
                return ""

    def keys(self, phase: Phase) -> tuple[tuple[str, str], ...]:
        """Return the drill's own keys for what is due."""
        if phase in ("running", "waiting", "held"):
            return (("undo", "take mark back"),)
        match self._step:
            case Step.QUESTIONS:
                return (("yes", "yes"), ("no", "no"))
            case Step.CLEAR | Step.START if phase == "standby":
                return (("clear", "field clear"), ("crew", "next crew"), ("battery", "new battery"))
            case Step.RESULT:
                return (("repeat", "play it again"), ("drop", "do not count it"), ("undo", "take mark back"))
            case Step.REASON:
                return (("drop", "count it after all"),)
            case _:
                return ()

    # -- what people do

    def act(self, action: str, conductor: "Conductor") -> str | None:
        """Carry out a drill's own action."""
        phase = conductor.match.lifecycle.phase
        if phase in ("running", "waiting", "held"):
            return None
        if phase == "over" and self._step not in (Step.RESULT, Step.REASON) and action in _AFTER_THE_RESULT:
            return "the round rings out: its result comes at once"
        match action:
            case "yes" | "no":
                return self._answer(action)
            case "clear":
                return self._field_clear()
            case "crew" | "battery":
                return self._change(action, conductor)
            case "repeat":
                return self._again(conductor)
            case "drop":
                return self._drop()
            case "undo" if self._step in (Step.RESULT, Step.REASON):
                return self._undo(conductor)
            case "start" if self._step in (Step.RESULT, Step.REASON):
                self._next(conductor)
                return None
            case "leave":
                self._leave(conductor)
                return None
        if action.startswith("plan."):
            return self._reason(int(action.removeprefix("plan.")), conductor)
        return None

    def ended(self, conductor: "Conductor", ending: Ending) -> tuple[str, ...]:
        """Tell how the round went. A round that was scrapped is played again, from the field clear on."""
        match = conductor.match
        if ending.outcome != "over":
            self._step = Step.CLEAR
            conductor.actions.wants_next = True
            conductor.notice("scrapped: the round is played again")
            return ()
        self._step = Step.RESULT
        self._rested_ns = monotime.now_ns() + self._drill.rest_ns
        self._reports.append(self._report(match.record.kept, match.timeline))
        self.session.on_battery += 1
        firings = [record for record in match.record.kept if isinstance(record, records.Firing)]
        failed = {firing.channel for firing in firings if firing.outcome == "failed"}
        self._lost = tuple(f"The {channel} failed to give a call: look after it." for channel in sorted(failed))
        return self.result()

    def _report(self, run: Sequence[records.Record], timeline: Timeline) -> RoundReport:
        return report_of(run, timeline, self._found.game, self._drill, half_speed=self._condition.half_speed)

    def _undo(self, conductor: "Conductor") -> str:
        """Take the newest mark of the round that has ended back, and judge the round anew."""
        folder = conductor.last_folder
        if folder is None:
            return "the round has no journal"
        try:
            run = take_back_newest(folder)
        except JournalError as error:
            return str(error)
        if not run:
            return "there is no mark to take back"
        self._reports[-1] = self._report(run, conductor.match.timeline)
        return "the newest mark was taken back"

    def _answer(self, answer: str) -> str:
        if self._step is not Step.QUESTIONS:
            return ""
        question = self._drill.questions[self._answered]
        self._note("safety", f"{question} {answer}")
        if answer == "no":
            return "no round before that is so: mend it, then answer yes"
        self._answered += 1
        if self._answered == len(self._drill.questions):
            self._step = Step.CLEAR
        return ""

    def _field_clear(self) -> str:
        if self._step is not Step.CLEAR:
            return self.refuses_start()
        self._note("field clear", "")
        self._step = Step.START
        return ""

    def _change(self, what: str, conductor: "Conductor") -> str:
        if self._step not in (Step.CLEAR, Step.START):
            return "that goes between rounds, before the field is clear"
        if what == "crew":
            self.session.crew = CREWS[(CREWS.index(self.session.crew) + 1) % len(CREWS)]
            self._step = Step.CLEAR
        else:
            self.session.on_battery, self._answered = 0, 0
            self._step = Step.QUESTIONS if self._drill.questions else Step.CLEAR
        conductor.load_plan(conductor.plan_no, anew=True)
        self._note(what, self.session.crew if what == "crew" else "changed")
        return ""

    def _again(self, conductor: "Conductor") -> str:
        if self._step is not Step.RESULT:
            return ""
        self._take_out(conductor, REPEATED, "")
        self._step = Step.CLEAR
        conductor.actions.wants_next = True
        return ""

    def _drop(self) -> str:
        if self._step in (Step.RESULT, Step.REASON):
            self._step = Step.REASON if self._step is Step.RESULT else Step.RESULT
        return ""

    def _reason(self, number: int, conductor: "Conductor") -> str | None:
        if self._step is not Step.REASON or number >= len(REASONS):
            return None
        self._take_out(conductor, DROPPED, REASONS[number])
        self._next(conductor)
        conductor.actions.wants_next = True
        return ""

    def _next(self, conductor: "Conductor") -> None:
        self.session.place += 1
        self._step = Step.CLEAR
        if self.finished:
            self._append(conductor, records.Note(at_ns=monotime.now_ns(), what=ENDED, text="all rounds played"))

    def _leave(self, conductor: "Conductor") -> None:
        """Note in the newest round's journal that the drill ends, and what was said since that round."""
        text = "ended early" if self._left else "all rounds played"
        for note in (*self.take_notes(), records.Note(at_ns=monotime.now_ns(), what=ENDED, text=text)):
            self._append(conductor, note)

    def _take_out(self, conductor: "Conductor", what: str, why: str) -> None:
        """Say in the journal of the round that has ended that it does not count, and count it no more."""
        self._append(conductor, records.Note(at_ns=monotime.now_ns(), what=what, text=why))
        if self._reports:
            self._reports[-1] = msgspec.structs.replace(self._reports[-1], taken_out=why or what)

    def take_notes(self) -> list[records.Note]:
        """Return what was said and done since the round before."""
        notes, self._notes = self._notes, []
        return notes

    def _note(self, what: str, text: str) -> None:
        """Note something for the journal of the round that comes."""
        self._notes.append(records.Note(at_ns=monotime.now_ns(), what=what, text=text))

    def _append(self, conductor: "Conductor", note: records.Note) -> None:
        """Append a note to the journal of the round that has ended, if there is one."""
        folder = conductor.last_folder or self._earlier
        if folder is not None:
            with contextlib.suppress(JournalError):     # the disk is full: the run's own summary has said so
                append_note(folder, note)


def _rounds(count: int) -> str:
    return f"{count} round{'' if count == 1 else 's'}"


def _parts(*texts: str) -> str:
    """Return texts as a line that breaks only between them."""
    return ", ".join(text.replace(" ", _NO_BREAK) for text in texts)
