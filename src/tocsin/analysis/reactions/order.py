"""Order the trials of a reaction test: which signal comes when, from a seed.

Conditions are each channel of a plan alone, and each pair of channels that one of its cues uses together. Waits are
random, uniform from 2 to 10 s (the psychomotor vigilance test: Dinges and Powell 1985; Basner and Dinges, Sleep 34:581,
2011), so that nobody can answer a rhythm instead of a signal. A wait begins at the end of the answer window before it,
however early the answer was: so all times of a block are known ahead, and signals are fired like the cues of a plan.
One trial in eight is a catch trial: no signal comes, and an answer is a guess.

Blocks are balanced: each condition comes equally often, or once more. A block is shuffled again while a condition
follows itself more often than in a fair shuffle on average. Repeats are allowed: without them people could work out
what comes next.
"""

import itertools
import math
import random
from collections import Counter
from collections.abc import Iterable, Sequence

import msgspec

from tocsin.errors import UsageError
from tocsin.model.plan import CHANNELS, ChannelName, Plan, Role
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

Condition = tuple[ChannelName, ...]

CATCH: Condition = ()
SHORTEST_WAIT_NS = 2 * NS_PER_S
LONGEST_WAIT_NS = 10 * NS_PER_S
ANSWER_WINDOW_NS = 1500 * NS_PER_MS        # who has not answered by then has missed the signal (our own choice)
SIGNALS_TO_A_CATCH = 7
SIGNALS_A_BLOCK = 35                       # with 5 catches: 40 waits of 6 s and their windows, five minutes
LEAST_BLOCKS = 2
FULL_SIGNALS = 20                          # of each condition in the full form
LEAST_PRACTICE = 6                         # signals


class Trial(msgspec.Struct, frozen=True, kw_only=True):
    """One wait and the signals at its end, on the channels of ``condition``; none if that is CATCH.

    ``wait_ns`` counts from the end of the answer window of the trial before, or from the block's begin. ``no`` counts
    from 0 over the whole test; block 0 is practice and never scored.
    """

    no: int
    block: int
    practice: bool
    condition: Condition
    wait_ns: int


class TrialOrder(msgspec.Struct, frozen=True, kw_only=True):
    """All trials of a test. The same conditions, seed and form give the same order on every system."""

    seed: int
    full: bool
    conditions: tuple[Condition, ...]
    trials: tuple[Trial, ...]

    def block(self, number: int) -> tuple[Trial, ...]:
        """Return the trials of one block; 0 is practice."""
        return tuple(trial for trial in self.trials if trial.block == number)

    def blocks(self) -> int:
        """Return the number of scored blocks."""
        return max(trial.block for trial in self.trials)

    def signals(self, condition: Condition) -> int:
        """Return how often a condition comes outside of practice."""
        return sum(trial.condition == condition and not trial.practice for trial in self.trials)


def conditions_of(
    plan: Plan, role: Role | None = None, present: Iterable[ChannelName] = CHANNELS
) -> tuple[Condition, ...]:
    """Return the conditions of a plan: channels alone, then pairs, in the order of CHANNELS.

    A pad shakes only for the roles of a cue: with ``role`` only that role's cues count there; None counts all. Channels
    that are not ``present`` are left out. Raises UsageError if no condition is left.
    """
    there = set(present)
    sets: list[Condition] = []
    for cue in plan.cues:
        felt = role is None or role in cue.roles
        sets.append(tuple(c for c in CHANNELS if c in cue.patterns and c in there and (felt or c != "rumble")))
    singles = {(channel,) for used in sets for channel in used}
    pairs = {pair for used in sets for pair in itertools.combinations(used, 2)}
    if not singles:
        raise UsageError(
            tr("the plan '{name}' has no signal for the devices here", name=plan.name),
            hint=tr("plug a pad or strip in, or choose a plan whose cues use the screen or the sound"),
        )
    return in_order(singles | pairs)


def in_order(conditions: Iterable[Condition]) -> tuple[Condition, ...]:
    """Return conditions in reading order: channels alone, then pairs, in the order of CHANNELS."""
    return tuple(sorted(conditions, key=lambda c: (len(c), [CHANNELS.index(channel) for channel in c])))


def order_of(conditions: Sequence[Condition], seed: int, *, full: bool = False) -> TrialOrder:
    """Return the trials of a test: a practice block, then two of about five minutes; in the ``full`` form as many
    blocks as give each condition 20 times. Raises ValueError without conditions, or if one is a catch or comes twice.
    """
    if not conditions or CATCH in conditions or len(set(conditions)) != len(conditions):
        raise ValueError(f"no conditions to order: {conditions!r}")
    rng = random.Random(seed)
    blocks = [_shuffled(list(conditions) * math.ceil(LEAST_PRACTICE / len(conditions)), rng)]
    blocks += [_shuffled(signals, rng) for signals in _shares(_by_lot(conditions, rng), full)]
    drawn = [(number, condition) for number, block in enumerate(blocks) for condition in block]
    trials = tuple(
        Trial(no=no, block=number, practice=number == 0, condition=condition, wait_ns=_wait_ns(rng))
        for no, (number, condition) in enumerate(drawn)
    )
    return TrialOrder(seed=seed, full=full, conditions=tuple(conditions), trials=trials)


def length_ns(trials: Iterable[Trial]) -> int:
    """Return the length of trials in nanoseconds: waits and answer windows."""
    return sum(trial.wait_ns + ANSWER_WINDOW_NS for trial in trials)


def most_repeats(count: int, trials: int) -> int:
    """Return how often a condition that comes ``count`` times may follow itself: a fair shuffle's mean, rounded up.

    Of its count * (count - 1) ordered pairs each stands side by side with probability 1 / trials.
    """
    return math.ceil(count * (count - 1) / trials)


def _shares(conditions: Sequence[Condition], full: bool) -> list[list[Condition]]:
    """Return the signals of each block, unshuffled: equal parts of one round-robin, so that counts differ by at most
    one in each block and in all of them."""
    wanted = LEAST_BLOCKS * SIGNALS_A_BLOCK
    if full:
        wanted = max(wanted, FULL_SIGNALS * len(conditions))
    blocks = math.ceil(wanted / SIGNALS_A_BLOCK)
    edges = [wanted * number // blocks for number in range(blocks + 1)]
    return [[conditions[n % len(conditions)] for n in range(*edge)] for edge in itertools.pairwise(edges)]


def _shuffled(signals: list[Condition], rng: random.Random) -> list[Condition]:
    """Return signals and their catches in random order; a signal comes first, lest a block begins with nothing."""
    pool = signals + [CATCH] * max(1, round(len(signals) / SIGNALS_TO_A_CATCH))
    most = {condition: most_repeats(count, len(pool)) for condition, count in Counter(pool).items()}
    while True:                            # a handful of tries: the limit is the mean, so most shuffles are near it
        block = _by_lot(pool, rng)
        repeats = Counter(later for earlier, later in itertools.pairwise(block) if earlier == later)
        if block[0] != CATCH and all(repeats[condition] <= most[condition] for condition in most):
            return block


def _by_lot(items: Sequence[Condition], rng: random.Random) -> list[Condition]:
    """Return items in random order; of the generator only random() is promised to stay the same in later Pythons."""
    return sorted(items, key=lambda _: rng.random())


def _wait_ns(rng: random.Random) -> int:
    return SHORTEST_WAIT_NS + int(rng.random() * (LONGEST_WAIT_NS - SHORTEST_WAIT_NS))
