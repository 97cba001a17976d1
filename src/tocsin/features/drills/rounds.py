"""Play the rounds of a drill as a programme: questions, field clear, a round, its result, the next.

No round begins by a timer: before each a person says that the field is clear, which holds for half a minute, and
presses start. Safety questions are asked first, and after each new battery; the next round's journal holds the answers.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path

from tocsin.analysis.rounds.own_limit import OwnLimit
from tocsin.config.drills import LoadedDrill
from tocsin.features.drills.card import cautions, round_card, round_sign
from tocsin.features.drills.closing import Closing, Sentence
from tocsin.features.drills.crews import Crews
from tocsin.features.drills.dealt import Dealt
from tocsin.features.drills.field_clear import FieldClear
from tocsin.features.drills.reports import Reports
from tocsin.features.drills.said import Said, questions_of
from tocsin.features.drills.steps import (
    AFTER_THE_RESULT,
    NOTHING_TO_MARK,
    WHY_NOT_YET,
    DrillStep,
    called,
    reasons,
    step_keys,
)
from tocsin.features.records.after_the_end import Changes, Judge, say_watched, take_back, write_late
from tocsin.features.records.round_files import DROPPED, ENDED, REPEATED, Session
from tocsin.features.records.round_report import RoundReport
from tocsin.journal import records
from tocsin.journal.answers import Answers
from tocsin.model.clock.origins import Phase
from tocsin.model.display.round_picture import RoundPicture
from tocsin.model.drill import Shown
from tocsin.runner.ending import Ending
from tocsin.runner.keymap import Keymap
from tocsin.runner.notices import ANSWER
from tocsin.runner.options import RunOptions
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.runner.phones.unheard import Unheard
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Piece, Stage
from tocsin.translation import tr


class Rounds(Programme):
    """Plays the rounds of a drill, one journal each, until all are played or a person leaves."""

    results_stand = True
    told_of_hold = tr("held: this round will not count")
    reloads = False                        # the rounds of a drill are to be compared
    needs_laptop = True                    # nobody says from afar that a field is clear
    write_late = staticmethod(write_late)

    def __init__(
        self, found: LoadedDrill, options: RunOptions, session: Session, past: tuple[RoundReport, ...] = (),
        earlier: Path | None = None, answers: Answers | None = None, *, names: Mapping[str, str] | None = None,
        pauses: bool = False, closing: Sentence | None = None,
    ) -> None:  # fmt: skip
        """Take a drill and where it stands; ``past`` and ``earlier`` are the rounds of an earlier life and the folder
        of the last of them, ``answers`` what was answered tonight, ``names`` people's by key. A drill that ``pauses``
        is left to go on later. ``closing`` gives what the evening came to."""
        super().__init__(found.files, options)
        self._drill = found.drill
        self.marks, self.keeps_out = found.drill.marks, found.drill.place == "field"
        self._crews = Crews(found.drill, session, options.roster, names)
        self._dealt = Dealt(found, self._crews, session)
        self._reports = Reports(found, self._crews, past)
        self._said = Said(questions_of(found, options, session, answers), earlier, pauses=pauses)
        self._closing = Closing(closing, session.name)
        self._called = called(found.drill.place)
        self._step = self._asked_or_called
        keymap = Keymap(found.files.rig)
        self._battery_key = keymap.key_for("battery")
        self._clear = FieldClear(keymap.key_for("clear"))
        self._unheard, self._changes = Unheard(), Changes()
        self._rested_ns: int | None = None         # when the rest after the newest round is over
        self.session = session
        self.names_plan = not found.drill.vary.plans     # whoever knows which one it is plays it as they think of it

    # -- what is played

    def piece(self, plan_no: int) -> Piece:
        """Return the next round, its plan varied by its condition."""
        self._clear.forget()
        return self._dealt.piece(self._own)

    @property
    def finished(self) -> bool:
        """Whether every crew has played all its rounds."""
        return not self._crews.left(self.session.crew) and not self._crews.waiting()

    @property
    def _own(self) -> OwnLimit | None:
        """The limit that the crew of the next round has set itself, or is to set."""
        return self._reports.own_limit(self.session.crew)

    @property
    def _asked_or_called(self) -> DrillStep:
        """The step before the next round: questions that are open, or what comes once a round is called."""
        return DrillStep.QUESTIONS if self._said.questions.open else self._called

    # -- what people see

    def card(self, now_ns: int) -> tuple[str, ...]:
        """Return what the crew must know before the round, without the surprises."""
        return self._card(now_ns, self._battery_key)

    def card_afar(self, now_ns: int) -> tuple[str, ...]:
        """Return the same for boards."""
        return self._card(now_ns, "")

    def _card(self, now_ns: int, battery_key: str) -> tuple[str, ...]:
        if self._step is DrillStep.QUESTIONS:
            return (f"{self._drill.name}: {self._drill.trains}", *cautions(self._drill))
        rest_ns = max(0, (self._rested_ns or 0) - now_ns)
        card = round_card(
            self._dealt.condition, self._drill, self.session, rest_ns, self._own, battery_key, self._dealt.coach,
            several=self._crews.several,
        )  # fmt: skip
        safely = () if self._said.asks or self._rested_ns is not None else cautions(self._drill)      # else it was read
        return (*card, *safely, *self._reports.series_rows(self.session.crew, self._left(self.session.crew)))

    @property
    def named(self) -> str:
        """Who is in the crew that plays the round, as a line of its card."""
        return "" if self._step is DrillStep.QUESTIONS else self._crews.named

    @property
    def shows(self) -> tuple[Shown, ...]:
        """What of a round's future people may see while it runs: what the drill says."""
        return self._drill.shows

    def sign(self) -> tuple[str, ...]:
        """Return what stands in place of the clock while a round runs."""
        return round_sign(self._dealt.condition, self._drill)

    def ask(self, stage: Stage, phase: Phase) -> str:
        """Return the question or the key that is due."""
        question = self._said.questions.question(stage.keymap)
        return self._step.ask(phase, stage.keymap.key_for, question, last=self._crews.is_last)

    def ask_afar(self, stage: Stage, phase: Phase) -> str:
        """Return the same for boards."""
        return self._step.ask_afar(phase, self._said.questions.question(), last=self._crews.is_last)

    def next_words(self, phase: Phase) -> str:
        """Return whether another round comes behind the result, or the end."""
        return self._step.next_words(phase, last=self._crews.is_last)

    def result(self) -> tuple[str, ...]:
        """Return the newest round's result, by the marks that are valid now."""
        if self._step not in (DrillStep.RESULT, DrillStep.REASON):
            return ()
        rows = self._reports.rows(self._left(self.session.crew), verdict_only=self._step is DrillStep.REASON)
        return (*filter(None, [self._unheard.told]), *rows)

    def picture(self) -> RoundPicture | None:
        """Return how the newest round went as a picture, unless people want its sentences, or it may still change."""
        title = self._reports.title(self._dealt.condition.number)
        stands = self._step is DrillStep.RESULT and not self._unheard.told
        return self._reports.picture(title) if stands else None

    def video(self) -> str:
        """Return the command by which a video tells the newest round, if nothing else can."""
        return self._reports.video if self._step is DrillStep.RESULT else ""

    def series(self) -> tuple[str, ...]:
        """Return the whole series in full sentences, crew by crew."""
        return self._reports.series(self._left)

    def _left(self, crew: str) -> int:
        """Return how many rounds of a crew are still to come."""
        result_stands = self._step in (DrillStep.RESULT, DrillStep.REASON)
        return self._crews.left(crew) - (result_stands and crew == self.session.crew)

    @property
    def _to_come(self) -> bool:
        """Whether any crew has rounds to come."""
        return bool(self._left(self.session.crew) or self._crews.waiting())

    def refuses_start(self) -> str:
        """Return why a round may not start yet, or an empty text."""
        lapsed = self._clear.why_not_yet if self._step is DrillStep.CLEAR else ""
        return lapsed or WHY_NOT_YET.get(self._step, "")

    @property
    def clear_until_ns(self) -> int | None:
        """Until when the field counts as clear, None while nobody has said so."""
        return self._clear.until_ns if self._step is DrillStep.START else None

    def turn(self, stage: Stage, now_ns: int) -> None:
        """Ask again whether the field is clear, if nobody has started for too long; leave where nobody can."""
        self.leave_if_deserted(stage)
        self._unheard.turn(stage.boards, now_ns)
        self._changes.turn(stage, now_ns)
        self._closing.turn(stage, now_ns, () if self._to_come else self.result())
        if why := self._lapsed(stage, now_ns):
            stage.notice(why, now_ns, of_phase=True, replace_key=ANSWER)

    def slept(self) -> None:
        """Ask again whether the field is clear."""
        self._clear.slept()

    def keys(self, phase: Phase) -> tuple[tuple[str, str], ...]:
        """Return the drill's own keys for what is due."""
        reports = self._reports
        leave = tr("pause the drill") if self._said.pauses and self._to_come else tr("end the drill")
        return step_keys(
            self._step, phase, self._drill.place, details=reports.details, watched=reports.watched, leave=leave,
            others=not self._crews.alone, nothing=self._unheard.beside(NOTHING_TO_MARK),
        )

    def wished_names(self, phase: Phase) -> Mapping[str, str]:
        """Return the names by which boards wish for what else would have another meaning each time."""
        return {**super().wished_names(phase), **self._step.wished_names(details=self._reports.details)}

    def choices(self, phase: Phase) -> tuple[tuple[str, str], ...]:
        """Return the reasons why a round is not counted, while they are asked for."""
        return reasons() if self._step is DrillStep.REASON else ()

    # -- what people do

    @property
    def farewell(self) -> str:
        """Whether the drill is over."""
        return self._said.farewell(to_come=self._to_come)

    def act(self, action: str, stage: Stage, now_ns: int) -> Outcome | None:
        """Carry out a drill's own action."""
        phase = stage.match.lifecycle.phase
        if phase in ("running", "waiting", "held"):
            return None
        if phase == "over" and self._step not in (DrillStep.RESULT, DrillStep.REASON) and action in AFTER_THE_RESULT:
            return Refused(tr("round just over: its result comes at once"))
        match action:
            case "yes" if self._step is DrillStep.RESULT:
                known = self._reports.watched
                return Done() if known else say_watched(stage.last_folder, now_ns, self._judge_again(stage))
            case "yes" | "no":
                outcome = self._said.questions.answer(action, now_ns) if self._step is DrillStep.QUESTIONS else Done()
                self._step = self._asked_or_called if self._step is DrillStep.QUESTIONS else self._step
                return outcome
            case "clear":
                return self._field_clear(now_ns)
            case "crew" | "battery":
                return self._change(action, stage, now_ns)
            case "repeat":
                return self._again(stage, now_ns)
            case "drop":
                return self._drop()
            case "begin" if phase == "standby":
                return Done()                      # the key by which an evening begins a drill, pressed twice
            case "start" if why := self._lapsed(stage, now_ns):
                return Refused(why)
            case "details" if self._step is DrillStep.RESULT:
                self._reports.details = not self._reports.details
                return Done()
            case "undo" if self._step in (DrillStep.RESULT, DrillStep.REASON):
                return take_back(stage, self._judge_again(stage), "round")
            case "start" if self._step in (DrillStep.RESULT, DrillStep.REASON):
                self._next(stage, now_ns)
                return None
            case "leave":
                self._said.leave(stage, now_ns, to_come=self._to_come)
                return None
        if action.startswith("plan."):
            return self._reason(int(action.removeprefix("plan.")), stage, now_ns)
        return None

    def ended(self, stage: Stage, ending: Ending, now_ns: int) -> tuple[str, ...]:
        """Report the round's result. A scrapped round is played again, from the field clear on."""
        match = stage.match
        if ending.outcome != "over":
            self._step = self._called
            stage.wants_next = True
            stage.notice(tr("cancelled: the round is played again"), now_ns)
            return ()
        self._step = DrillStep.RESULT
        self._rested_ns = now_ns + self._drill.rest_ns
        self._unheard.ended(stage.boards, now_ns)
        self._reports.add(match.record.kept, match.timeline, self._dealt.facts, stage.wire_run)
        self._reports.offer(stage.last_folder, match.timeline, self._options.runs)
        self.session.on_battery += 1
        return self.result()

    def judge_late(self, stage: Stage, run: Sequence[records.Record]) -> None:
        """Judge a round of this evening anew, since a mark of it came late."""
        self._changes.add(stage, self._reports.judge_late(run))

    def _judge_again(self, stage: Stage) -> Judge:
        return lambda run: self._reports.judge_again(run, stage.match.timeline, self._dealt.facts)

    def _field_clear(self, now_ns: int) -> Outcome:
        """Take a person's word that the field is clear; said again, it holds anew."""
        if self._drill.place != "field" or self._step not in (DrillStep.CLEAR, DrillStep.START):
            why = self.refuses_start()
            return Refused(why) if why else Done()
        self._said.note(tr("field clear"), "", now_ns)
        self._clear.say(now_ns)
        self._step = DrillStep.START
        return Done()

    def _lapsed(self, stage: Stage, now_ns: int) -> str:
        """Go back to the question if the word that the field is clear has just lapsed; return what to do then."""
        waits = self._step is DrillStep.START and stage.match.lifecycle.phase == "standby"
        if not waits or not self._clear.lapses(now_ns):
            return ""
        self._said.note(tr("field clear ended"), "", now_ns)
        self._step = DrillStep.CLEAR
        return self._clear.why_not_yet

    def _change(self, what: str, stage: Stage, now_ns: int) -> Outcome:
        if self._step not in (DrillStep.CLEAR, DrillStep.START):
            return Refused(tr("only between rounds, before the field is clear"))
        if what == "crew":
            if not (crew := self._crews.following()):
                return Refused(tr("no other crew has rounds left"))
            self._bring_on(crew, stage, now_ns)
        else:
            self.session.on_battery = 0
            self._said.questions.add(self._drill.field_questions, anew=True)
            self._step = self._asked_or_called
            self._said.note(what, "changed", now_ns, stage.wished_by)
        stage.reload(self.piece(stage.plan_no), now_ns)
        return Done()

    def _bring_on(self, crew: str, stage: Stage, now_ns: int) -> None:
        """Let another crew play the rounds that come, and say so in the journal of the first of them."""
        self.session.crew = crew
        self._step = self._called
        self._said.note("crew", crew, now_ns, stage.wished_by)
        if self._crews.unnamed:
            stage.notice(tr("nobody has said who is in crew {crew}: its rounds name no people", crew=crew), now_ns)

    def _again(self, stage: Stage, now_ns: int) -> Outcome:
        if self._step is DrillStep.RESULT:
            self._take_out(stage, REPEATED, "", now_ns)
            self._step = self._called
            stage.wants_next = True
        return Done()

    def _drop(self) -> Outcome:
        if self._step in (DrillStep.RESULT, DrillStep.REASON):
            self._step = DrillStep.REASON if self._step is DrillStep.RESULT else DrillStep.RESULT
        return Done()

    def _reason(self, number: int, stage: Stage, now_ns: int) -> Outcome | None:
        if self._step is not DrillStep.REASON or number >= len(reasons()):
            return None
        self._take_out(stage, DROPPED, reasons()[number][1], now_ns)
        self._next(stage, now_ns)
        stage.wants_next = True
        return Done()

    def _next(self, stage: Stage, now_ns: int) -> None:
        crew = self.session.crew
        self.session.advance()
        self._step = self._called
        due = self._crews.due()
        if due and due != crew:
            has_all = "" if self._crews.left(crew) else tr("crew {crew} has played all its rounds: ", crew=crew)
            stage.notice(tr("{has_all}now crew {due}", has_all=has_all, due=due), now_ns)
            self._bring_on(due, stage, now_ns)
        elif not due:
            self._said.append(stage, ENDED, tr("all rounds played"), now_ns)

    def _take_out(self, stage: Stage, what: str, why: str, now_ns: int) -> None:
        """Say in the journal of the round that has ended that it does not count, and count it no more."""
        self._said.append(stage, what, why, now_ns)
        self._reports.take_out(why or what)

    def take_notes(self) -> list[records.Note]:
        """Return what people said and did since the last round."""
        return self._said.take_notes()
