"""Keep blocks of a reaction test in the folder of runs: each is a run of its own, its header names block and test.

Answers are read from the records, of the conductor's memory or of a journal on disk alike.
"""

import itertools
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import msgspec

from tocsin.analysis.reactions.order import ANSWER_WINDOW_NS
from tocsin.analysis.reactions.scores import Delays, ReactionTest, TrialAnswer
from tocsin.channels.screen.steering import NOTE
from tocsin.features.reactions.block import PlacedTrial, signal_no
from tocsin.features.trial.answer_keys import answers_ns
from tocsin.journal import records
from tocsin.model.clock.origins import Origin
from tocsin.model.plan import ChannelName, Role
from tocsin.model.timeline.timeline import MATCH

KEY = "reaction"                       # in a header's options


class BlockFacts(msgspec.Struct, frozen=True, kw_only=True):
    """The header's facts about its block. ``key`` tells tests apart, ``person`` is a random key; block 0 is practice.

    ``plan_sha256`` is of the text of the plan with these signals. ``latency_ns`` holds the known delays of the rig's
    devices.
    """

    key: str
    person: str
    role: Role
    seed: int
    full: bool
    block: int
    blocks: int
    plan: str
    plan_sha256: str
    trials: tuple[PlacedTrial, ...]
    latency_ns: dict[ChannelName, int] = {}


class Steered(msgspec.Struct, frozen=True, kw_only=True):
    """How well a person steered in a block: the marker's mean distance from the middle in half lengths of its line, and
    the distance without any steering."""

    block: int
    mean: float
    alone: float
    lasts_s: float


class PlayedBlock(NamedTuple):
    """A block that was played to its end."""

    facts: BlockFacts
    records: Sequence[records.Record]


class Heard(NamedTuple):
    """The answers of a block, in the order of its trials, and the number of presses outside all answer windows."""

    answers: tuple[TrialAnswer, ...]
    outside: int


def facts_of(header: records.Header) -> BlockFacts | None:
    """Return the header's facts about its block, None for a run that was no reaction test."""
    found = header.options.get(KEY)
    if not isinstance(found, dict):
        return None
    try:
        return msgspec.convert(found, BlockFacts)
    except msgspec.ValidationError:
        return None


def session_of(blocks: Iterable[PlayedBlock]) -> ReactionTest:
    """Return a person's test from its blocks; of practice only the answers are kept. Raises ValueError without any."""
    heard = [(block.facts, heard_in(block)) for block in blocks]
    if not heard:
        raise ValueError("a test without a block")
    return ReactionTest(
        person=heard[0][0].person,
        answers=tuple(answer for _, found in heard for answer in found.answers),
        delays=Delays(out_ns=heard[0][0].latency_ns),
        outside=sum(found.outside for facts, found in heard if facts.block),
    )


def heard_in(block: PlayedBlock) -> Heard:
    """Return the answers of a block: the first press in each answer window, on any key or pad.

    A window begins where the signal lands, for a pair the first one, and for a catch trial as planned. It ends when the
    next one begins, if match time runs faster than real time.
    """
    facts = block.facts
    clock = _BlockClock(block.records)
    told = _told(block, clock)
    begins_ns = [
        min((at_ns + facts.latency_ns.get(channel, 0) for channel, at_ns in told.get(one.trial.no, {}).items()),
            default=clock.real_ns(one.at_ns))
        for one in facts.trials
    ]  # fmt: skip
    presses = sorted(answers_ns(block.records))
    answers: list[TrialAnswer] = []
    inside = 0
    for place, (one, begin_ns) in enumerate(zip(facts.trials, begins_ns, strict=True)):
        end_ns = min([begin_ns + ANSWER_WINDOW_NS, *begins_ns[place + 1 : place + 2]])
        own = [at_ns for at_ns in presses if begin_ns <= at_ns < end_ns]
        inside += len(own)
        answers.append(
            TrialAnswer(trial=one.trial, fired_ns=told.get(one.trial.no, {}), answer_ns=own[0] if own else None)
        )
    return Heard(tuple(answers), len(presses) - inside)


def steered_in(block: PlayedBlock) -> Steered | None:
    """Return how well a person steered in a block, None if there was no steering or no report of it."""
    for record in reversed(block.records):
        if isinstance(record, records.Note) and record.what == NOTE:
            try:
                values = record.values or _values_in(record.text)
                return Steered(
                    block=block.facts.block, mean=values["mean"], alone=values["alone"], lasts_s=values["lasts_s"]
                )
            except (KeyError, ValueError):
                return None
    return None


def _values_in(text: str) -> dict[str, float]:
    """Return the figures of a note as journals before 2026-12 have them: "mean=0.1 alone=0.4 lasts_s=9". Raises
    ValueError for any other text."""
    return {name: float(value) for name, value in (part.split("=", 1) for part in text.split())}


class _BlockClock:
    """Real times of a block. Its origin moves only where the laptop slept."""

    def __init__(self, kept: Sequence[records.Record]) -> None:
        self._origins = [
            Origin(anchor=MATCH, origin_ns=record.origin_ns, rate=record.rate, sent_ns=record.at_ns)
            for record in kept
            if isinstance(record, records.OriginRecord) and record.anchor == MATCH and record.origin_ns is not None
        ]
        if not self._origins:
            raise ValueError("a block that never began")

    def real_ns(self, match_ns: int) -> int:
        """Return the shared time of a moment of the block."""
        for origin, later in itertools.pairwise(self._origins):
            at_ns = origin.real_ns(match_ns)
            if at_ns < later.sent_ns:
                return at_ns
        return self._origins[-1].real_ns(match_ns)


def _told(block: PlayedBlock, clock: _BlockClock) -> dict[int, dict[ChannelName, int]]:
    """Return when each signal's devices were told, by trial and channel."""
    told: dict[int, dict[ChannelName, int]] = {}
    for record in block.records:
        if isinstance(record, records.FiringRecord) and record.outcome == "played" and record.late_ns is not None:
            number = signal_no(record.cue)
            if number is not None:
                due_ns = clock.real_ns(record.due_ns) - block.facts.latency_ns.get(record.channel, 0)
                told.setdefault(number, {})[record.channel] = due_ns + record.late_ns
    return told


