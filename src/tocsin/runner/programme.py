"""Define programmes, which play match after match: ``tocsin run`` a plan again and again, a drill its rounds.

The conductor asks a programme for the next piece, and so it need not know what is played.
"""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from tocsin.config.load import Loaded
from tocsin.journal import records
from tocsin.model.clock.origins import NEVER_NS, Phase
from tocsin.model.display.round_picture import RoundPicture
from tocsin.model.drill import ALL_SHOWN, Shown
from tocsin.model.mark import Mark
from tocsin.model.timeline.shown import locate_given
from tocsin.model.timeline.timeline import MATCH, Point
from tocsin.runner.ending import Ending
from tocsin.runner.options import RunOptions
from tocsin.runner.outcome import Outcome
from tocsin.runner.reload import PlanWatch
from tocsin.runner.stage import Piece, Stage
from tocsin.translation import tr
from tocsin.units import NS_PER_S

RESULT_NS = 5 * NS_PER_S               # a plain result stands this long, then standby again
_RELOADED = "reloaded"                 # of a notice: what became of a plan that was saved


# Writes a mark into the journal of a run that has ended; returns what people read, and the run's records then.
LateWriter = Callable[[Path, Mark], tuple[str, tuple[records.Record, ...]]]


class Programme:
    """Plays one of the plans, chosen in standby, until a person leaves."""

    results_stand = False                  # whether a result stays until a person goes on
    reloads = True                         # whether a plan that is saved in standby is loaded anew
    keys_alone = False                     # whether its own keys are all that mean something
    leads = True                           # whether people here lead it: give calls, note marks
    names_plan = True                      # whether people see the name of the plan
    marks: tuple[str, ...] | None = None   # the labels that a scribe notes; None: all that the rig has keys for
    of_match = True                        # whether people are told of a match: of its periods, its end, its marks
    keeps_out = True                       # whether people stay outside after a match: a robot may still move
    told_of_hold = ""                      # what people read as they hold the clock
    deserted = False                       # whether nobody could press a key that it waits for
    needs_laptop = False                   # whether it waits for words that only a key at the laptop says
    write_late: LateWriter | None = None   # None: marks of a run that has ended are refused

    def __init__(self, files: Loaded, options: RunOptions) -> None:
        self._files = files
        self._options = options
        self._watch = PlanWatch(options, files) if self.reloads else None
        self._mistakes: tuple[str, ...] = ()

    def piece(self, plan_no: int) -> Piece:
        """Return the next piece to play."""
        found = self._files.plans[plan_no]
        moment = self._options.from_moment
        at = locate_given(moment, found.timeline) if moment else Point(MATCH, 0)
        return Piece(self._files, found.timeline, found.plan.patterns, at, {}, plan=found.plan)

    def attach(self, wake: Callable[[], None]) -> None:
        """Take what wakes the conductor, for a programme that hears of things by itself."""

    def leave_if_deserted(self, stage: Stage) -> None:
        """Leave where a key is waited for, and there is neither a window nor a terminal nor a pad's button for it."""
        front, pads = stage.front, self._files.rig.pads
        by_button = any("start" in pad.buttons.values() for pad in pads)
        somebody = front.interactive or by_button or (stage.boards.on and not self.needs_laptop)
        if stage.by_key and front.opened and not somebody and not self.deserted:
            self.deserted = True
            stage.leave(tr("nobody can press a key"))

    def turn(self, stage: Stage, now_ns: int) -> None:
        """Work between matches: load a saved plan. Nothing changes during a match."""
        self.leave_if_deserted(stage)
        if self._watch is None or stage.match.lifecycle.phase != "standby" or not stage.front.opened:
            return                             # while devices open nobody could read what became of it
        found = self._watch.look(now_ns)
        if found is None:
            return
        stage.notice(found.notice, now_ns, replace_key=_RELOADED)
        self._mistakes = found.mistakes
        if found.files is not None:
            self._files = found.files
            stage.reload(self.piece(stage.plan_no), now_ns)

    def slept(self) -> None:
        """Take it that the laptop slept, maybe for hours by no clock of this process: what people said is old."""

    @property
    def clear_until_ns(self) -> int | None:
        """Until when somebody's word that the field is clear holds, None where nobody was asked or has said so."""
        return None

    @property
    def finished(self) -> bool:
        """Whether nothing is left to play."""
        return False

    def card(self, now_ns: int) -> tuple[str, ...]:
        """Return the lines for people in standby about the next match: mistakes of a saved plan."""
        return self._mistakes

    @property
    def named(self) -> str:
        """A line of the card with people's names, or nothing. It stands apart since no other machine is told it."""
        return ""

    @property
    def follows(self) -> str:
        """Return whose clock counts, and how well it is known, if it is not this laptop's."""
        return ""

    @property
    def shows(self) -> tuple[Shown, ...]:
        """What of a match's future people may see while it runs."""
        return ALL_SHOWN

    @property
    def follows_display(self) -> bool:
        """Whether an official display may count beside this clock, so that people may type what it shows."""
        return self.of_match and not self.keys_alone and "clock" in self.shows

    def sign(self) -> tuple[str, ...]:
        """Return what stands in place of the clock where that is not shown, the largest line first."""
        return ()

    def ask(self, stage: Stage, phase: Phase) -> str:
        """Return what a person has to do before a match can start or the next can come, or an empty text."""
        return ""

    def ask_afar(self, stage: Stage, phase: Phase) -> str:
        """Return the same for boards: it names no key of the laptop."""
        return self.ask(stage, phase)

    def card_afar(self, now_ns: int) -> tuple[str, ...]:
        """Return the card for boards: it names no key of the laptop."""
        return self.card(now_ns)

    def next_words(self, phase: Phase) -> str:
        """Return what the start key does after a match, where that is more than to go on; else an empty text."""
        return ""

    def result(self) -> tuple[str, ...]:
        """Return the present result if it differs from the one that ``ended`` returned, else an empty tuple."""
        return ()

    def picture(self) -> RoundPicture | None:
        """Return the result as a picture, or None where there is none or people want to read its details."""
        return None

    def video(self) -> str:
        """Return how a video tells the result that stands, or an empty text if it is told without one."""
        return ""

    def stands_until_ns(self, ended_ns: int) -> int:
        """Return until when the result of a match that ended at ``ended_ns`` stands; then it is standby again."""
        return NEVER_NS if self.results_stand else ended_ns + RESULT_NS

    def series(self) -> tuple[str, ...]:
        """Return what is printed of all that was played, once people have left."""
        return ()

    def refuses_start(self) -> str:
        """Return why no match may start now, or an empty text."""
        return ""

    def keys(self, phase: Phase) -> tuple[tuple[str, str], ...]:
        """Return actions beside those of every match, with their help texts."""
        return ()

    def wished_names(self, phase: Phase) -> Mapping[str, str]:
        """Return by which name boards wish for an action of the keys now, where that has another meaning each time: two
        people who press at once must not undo each other's press."""
        return {"hold": "resume"} if phase == "held" else {}

    def choices(self, phase: Phase) -> tuple[tuple[str, str], ...]:
        """Return actions that stand in a question, with their texts: whoever sees the question has no keys for them."""
        plans = self._files.plans
        if phase != "standby" or len(plans) == 1:
            return ()
        return tuple((f"plan.{no}", tr("plan {name}", name=found.plan.name)) for no, found in enumerate(plans))

    def judge_late(self, stage: Stage, run: Sequence[records.Record]) -> None:
        """Judge a run that has ended anew, since a mark of it came late; ``run`` are its records now."""

    @property
    def farewell(self) -> str:
        """What has ended with this programme, as a sentence for boards, or nothing."""
        return ""

    def act(self, action: str, stage: Stage, now_ns: int) -> Outcome | None:
        """Carry an action out; return its outcome, or None if the action is not this programme's."""
        return None

    def take_notes(self) -> list[records.Note]:
        """Return what people said and did before the match that begins now, for its journal."""
        return []

    def ended(self, stage: Stage, ending: Ending, now_ns: int) -> tuple[str, ...]:
        """Take a match that has ended; return its result lines, none for the plain summary."""
        return ()
