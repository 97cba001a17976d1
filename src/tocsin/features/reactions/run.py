"""Run a reaction test from its options to its result: the runner of a match, with a programme of blocks."""

import secrets
from pathlib import Path
from typing import cast

import msgspec

from tocsin.analysis.reactions.order import TrialOrder, conditions_of
from tocsin.config.file_cache import NOTHING_SHARED, FileCache, Shared
from tocsin.config.load import load
from tocsin.errors import UsageError
from tocsin.features.reactions.programme import Participant, Reactions
from tocsin.features.reactions.result import ReactResult
from tocsin.features.trial.answer_keys import rig_of_test, usual_role
from tocsin.journal.answers import Answers
from tocsin.journal.people import People
from tocsin.journal.place import runs_folder
from tocsin.model.plan import CHANNELS, ROLES, ChannelName, Plan, Role
from tocsin.model.rig import Rig
from tocsin.runner.options import RunOptions
from tocsin.runner.run import Say, alone, play
from tocsin.translation import tr

_KEY_BYTES = 4


class ReactionRequest(msgspec.Struct, frozen=True, kw_only=True):
    """The request of the command line. ``who`` is NAME or ROLE=NAME, or empty; ``channels`` None tests all that the rig
    has; ``seed`` None takes a fresh one; ``shared`` lies below the plan."""

    plan: str = "full"
    rig: str = "nothing"
    who: str = ""
    channels: tuple[ChannelName, ...] | None = None
    full: bool = False
    seed: int | None = None
    rate: float = 1.0
    runs: Path | None = None
    shared: Shared = NOTHING_SHARED


def run_react(wish: ReactionRequest, say: Say, *, json_output: bool, order: TrialOrder | None = None) -> ReactResult:
    """Test a person until all blocks are played or they leave; return the result with its exit code.

    The first block of a given ``order`` is played unchanged, at once and without a question. Raises UsageError,
    MistakeError, DeviceError, JournalError.
    """
    loaded = load(None, (wish.plan,), wish.rig, FileCache(wish.shared))
    plan = loaded.plans[0].plan
    role, name = _role_and_name(wish.who, loaded.rig)
    wanted = _wanted(wish.channels, plan, loaded.rig)
    conditions_of(plan, role, wanted)          # refuses what has nothing to test before anybody is written down
    rig_file = next(file for file in loaded.files if file.kind == "rig")
    plan_file = next(file for file in loaded.files if file.kind == "plan")
    person = People(runs_folder(wish.runs)).keep(name) if name else secrets.token_hex(_KEY_BYTES)
    subject = Participant(
        key=secrets.token_hex(_KEY_BYTES), person=person, role=role,
        seed=secrets.randbelow(1 << 31) if wish.seed is None else wish.seed, full=wish.full, plan=plan,
        plan_sha256=plan_file.sha256, rig=rig_of_test(loaded.rig, role), rig_file=rig_file, wanted=wanted,
    )  # fmt: skip
    options = RunOptions(
        plans=(wish.plan,), rig=wish.rig, runs=wish.runs, rate=wish.rate, start="key" if order is None else "now",
        asked=wish.channels or (), people={role: person},
    )  # fmt: skip
    answers = Answers(runs_folder(wish.runs), [person] if name else [])
    programme = Reactions(subject, options, order, answers)
    with alone():
        summary = play(programme.files, options, say, json_output, programme=programme)
    result = programme.outcome() or _nothing(subject)
    return msgspec.structs.replace(result, exit=summary.exit)


def _role_and_name(who: str, rig: Rig) -> tuple[Role, str]:
    """Return who is tested from ``NAME`` or ``ROLE=NAME``. Raises UsageError for a role that does not exist."""
    role, given, name = who.rpartition("=")
    if not given:
        return usual_role(rig), name.strip()
    if role.strip() not in ROLES or not name.strip():
        hint = tr("write NAME, or ROLE=NAME, e.g. operator=Ann; roles: {roles}", roles=", ".join(ROLES))
        raise UsageError(tr("'{who}' names nobody", who=who), hint=hint)
    return cast(Role, role.strip()), name.strip()


def _wanted(channels: tuple[ChannelName, ...] | None, plan: Plan, rig: Rig) -> tuple[ChannelName, ...]:
    """Return the channels to test: those asked for, or all that the rig has. Raises UsageError for one asked for that
    the plan leaves out."""
    if channels is None:
        return rig.channels
    used = {channel for cue in plan.cues for channel in cue.patterns}
    for channel in channels:
        if channel not in used:
            there = ", ".join(channel for channel in CHANNELS if channel in used)
            raise UsageError(
                tr("the plan '{name}' has no signal on {channel}", name=plan.name, channel=channel),
                hint=tr("it uses {there}", there=there or "none"),
            )
    return channels


def _nothing(subject: Participant) -> ReactResult:
    return ReactResult(
        person=subject.person, role=subject.role, plan=subject.plan.name, seed=subject.seed, full=subject.full,
        blocks=0, scores=None, pairs=(), steering=(), reactions=(), lines=(tr("No block was played to its end."),),
    )  # fmt: skip
