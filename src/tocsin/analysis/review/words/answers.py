"""Say answers in plain words: one or two short sentences each, for people who know no statistics.

Behind each figure its limits stand in brackets; ``legend`` says what they are, once a page. Sentences are chosen by the
figures as they are printed, so that none contradicts its numbers.
"""

from collections.abc import Iterable

from tocsin.analysis.review.answer import Answer, Figure, Lacking
from tocsin.analysis.review.times import SEVERAL_LEADS
from tocsin.analysis.review.words.evidence import better_line, comparison_lines, not_yet_better
from tocsin.analysis.review.words.numbers import (
    HOME_ZERO,
    amount,
    early,
    gained_less_given,
    limits_early,
    limits_of_100,
    limits_s,
    points,
    seconds,
    tenth,
    unclear_of,
)
from tocsin.analysis.review.words.trends import (
    learning_line,
    matches_line,
    odd_line,
    odd_rounds,
    tired_line,
)
from tocsin.analysis.seasons.row import Row
from tocsin.translation import tr, trn

FAR_EVENINGS = 30                      # that no season has: how many more it would be does not matter then
MOST_NOT_YET = 5                       # of what is not known yet, on a page
_MOST_ALONE = 100                      # rounds of a set-up that some season may bring


def legend() -> tuple[str, ...]:
    """Return what holds for all figures, as sentences for the foot of a page."""
    return (
        tr("In brackets: where the true value probably lies. The wider it is, the less we know."),
        tr("Middle value: half of them were below, half above."),
        tr(
            "Times are as people noted them: most press 0.3 to 0.8 s late. That is left in, so the true end was that "
            "much sooner."
        ),
        tr("If the drill moves its call by lot, seconds are told as if it came at the plan's lead."),
    )


def line(answer: Answer) -> str:
    """Return the answer in words, empty if no figure of it may be told yet."""
    say = _LINES.get(answer.question)
    return say(answer) if say else ""


def details(answer: Answer, rows: Iterable[Row] = ()) -> tuple[str, ...]:
    """Return what else an answer tells, a sentence each: the way from each set-up, each odd round among ``rows``, each
    other thing that was dealt by lot and is known."""
    match answer.question:
        case "home":
            return ways(answer)
        case "odd":
            return odd_rounds(answer, rows)
        case "better":
            said = better_line(answer)
            return tuple(one for one in comparison_lines(answer) if one != said)
    return ()


def not_yet(lacking: Lacking) -> str:
    """Return what is not known yet, with how many rounds and evenings are still missing."""
    what = told_by(lacking.figure)
    if lacking.question == "matches":
        what = (
            tr("whether contacts are as many in matches, where a push is on at the call") if lacking.figure == "contact"
            else tr("whether pushes end as soon in matches")
        )
    elif lacking.question == "better":
        what = not_yet_better(lacking)
        if lacking.figure == "difference" or not lacking.of:           # so few pairs say nothing of how many it takes
            return trn(
                "Not yet: {what}. A first look after about {count} more evening.",
                "Not yet: {what}. A first look after about {count} more evenings.", lacking.evenings, what=what,
            )  # fmt: skip
    elif lacking.of:
        what = tr("how long the way home takes from: {setup}", setup=lacking.of)
    if not lacking.more and not lacking.evenings:
        if lacking.counted == "pairs":
            return tr("Not yet: {what}. No season is long enough to tell.", what=what)
        if lacking.figure == "way":
            return tr(
                "Not yet: {what}. From there it was too often not home in time, so nobody knows how long it takes: "
                "call it home sooner.", what=what,
            )  # fmt: skip
        return tr("Not yet: {what}. Of too many nobody noted it: mark it each time.", what=what)
    if lacking.evenings > FAR_EVENINGS:
        return trn(
            "Not yet: {what}. More than {count} evening.", "Not yet: {what}. More than {count} evenings.", FAR_EVENINGS,
            what=what,
        )  # fmt: skip
    if lacking.counted == "evenings" or not lacking.more:
        return trn(
            "Not yet: {what}. About {count} more evening.", "Not yet: {what}. About {count} more evenings.",
            lacking.evenings, what=what,
        )  # fmt: skip
    more, evenings = more_words(lacking), trn("{count} evening", "{count} evenings", lacking.evenings)
    if not lacking.evenings:
        return tr("Not yet: {what}. About {more}.", what=what, more=more)
    return tr("Not yet: {what}. About {more}, {evenings}.", what=what, more=more, evenings=evenings)


def not_yet_lines(found: Iterable[Lacking], most: int = MOST_NOT_YET) -> tuple[str, ...]:
    """Return what is not known yet, the nearest first: so many sentences, then how many more there are; in one line,
    how many comparisons no season tells."""
    nearest, far = [], 0
    for one in found:
        if one.question == "better" and (one.evenings > FAR_EVENINGS or not (one.more or one.evenings)):
            far += 1
        else:
            nearest.append(one)
    said = [not_yet(one) for one in nearest[:most]]
    if (left := len(nearest) - most) > 0 and most:
        said.append(trn("And {count} more.", "And {count} more.", left))
    if far and most:
        said.append(trn(
            "Not this season: {count} comparison of what was dealt by lot.",
            "Not this season: {count} comparisons of what was dealt by lot.", far,
        ))  # fmt: skip
    return tuple(said)


def told_by(figure: str) -> str:
    """Return what a figure tells, as part of a sentence."""
    return _UNKNOWN.get(figure, figure)


def more_words(lacking: Lacking) -> str:
    """Return of what so many more are missing."""
    match lacking.counted:
        case "pushes":
            return trn(
                "{count} more push whose end somebody notes", "{count} more pushes whose end somebody notes",
                lacking.more,
            )  # fmt: skip
        case "turns":
            return trn(
                "{count} more turn that somebody notes", "{count} more turns that somebody notes", lacking.more
            )
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
        "{counted} of {rounds} counts.", "{counted} of {rounds} count.", counted.rounds, counted=counted.count,
        rounds=so_many(counted.rounds, answer.counts),
    )]  # fmt: skip
    middle = answer.figure("clock_error")
    if middle and worst and middle.value is not None and worst.value is not None:
        shown = seconds(middle.value), seconds(worst.value)
        said.append(
            tr("Clock: right to within {middle}.", middle=shown[0]) if shown[0] == shown[1]
            else tr("Clock: right to within {middle}, at worst {worst}.", middle=shown[0], worst=shown[1])
        )
    planned = answer.figure("planned_calls")
    if planned and planned.count:
        said.append(tr(
            "In {rounds} only the planned time of the call is known.", rounds=so_many(planned.count, answer.counts)
        ))  # fmt: skip
    return " ".join(said)


def so_many(count: int, counts: str) -> str:
    """Return so many rounds, or matches."""
    return (
        trn("{count} match", "{count} matches", count) if counts == "matches"
        else trn("{count} round", "{count} rounds", count)
    )


def contact_words(answer: Answer) -> str:
    """Return the rounds with a contact without limits, for headlines; what only a video can tell always with them.
    Empty if that may not be told yet."""
    share = answer.figure("contact")
    if share is None:
        return ""
    x, rounds, unclear = share.count or 0, so_many(share.rounds, answer.counts), unclear_of(share)
    if unclear:
        return tr(
            "Contact in {x} of {rounds}; of {unclear} more only a video can tell.", x=x, rounds=rounds, unclear=unclear
        )
    return tr("Contact in {x} of {rounds}.", x=x, rounds=rounds)


def _contact(answer: Answer) -> str:
    found = answer.figure("contact")
    if found is None:
        return ""
    x, limits, unclear = found.count or 0, limits_of_100(found), unclear_of(found)
    rounds = so_many(found.rounds, answer.counts)
    if unclear:
        return tr(
            "Contact in {x} of {rounds}; of {unclear} more only a video can tell ({limits}).", x=x, rounds=rounds,
            unclear=unclear, limits=limits,
        )
    return tr("Contact in {x} of {rounds} ({limits}).", x=x, rounds=rounds, limits=limits)


def _break_off(answer: Answer) -> str:
    said = [*_margin(answer), *_nine_early(answer)]
    if answer.verdict == SEVERAL_LEADS and said and (lead := answer.figure("lead")) and lead.value is not None:
        said.append(tr("Leads differed: all is told for the newest, {lead:g} s.", lead=lead.value))
    return " ".join(said)


def _margin(answer: Answer) -> list[str]:
    margin, off, none = (answer.figure(name) for name in ("margin", "break_off", "no_push"))
    if margin:
        if margin.value is None:
            return [tr("How early pushes were off: of too many nobody noted the end.")]
        return [tr(
            "Pushes end {margin}, middle value of {count} ({limits}).", margin=early(margin.value), count=margin.rounds,
            limits=limits_early(margin),
        ), *_if_missing(answer)]  # fmt: skip
    if off and off.value is not None:
        return [tr(
            "Pushes end {time} after the call, middle value of {count} ({limits}).", time=seconds(off.value),
            count=off.rounds, limits=limits_s(off),
        ), tr("The plan names no lead for it, so nobody knows how early that is.")]  # fmt: skip
    if none and none.count:
        return [tr(
            "In {none} of {rounds} the call found no push.", none=none.count,
            rounds=so_many(none.rounds, answer.counts),
        )]  # fmt: skip
    return []


def _if_missing(answer: Answer) -> list[str]:
    """Return how far what nobody marked may move the middle value, if it is much."""
    soon, never = (answer.figure("margin_if_missing", of) for of in ("at_once", "never"))
    if soon is None or never is None or soon.value is None:
        return []
    if never.value is None:
        return [tr("With what nobody marked: anything up to {soon}.", soon=early(soon.value))]
    return [tr("With what nobody marked: {never} to {soon}.", never=early(never.value), soon=early(soon.value))]


def _nine_early(answer: Answer) -> list[str]:
    nine = answer.figure("margin_nine_in_ten")
    if nine is None:
        return []
    if nine.value is None:
        return [tr("Nine in ten: nobody knows; of too many nobody noted the end.")]
    return [tr("Nine in ten end {margin} or sooner.", margin=early(nine.value))]


def _turn(answer: Answer) -> str:
    said = []
    turn, nine = answer.figure("turn"), answer.figure("turn_nine_in_ten")
    if turn and turn.value is not None:
        said.append(tr(
            "Robots turn {time} after the call, middle value of {count} ({limits}).", time=seconds(turn.value),
            count=turn.rounds, limits=limits_s(turn),
        ))  # fmt: skip
    elif turn:
        said.append(tr("How fast robots turned: of too many nobody noted it."))
    if nine and nine.value is not None:
        said.append(tr("Nine in ten turn within {time}.", time=seconds(nine.value)))
    return " ".join(said)


def home_words(answer: Answer) -> str:
    """Return in how many rounds the robot was home, half home, and not; empty if that may not be told yet."""
    full, half, none = (answer.figure(name) for name in ("home_full", "home_half", "home_none"))
    if full is None or half is None or none is None:
        return ""
    n, x, limits = full.rounds, full.count, limits_of_100(full)
    unknown = n - sum(one.count or 0 for one in (full, half, none))
    rest = ", ".join(text for count, text in (
        (half.count, tr("half home in {count}", count=half.count)),
        (none.count, tr("not home in {count}", count=none.count)),
        (unknown, tr("not noted in {count}", count=unknown)),
    ) if count)  # fmt: skip
    rounds = so_many(n, answer.counts)
    return (
        tr("Home in {x} of {rounds} ({limits}), {rest}.", x=x, rounds=rounds, limits=limits, rest=rest) if rest
        else tr("Home in {x} of {rounds} ({limits}).", x=x, rounds=rounds, limits=limits)
    )


def _home(answer: Answer) -> str:
    said = [home_words(answer)]
    margin = answer.figure("home_margin")
    if margin and margin.value is not None:
        said.append(tr(
            "Home {margin}, middle value of {count} ({limits}).", margin=early(margin.value, HOME_ZERO),
            count=margin.rounds,
            limits=limits_early(margin),
        ))  # fmt: skip
    return " ".join(filter(None, said))


def ways(answer: Answer) -> tuple[str, ...]:
    """Return the way home from each set-up as sentences, in the order of the set-ups: none of them is called best."""
    told = [one for one in answer.figures if one.name == "way" and one.value is not None]
    if len({(tenth(one.value or 0.0), limits_s(one)) for one in told}) == 1 and len(told) > 1:
        return (tr(
            "Way home: {time} from each set-up ({limits}). No difference can be seen.",
            time=seconds(told[0].value or 0.0), limits=limits_s(told[0]),
        ),)  # fmt: skip
    return tuple(_way(answer, one) for one in told)


def _way(answer: Answer, way: Figure) -> str:
    own, alone = answer.figure("way_own", way.of), answer.figure("way_rounds_alone", way.of)
    said = tr(
        "Way home, {setup}: {time} ({limits}).", setup=way.of, time=seconds(way.value or 0.0), limits=limits_s(way)
    )
    if not own or own.value is None or not alone or not way.rounds < (alone.value or 0) <= _MOST_ALONE:
        return said
    beside = trn(
        "Its own {count} round says {own}: to go by these alone takes about {alone} rounds.",
        "Its own {count} rounds say {own}: to go by these alone takes about {alone} rounds.", way.rounds,
        own=seconds(own.value), alone=round(alone.value or 0),
    )  # fmt: skip
    return f"{said} {beside}"


def _cost(answer: Answer) -> str:
    cost, total = answer.figure("cost"), answer.figure("cost_total")
    if cost is None:
        return _total(total, answer.counts) if total and total.value is not None else ""
    if cost.value is None or (not cost.value and cost.at_most is None):
        return tr("No points given to the opponents in {rounds}.", rounds=so_many(cost.rounds, answer.counts))
    said = [
        tr("A match gives the opponents {amount}.", amount=amount(cost)) if answer.counts == "matches"
        else tr("A round gives the opponents {amount}.", amount=amount(cost)), _further(),
    ]
    net, gain = answer.figure("net"), answer.figure("gain")
    if net and net.value is not None and gain and (gain.value or gain.at_most):
        said.append(gained_less_given(net))
    return " ".join(said)


def _total(total: Figure, counts: str) -> str:
    cost, rounds = points(total.value or 0.0), so_many(total.rounds, counts)
    if total.at_most is None:
        said = tr("Points given to the opponents in {rounds}: {points}.", rounds=rounds, points=cost)
        return f"{said} {_further()}" if total.value else said
    said = tr(
        "Points given to the opponents in {rounds}: {points}; if a video shows contact, up to {most}.", rounds=rounds,
        points=cost, most=points(total.at_most),
    )
    return f"{said} {_further()}"


def _further() -> str:
    return tr("A further contact may cost more than the first.")


_LINES = {
    "trust": _trust, "contact": _contact, "break_off": _break_off, "turn": _turn, "home": _home, "cost": _cost,
    "odd": odd_line, "tired": tired_line, "learning": learning_line, "matches": matches_line, "better": better_line,
}  # fmt: skip
_UNKNOWN = {
    "counted": tr("anything at all"),
    "contact": tr("how often there is contact"),
    "margin": tr("how early pushes are off"),
    "margin_nine_in_ten": tr("how early nine in ten pushes are off"),
    "home_full": tr("how often the robot is home"),
    "on_at_lead": tr("how many pushes are still on as the window begins"),
    "way": tr("how long the way home takes from each set-up"),
    "cost": tr("how many points are lost on average"),
    "odd": tr("whether one push was much later than usual"),
    "by_round": tr("how pushes change as an evening goes on"),
    "by_battery": tr("how pushes change on a battery"),
    "learning": tr("whether pushes end sooner as the season goes on"),
    "turn": tr("how fast the robot turns"),
    "turn_nine_in_ten": tr("how fast nine in ten turns are"),
}
