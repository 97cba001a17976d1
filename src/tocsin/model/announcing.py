"""Cues that announce others: they come with the cue that they hang on, so much ahead of it.

What announces may itself be announced. Then all hang on the last of the chain, the one that has moments of its own.
"""

from collections.abc import Iterable
from typing import NamedTuple

import msgspec

from tocsin.model.plan import Cue


class Announced(NamedTuple):
    """What a cue announces in the end: the cue that has moments of its own, and how far ahead of it."""

    cue: Cue
    ahead_ns: int


def announced_by(cues: Iterable[Cue]) -> dict[str, Announced]:
    """Return what each cue that announces another hangs on, by its id.

    One that names no cue, or that hangs on itself at last, is left out, and so is what announces that.
    """
    by_id: dict[str, Cue] = {}
    for cue in cues:
        by_id.setdefault(cue.id, cue)
    found: dict[str, Announced] = {}
    for cue in by_id.values():
        chain, at = {cue.id: cue}, by_id.get(cue.announces)
        while at is not None and at.announces and at.id not in chain:
            chain[at.id] = at
            at = by_id.get(at.announces)
        if cue.announces and at is not None and at.id not in chain:
            found[cue.id] = Announced(at, sum(one.ahead_ns or 0 for one in chain.values()))
    return found


def completed(cues: Iterable[Cue]) -> tuple[Cue, ...]:
    """Return the cues, each that announces another with the variant and the repeats of that: it comes as often."""
    cues = tuple(cues)
    announced = announced_by(cues)
    return tuple(
        msgspec.structs.replace(cue, when=announced[cue.id].cue.when, every_ns=announced[cue.id].cue.every_ns)
        if cue.id in announced
        else cue
        for cue in cues
    )


def without_orphans(cues: Iterable[Cue]) -> tuple[Cue, ...]:
    """Return the cues without those that announce one which is not among them."""
    cues = tuple(cues)
    announced = announced_by(cues)
    return tuple(cue for cue in cues if not cue.announces or cue.id in announced)
