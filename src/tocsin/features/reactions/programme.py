"""Play the blocks of a reaction test as a programme: cautions, practice, a break, a block, its result, the next.

The tested channels are chosen once the devices have reported: a missing channel is left out, rather than waited for. No
block begins by a timer: a person presses start, after as long a break as they like.
"""

from enum import Enum, auto
from typing import NamedTuple

import msgspec

from tocsin.analysis.reactions.order import TrialOrder, conditions_of, length_ns, order_of
from tocsin.config.files import FileText
from tocsin.config.load import Loaded
from tocsin.features.reactions.block import PlacedTrial, files_of, placed, signals_of
from tocsin.features.reactions.files import KEY, BlockFacts, PlayedBlock
from tocsin.features.reactions.result import ReactResult, block_lines, result_of, short_lines
from tocsin.features.trial.answer_keys import BUTTON, answer_keys
from tocsin.features.trial.cue_files import hushed
from tocsin.features.trial.questions import FLASHES, LOUDNESS, ROBOT_OFF, Questions
from tocsin.journal import records
from tocsin.journal.answers import Answers
from tocsin.model.clock.origins import Phase
from tocsin.model.plan import CHANNELS, ChannelName, Plan, Role
from tocsin.model.rig import Rig
from tocsin.model.timeline.timeline import MATCH, Point
from tocsin.runner.ending import Ending
from tocsin.runner.options import RunOptions
from tocsin.runner.outcome import Done, Outcome
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Piece, Stage
from tocsin.translation import tr
from tocsin.units import NS_PER_S
from tocsin.workers.protocol import Steer

_QUIET = ("louder", "softer")            # not while a block runs: the signals must stay alike


class Participant(NamedTuple):
    """The tested person and channels. ``key`` tells tests apart, ``person`` is a random key; ``rig_file`` is the rig as
    read, ``rig`` the one of the test; ``wanted`` are the channels that may be tested."""

    key: str
    person: str
    role: Role
    seed: int
    full: bool
    plan: Plan
    plan_sha256: str
    rig: Rig
    rig_file: FileText
    wanted: tuple[ChannelName, ...]


class BlockStep(Enum):
    """The step that the test waits for."""

    CAUTIONS = auto()
    START = auto()                         # the start key begins the block
    RESULT = auto()                        # the block has ended


class Reactions(Programme):
    """Plays the blocks of one person's test, one journal each, until all are played or the person leaves.

    The order is set once the devices are known, unless it is given. Raises UsageError if the plan has no signal on the
    wanted channels.
    """

    results_stand = True
    reloads = False

    def __init__(
        self, subject: Participant, options: RunOptions, order: TrialOrder | None = None,
        answers: Answers | None = None,
    ) -> None:  # fmt: skip
        self.subject = subject
        self._absent: tuple[ChannelName, ...] = ()
        self._window = self._pad = True            # until the devices have spoken
        self._order = order or self._ordered(subject.wanted)
        self._block = min(trial.block for trial in self._order.trials)
        self.files = self._files_now()
        super().__init__(self.files, options)
        sound = any("sound" in condition for condition in self._order.conditions)
        self._cautions = Questions((FLASHES, *([LOUDNESS] if sound else [])), answers)
        self._cautions.put_first(ROBOT_OFF)        # each time: on the field it was on a minute ago
        self._step = BlockStep.CAUTIONS if order is None else BlockStep.START
        self._steered: tuple[int, int] | None = None
        self._played: list[PlayedBlock] = []
        self.journals: list[str] = []

    # -- what is played

    def piece(self, plan_no: int) -> Piece:
        """Return the next block; the screen shows nothing that tells when its signals come."""
        found = self.files.plans[plan_no]
        facts = {KEY: msgspec.to_builtins(self._facts)}
        return Piece(self.files, hushed(found.timeline), found.plan.patterns, Point(MATCH, 0), facts)

    @property
    def finished(self) -> bool:
        """Whether all blocks have been played."""
        return self._block > self._order.blocks()

    def outcome(self) -> ReactResult | None:
        """Return the result of the played blocks, None if not even practice was played."""
        if not self._played:
            return None
        return msgspec.structs.replace(result_of(self._played), journals=tuple(self.journals))

    @property
    def _trials(self) -> tuple[PlacedTrial, ...]:
        return placed(self._order.block(self._block))

    @property
    def _title(self) -> str:
        return (
            tr("Block {block} of {blocks}", block=self._block, blocks=self._order.blocks()) if self._block
            else tr("Practice")
        )

    @property
    def _facts(self) -> BlockFacts:
        subject = self.subject
        return BlockFacts(
            key=subject.key, person=subject.person, role=subject.role, seed=subject.seed, full=subject.full,
            block=self._block, blocks=self._order.blocks(), plan=subject.plan.name, plan_sha256=subject.plan_sha256,
            trials=self._trials, latency_ns=known_latency_ns(subject.rig, subject.role),
        )  # fmt: skip

    def _ordered(self, present: tuple[ChannelName, ...]) -> TrialOrder:
        subject = self.subject
        conditions = conditions_of(subject.plan, subject.role, present)
        return order_of(conditions, subject.seed, full=subject.full)

    def _files_now(self) -> Loaded:
        subject = self.subject
        signals = signals_of(subject.plan, subject.role)
        found = files_of(self._title, self._trials, signals, subject.role, subject.rig_file)
        return Loaded(found.plans, subject.rig, found.files)

    def turn(self, stage: Stage, now_ns: int) -> None:
        """Begin the steering line with the block, and again after a restart of the window's worker."""
        if stage.match.lifecycle.phase != "running" or not stage.has_window:
            self._steered = None
            return
        life = (self._block, stage.supervisor.restarts("screen"))
        if life != self._steered:
            self._steered = life
            seed = abs(self.subject.seed) * (self._order.blocks() + 1) + self._block
            stage.supervisor.send(Steer(seed), "screen")

    # -- what people see

    def card(self, now_ns: int) -> tuple[str, ...]:
        """Return what a person must know before the block."""
        if self._step is BlockStep.CAUTIONS:
            return (tr("How fast do you notice each signal?"), tr("On the bench, with the robot off"))
        trials = self._order.block(self._block)
        minutes = tr("{length:.1f} min", length=length_ns(trials) / NS_PER_S / 60)
        tested = ", ".join(condition[0] for condition in self._order.conditions if len(condition) == 1)
        pad = (
            tr(" or the first button ({button}) of the {role}'s pad", button=BUTTON, role=self.subject.role)
            if self._pad
            else ""
        )
        steering = tr("Meanwhile keep the marker in the middle with left and right")
        return (
            f"{self._title}: {minutes}" + ("" if self._block else tr(", does not count")),
            tr(
                "Whatever comes ({tested}): press {answer_keys}{pad} at once", tested=tested,
                answer_keys=" or ".join(answer_keys(self.subject.rig)), pad=pad,
            ),
            steering if self._window else tr("No window, so no steering: answers are faster than with it"),
            *([tr("Not there, so not tested: {absent}", absent=", ".join(self._absent))] if self._absent else []),
        )

    def ask(self, stage: Stage, phase: Phase) -> str:
        """Return the question or the key that is due."""
        key = stage.keymap.key_for
        match self._step:
            case BlockStep.CAUTIONS:
                return self._cautions.ask(stage.keymap)
            case BlockStep.RESULT if phase == "over":
                if self._block >= self._order.blocks():
                    return tr("Press {key}: the end", key=key("start"))
                return tr(
                    "Press {key} when you have rested: block {block} of {blocks}", key=key("start"),
                    block=self._block + 1, blocks=self._order.blocks(),
                )
        return {"over": tr("The result comes"), "scrapped": tr("This block is played again")}.get(phase, "")

    def refuses_start(self) -> str:
        """Return why a block may not start yet, or an empty text."""
        return tr("answer the questions first") if self._step is BlockStep.CAUTIONS else ""

    def keys(self, phase: Phase) -> tuple[tuple[str, str], ...]:
        """Return the test's own keys for what is due."""
        if self._step is BlockStep.CAUTIONS and phase == "standby":
            return (("yes", "yes"), ("no", "no"), ("softer", "softer"), ("louder", "louder"))
        if self._step is BlockStep.RESULT and not self._block:
            return (("repeat", tr("practise again")),)
        return ()

    # -- what people do

    def act(self, action: str, stage: Stage, now_ns: int) -> Outcome | None:
        """Carry out one of the test's own actions."""
        if stage.match.lifecycle.phase in ("running", "waiting"):
            return Done() if action in _QUIET else None
        match action:
            case "yes" | "no":
                return self._answer(action, stage, now_ns)
            case "repeat":
                return self._again(stage)
            case "start" if self._step is BlockStep.RESULT:
                self._next()
        return None

    def ended(self, stage: Stage, ending: Ending, now_ns: int) -> tuple[str, ...]:
        """Take a block's answers. A scrapped block is played again."""
        if ending.outcome != "over":
            self._step = BlockStep.START
            return ()
        self._step = BlockStep.RESULT
        self._played.append(PlayedBlock(self._facts, tuple(stage.match.record.kept)))
        self.journals.append(str(stage.match.record.path or ""))
        if self._block < self._order.blocks():
            return block_lines(self._played[-1])
        return short_lines(result_of(self._played))

    def take_notes(self) -> list[records.Note]:
        """Return the answers to the questions before this block."""
        return self._cautions.take_notes()

    def _answer(self, answer: str, stage: Stage, now_ns: int) -> Outcome:
        if self._step is not BlockStep.CAUTIONS:
            return Done()
        outcome = self._cautions.answer(answer, now_ns)
        if not self._cautions.open:
            self._step = BlockStep.START
            self._settle(stage, now_ns)
        return outcome

    def _settle(self, stage: Stage, now_ns: int) -> None:
        """Leave out what is not there. Raises UsageError if nothing is left."""
        there = tuple(channel for channel in self.subject.wanted if self._is_there(channel, stage))
        used = {channel for condition in self._order.conditions for channel in condition}
        self._absent = tuple(channel for channel in CHANNELS if channel in used and channel not in there)
        self._window, self._pad = stage.has_window, self._is_there("rumble", stage)
        self._order = self._ordered(there)
        self.files = self._files_now()
        stage.reload(self.piece(stage.plan_no), now_ns)

    def _is_there(self, channel: ChannelName, stage: Stage) -> bool:
        """Return whether a channel can be tested: of pads the role's own counts; a terminal is too slow a screen."""
        if channel == "screen":
            return stage.has_window
        if channel == "rumble":
            return any(fact.what == self.subject.role and fact.state == "ready" for fact in stage.device_states.facts())
        return stage.device_states.state(channel) == "ready"

    def _again(self, stage: Stage) -> Outcome:
        if self._step is BlockStep.RESULT and not self._block:
            self._step = BlockStep.START
            stage.wants_next = True
        return Done()

    def _next(self) -> None:
        self._block += 1
        self._step = BlockStep.START
        if not self.finished:
            self.files = self._files_now()


def known_latency_ns(rig: Rig, role: Role) -> dict[ChannelName, int]:
    """Return the rig's known delays in nanoseconds by channel, for rumble that of the role's first pad; 0 there is
    unknown."""
    pad = next((pad for pad in rig.pads if pad.role == role), None)
    devices = {"rumble": pad, "light": rig.light, "screen": rig.screen, "sound": rig.sound}
    found = {channel: getattr(devices[channel], "latency_ns", 0) for channel in CHANNELS}
    return {channel: latency_ns for channel, latency_ns in found.items() if latency_ns}
