"""Say before a season what its evenings can show, and what they cannot, in short sentences."""

from collections.abc import Sequence

from tocsin.analysis.review.before.outlook import Outlook, Seen
from tocsin.analysis.review.words.answers import told_by
from tocsin.model.project import Asked
from tocsin.translation import tr, trn


def outlook_lines(outlook: Outlook) -> tuple[str, ...]:
    """Return an outlook as sentences: from which evening on what can be told, then which differences can be seen."""
    planned = outlook.planned
    return (
        trn(
            "{count} evening of {drill}, {rounds} rounds each that count.",
            "{count} evenings of {drill}, {rounds} rounds each that count.", planned.evenings, drill=planned.drill,
            rounds=planned.rounds,
        ),
        *(_told(outlook) or [tr("The review has nothing to count in this drill.")]),
        *_differences(outlook),
    )  # fmt: skip


def _told(outlook: Outlook) -> list[str]:
    by_evening: dict[int | None, list[str]] = {}
    for one in outlook.told:
        late = one.evening is None or one.evening > outlook.planned.evenings
        by_evening.setdefault(None if late else one.evening, []).append(told_by(one.figure))
    said = [
        tr("From evening {evening}: {what}.", evening=evening, what="; ".join(by_evening[evening]))
        for evening in sorted(one for one in by_evening if one is not None)
    ]
    if None in by_evening:
        said.append(tr("Not in so many evenings: {what}.", what="; ".join(by_evening[None])))
    if outlook.planned.guards:
        said.append(trn(
            "From {count} match: practice beside matches.", "From {count} matches: practice beside matches.",
            outlook.matches,
        ))  # fmt: skip
    return said


def _differences(outlook: Outlook) -> list[str]:
    if not outlook.seen:
        return []
    return [
        tr("What is dealt by lot, if it is your question of the month. A true difference of so much is seen:"),
        *(line for factor in outlook.planned.factors for line in _factor(outlook, factor.asked)),
        tr("This is so in half of all seasons. In the other half it takes longer, or is not seen at all."),
        *_beyond(outlook),
    ]


def _factor(outlook: Outlook, asked: Asked) -> list[str]:
    """Return what can be seen of a factor, if it is the question of the month, a sentence an outcome."""
    seen = [one for one in outlook.seen if one.asked == asked]
    pairs = next(one.pairs for one in outlook.planned.factors if one.asked == asked)
    if not pairs:
        return [tr(
            "{what}: nothing can be seen. The drill deals a value twice, or has too few rounds.", what=_NAMES[asked]
        )]  # fmt: skip
    said = []
    for outcome in dict.fromkeys(one.outcome for one in seen):
        told = "; ".join(_when(outlook, [one for one in seen if one.outcome == outcome]))
        match outcome:
            case "break_off":
                said.append(tr("{what}, by when pushes end: {told}.", what=_NAMES[asked], told=told))
            case "turn":
                said.append(tr("{what}, by the time to the turn: {told}.", what=_NAMES[asked], told=told))
            case "contact":
                said.append(tr("{what}, by contacts of 100 rounds: {told}.", what=_NAMES[asked], told=told))
    return said


def _when(outlook: Outlook, seen: Sequence[Seen]) -> list[str]:
    """Return differences with the evening after which each is seen, and together those that this season cannot show."""
    said, late = [], []
    for one in seen:
        if one.evening is not None and one.evening <= outlook.planned.evenings:
            said.append(tr("{size} after evening {evening}", size=_size(one), evening=one.evening))
        else:
            late.append(_size(one))
    if late:
        said.append(tr("{sizes} not in so many evenings", sizes=", ".join(late)))
    return said


def _size(one: Seen) -> str:
    if one.other is None:
        return tr("{seconds:.1f} s", seconds=one.size)
    return tr("{share:.0f} against {other:.0f}", share=100 * one.size, other=100 * one.other)


def _beyond(outlook: Outlook) -> list[str]:
    """Return what would show more, where something is out of reach."""
    planned = outlook.planned
    if all(one.evening is not None and one.evening <= planned.evenings for one in outlook.seen):
        return []
    said = [tr("To see more: more rounds at full speed.")]
    if any(factor.values > 2 for factor in planned.factors):
        said.append(tr("Two values in place of three or more give the most pairs."))
    return [" ".join(said)]


_NAMES: dict[Asked, str] = {
    "coach": tr("Coach"), "setup": tr("Two set-ups"), "shift": tr("Two times of the call"),
    "draw_out": tr("Two signals drawn out"), "plan": tr("Two plans"),
}  # fmt: skip
