"""Say where scribes of one run differ: whether our robot came home, and pushes that one of them alone noted.

Two scribes may share the work, one for us and one for the partner: then nobody else noted what is told of a robot, and
there is nothing to differ in.
"""

from collections.abc import Collection, Sequence

import msgspec

from tocsin.model.counted import KEYED, Counted, counted, rank, scribes, statement
from tocsin.model.mark import CONTACT, KEYS, PROGRAM, STATES, Mark, board_number
from tocsin.translation import tr, trn

_STATES = {"home": tr("home"), "home_half": tr("half home"), "home_none": tr("not home")}


class Differences(msgspec.Struct, frozen=True, kw_only=True):
    """What scribes who watched our robot noted differently, as it happened.

    ``home`` holds each scribe's last word on whether it came home, if they differ, in the order of scribes. ``pushes``
    are our pushes that count where at least two scribes noted pushes, ``alone`` those of them that one alone noted.
    """

    home: tuple[tuple[str, str], ...] = ()
    pushes: int = 0
    alone: int = 0


def differences(marks: Sequence[Mark], counting: Collection[str] = ()) -> Differences:
    """Return what scribes noted differently of our robot; ``marks`` are all marks of the run, ``counting`` the labels
    that count, none for all."""
    wanted = {statement(Mark(label=label, begin_ns=0))[0] for label in counting}
    ours = [
        one for one in counted(marks)
        if one.mark.is_ours and rank(one.mark) == KEYED and (not wanted or statement(one.mark)[0] in wanted)
    ]
    pushes = [one for one in ours if one.mark.label == CONTACT]
    seen_by = frozenset[str]().union(*(scribes(one.mark) for one in pushes))
    home = _last_words(marks, [one for one in ours if one.mark.label in STATES])
    differ = len({state for _, state in home}) > 1
    if len(seen_by) < 2:
        return Differences(home=home if differ else ())
    alone = sum(len(scribes(one.mark)) == 1 for one in pushes)
    return Differences(home=home if differ else (), pushes=len(pushes), alone=alone)


def _last_words(marks: Sequence[Mark], states: Sequence[Counted]) -> tuple[tuple[str, str], ...]:
    said: dict[str, Mark] = {}
    noted = sorted((marks[place] for one in states for place in one.places), key=lambda mark: mark.begin_ns)
    for mark in noted:
        (scribe,) = scribes(mark)
        said[scribe] = mark
    return tuple((scribe, said[scribe].label) for scribe in sorted(said))


def difference_lines(found: Differences, home: str) -> tuple[str, ...]:
    """Return the differences as sentences; ``home`` is the state that the result counts."""
    lines = []
    if found.home:
        said = ", ".join(
            tr("{state} by {scribe}", state=_STATES[state], scribe=scribe_text(scribe)) for scribe, state in found.home
        )
        lines.append(tr("Scribes differ: {said}. Counted: {state}.", said=said, state=_STATES.get(home, home)))
    if found.alone:
        lines.append(trn(
            "{alone} of {count} push noted by one scribe only.", "{alone} of {count} pushes noted by one scribe only.",
            found.pushes, alone=found.alone,
        ))
    return tuple(lines)


def scribe_text(scribe: str) -> str:
    """Return a scribe as people say it.

    >>> scribe_text("board 2"), scribe_text("keys")
    ('board 2', 'the keys')
    """
    if scribe == KEYS:
        return tr("the keys")
    if scribe == PROGRAM:
        return tr("another program")
    number = board_number(scribe)
    return scribe if number is None else tr("board {number}", number=number)
