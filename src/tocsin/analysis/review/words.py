"""Say answers in plain words: one or two short sentences each, for people who know no statistics.

Behind each figure its limits stand in brackets; ``legend`` says what they are, once a page. Sentences are chosen by the
figures as they are printed, so that none contradicts its numbers.
"""

from tocsin.analysis.review.answer import Answer, Figure, Lacking
from tocsin.analysis.review.numbers import early, limits_early, limits_of_100, limits_s, seconds
from tocsin.analysis.review.times import SEVERAL_LEADS
from tocsin.translation import tr, trn


def legend() -> tuple[str, ...]:
    """Return what holds for all figures, as sentences for the foot of a page."""
    return (
        tr("In brackets: where the true value probably lies. The wider it is, the less we know."),
        tr("Middle value: half of them were below, half above."),
        tr("Times are as people noted them: most press 0.3 to 0.8 s late."),
    )


def line(answer: Answer) -> str:
    """Return the answer in words, empty if no figure of it may be told yet."""
    say = _LINES.get(answer.question)
    return say(answer) if say and answer.figures else ""


def not_yet(lacking: Lacking) -> str:
    """Return what is not known yet, with how many rounds and evenings are still missing."""
    what = _UNKNOWN.get(lacking.figure, lacking.figure)
    what += f" ({lacking.of})" if lacking.of else ""
    if not lacking.more and not lacking.evenings:
        return tr("Not yet: {what}. The rounds so far do not tell.", what=what)
    evenings = trn("{count} evening", "{count} evenings", lacking.evenings)
    if lacking.counted == "evenings" or not lacking.more:
        return tr("Not yet: {what}. About {evenings} more.", what=what, evenings=evenings)
    more = _more(lacking)
    if not lacking.evenings:
        return tr("Not yet: {what}. About {more}.", what=what, more=more)
    return tr("Not yet: {what}. About {more}, {evenings}.", what=what, more=more, evenings=evenings)


def _more(lacking: Lacking) -> str:
    match lacking.counted:
        case "pushes":
            return trn("{count} more push", "{count} more pushes", lacking.more)
        case "turns":
            return trn("{count} more turn", "{count} more turns", lacking.more)
        case "matches":
            return trn("{count} more match", "{count} more matches", lacking.more)
        case "pairs":
            return trn("{count} more pair", "{count} more pairs", lacking.more)
        case _:
            return trn("{count} more round", "{count} more rounds", lacking.more)


def _trust(answer: Answer) -> str:
    counted, worst = answer.figure("counted"), answer.figure("clock_error_worst")
    if counted is None:
        return ""
    said = [trn(
        "{counted} of {count} round counts.", "{counted} of {count} rounds count.", counted.rounds,
        counted=counted.count,
    )]  # fmt: skip
    middle = answer.figure("clock_error")
    if middle and worst and middle.value is not None and worst.value is not None:
        said.append(tr(
            "Clock: right to within {middle}, in the worst round {worst}.", middle=seconds(middle.value),
            worst=seconds(worst.value),
        ))  # fmt: skip
    return " ".join(said)


def _contact(answer: Answer) -> str:
    found = answer.figure("contact")
    if found is None:
        return ""
    x, n, limits = found.count or 0, found.rounds, limits_of_100(found)
    unclear = 0 if found.at_most is None else round(found.at_most * n) - x
    if unclear:
        return trn(
            "Contact in {x} of {count} round; of {unclear} more only a video can tell ({limits}).",
            "Contact in {x} of {count} rounds; of {unclear} more only a video can tell ({limits}).", n, x=x,
            unclear=unclear, limits=limits,
        )  # fmt: skip
    return trn(
        "Contact in {x} of {count} round ({limits}).", "Contact in {x} of {count} rounds ({limits}).", n, x=x,
        limits=limits,
    )  # fmt: skip


def _break_off(answer: Answer) -> str:
    said = [*_margin(answer), *_nine_early(answer)]
    if answer.verdict == SEVERAL_LEADS and said and (lead := answer.figure("lead")) and lead.value is not None:
        said.append(tr("The lead was changed: all is told for the newest, {lead:g} s.", lead=lead.value))
    return " ".join(said)


def _margin(answer: Answer) -> list[str]:
    margin, off = answer.figure("margin"), answer.figure("break_off")
    if margin:
        if margin.value is None:
            return [tr("How early pushes were off: of too many nobody noted the end.")]
        return [trn(
            "{count} push: middle value {margin} ({limits}).", "{count} pushes: middle value {margin} ({limits}).",
            margin.rounds, margin=early(margin.value), limits=limits_early(margin),
        )]  # fmt: skip
    if off and off.value is not None:
        return [_middle_s(off, tr("The plan names no lead for it: so only the time after the call is told."))]
    return []


def _middle_s(figure: Figure, beside: str) -> str:
    return " ".join((trn(
        "{count} push: middle value {time} after the call ({limits}).",
        "{count} pushes: middle value {time} after the call ({limits}).", figure.rounds,
        time=seconds(figure.value or 0.0), limits=limits_s(figure),
    ), beside))  # fmt: skip


def _nine_early(answer: Answer) -> list[str]:
    nine = answer.figure("margin_nine_in_ten")
    if nine is None:
        return []
    if nine.value is None:
        return [tr("Nine in ten: of too many nobody noted the end.")]
    return [tr("Nine in ten: {margin} or earlier.", margin=early(nine.value))]


def _turn(answer: Answer) -> str:
    said = []
    turn, nine = answer.figure("turn"), answer.figure("turn_nine_in_ten")
    if turn and turn.value is not None:
        said.append(trn(
            "{count} turn: middle value {time} after the call ({limits}).",
            "{count} turns: middle value {time} after the call ({limits}).", turn.rounds, time=seconds(turn.value),
            limits=limits_s(turn),
        ))  # fmt: skip
    elif turn:
        said.append(tr("How fast robots turned: of too many nobody noted it."))
    if nine and nine.value is not None:
        said.append(tr("Nine in ten: within {time}.", time=seconds(nine.value)))
    return " ".join(said)


_LINES = {"trust": _trust, "contact": _contact, "break_off": _break_off, "turn": _turn}
_UNKNOWN = {
    "counted": tr("anything at all"),
    "contact": tr("how often there is contact"),
    "margin": tr("how early pushes are off"),
    "margin_nine_in_ten": tr("how early nine in ten pushes are off"),
    "turn": tr("how fast the robot turns"),
    "turn_nine_in_ten": tr("how fast nine in ten turns are"),
}
