"""Make the rig of a reaction test: the user's rig, whose keys and buttons only answer, steer, start and end."""

from collections.abc import Iterable, Iterator

import msgspec

from tocsin.channels.screen.steering import KEYS as STEERING_KEYS
from tocsin.journal import records
from tocsin.model.mark import standing
from tocsin.model.plan import Role
from tocsin.model.rig import Keys, Pad, Rig
from tocsin.units import NS_PER_S

ANSWER = "answer"                      # the label of the marks that answers are
BUTTON = "0"                           # on the tested role's pad: on most pads the one that the right thumb lies on
COUNT_IN_NS = 3 * NS_PER_S
_LETTERS = "ajkldbcefghimopvwz"        # far from the keys that steer, the first one that is free
_KEPT = ("start", "scrap", "preflight", "louder", "softer", "leave", "yes", "no", "repeat", "all_keys")


def rig_of_test(rig: Rig, role: Role) -> Rig:
    """Return the rig for testing a role: keys that could change the clock or give a cue do nothing."""
    keys = bench_keys(rig, {ANSWER: answer_keys(rig)})
    pads = tuple(msgspec.structs.replace(pad, buttons=_buttons(pad, role)) for pad in rig.pads)
    start = msgspec.structs.replace(rig.start, by="count_in", count_in_ns=COUNT_IN_NS)
    return msgspec.structs.replace(rig, keys=keys, pads=pads, start=start)


def bench_keys(rig: Rig, marks: dict[str, tuple[str, ...]]) -> Keys:
    """Return the rig's keys without those that could change the clock or give a cue, and with these for marks."""
    free = {name: () for name in rig.keys.__struct_fields__ if name not in (*_KEPT, "call", "marks")}
    return msgspec.structs.replace(rig.keys, **free, call={}, marks=marks)


def answer_keys(rig: Rig) -> tuple[str, ...]:
    """Return the answer keys: the rig's keys for marks of that label, else a free letter."""
    if own := rig.keys.marks.get(ANSWER):
        return own
    taken = {key for name in _KEPT for key in getattr(rig.keys, name)} | set(STEERING_KEYS)
    return (next(letter for letter in _LETTERS if letter not in taken),)


def usual_role(rig: Rig) -> Role:
    """Return the tested role if none is named: one whose pad is there, first of all the driver."""
    roles = [pad.role for pad in rig.pads]
    return "driver" if "driver" in roles or not roles else roles[0]


def _buttons(pad: Pad, role: Role) -> dict[str, str]:
    starts = {button: action for button, action in pad.buttons.items() if action == "start" and button != BUTTON}
    return starts | ({BUTTON: f"mark.{ANSWER}"} if pad.role == role else {})


def answers_ns(kept: Iterable[records.Record]) -> Iterator[int]:
    """Yield the times of the answer presses, in nanoseconds on the shared clock."""
    return (mark.begin_ns for mark in standing(records.marks_of(kept)) if mark.label == ANSWER)
