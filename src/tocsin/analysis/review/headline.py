"""Choose the one sentence of a review, and its red flags.

Red flags come first: who cannot trust the records need not read what they say. Of findings the first counts that the
limits, not only the value, put on one side, and a habit that costs points comes before all: contact, late pushes, a
robot that is not home. What happened and costs points stands above what may explain it; that all is fine is only said
where nothing is amiss.
"""

from collections.abc import Iterator, Mapping
from itertools import chain
from typing import NamedTuple

from tocsin.analysis.review.answer import Answer, Figure, Question, Review
from tocsin.analysis.review.outcomes import FEWEST_EVENINGS
from tocsin.analysis.review.words.answers import contact_words, home_words, line, so_many
from tocsin.analysis.review.words.evidence import BETTER, CHOSEN, comparison_line, is_opposed
from tocsin.analysis.review.words.numbers import limits_of_100, seconds, tenth
from tocsin.analysis.review.words.trends import is_clear
from tocsin.analysis.seasons.evidence import NO_MATTER_S
from tocsin.translation import tr, trn

MOST_ERROR_S = 0.5                     # the clock's ± in the middle; beyond it times of a second say little
OFTEN, MOST = 0.1, 0.5                 # a contact in more than one of ten rounds is a finding
MANY_UNCLEAR = 1 / 4                    # of rounds from which a video would tell much
MANY_WITHOUT_END = 1 / 2               # of pushes from which on nobody knows enough of when they ended
# What costs matches comes first; then what was drawn by lot, which needs no caution. Behind what happened stands what
# may explain it; last what the lot says of set-ups and calls that it moved, since nobody chooses these.
_FIRST: tuple[Question, ...] = ("contact", "break_off", "home", "better")
_BEHIND: tuple[Question, ...] = ("matches", "odd", "tired", "learning")
FEW = 0.1                              # of rounds that may be amiss before it is the first thing to know


class _Better(NamedTuple):
    """A sentence of what the lot showed to differ, whether by enough to matter, and whether people choose it."""

    said: str
    matters: bool
    chosen: bool

    @property
    def place(self) -> tuple[bool, bool]:
        """What people choose first, then what matters."""
        return not self.chosen, not self.matters


def headline(review: Review) -> str:
    """Return the one sentence that matters: a red flag, else the largest finding, else that there is nothing new."""
    trust = review.answer("trust")
    if trust is None or not trust.figures:
        return tr("No round to tell of.")
    grave = _grave(review, trust)
    if grave:
        return grave[0]
    answers = {answer.question: answer for answer in review.answers}
    first, behind = (
        [_finding(answers[one], evening=review.scope == "evening") for one in of if one in answers]
        for of in (_FIRST, _BEHIND)
    )
    lot = sorted(_better(answers["better"]), key=lambda one: one.place) if "better" in answers else []
    last = (_few(review), *_marks(trust), *_no_ends(answers.get("break_off")), *_unclear(answers), *_rest(answers))
    return next(filter(None, chain(first, _amiss(answers), behind, (one.said for one in lot), last)))


def flags(review: Review) -> tuple[str, ...]:
    """Return what is wrong with the records, the worst first; last that a season is too short for what its evenings'
    own pages say."""
    trust = review.answer("trust")
    if trust is None:
        return ()
    found = *_grave(review, trust), *_marks(trust), *_no_ends(review.answer("break_off"))
    return (*found, *filter(None, [_few(review) if review.trusted else ""]))


def _grave(review: Review, trust: Answer) -> list[str]:
    """Return what makes all that follows doubtful."""
    said = []
    lost, counted, unmarked = trust.figure("lost"), _count(trust, "counted"), _count(trust, "unmarked")
    if not review.trusted and lost:
        said.append(trn(
            "The only one does not count: {why}. Nothing else is told.",
            "Too few count: {lost} of {rounds} do not ({why}). Nothing else is told.", lost.rounds, lost=lost.count,
            rounds=so_many(lost.rounds, trust.counts), why="; ".join(one.why for one in review.left_out if one.lost),
        ))  # fmt: skip
    if unmarked > FEW * (counted + unmarked):
        said.append(_unmarked(unmarked, trust.counts))
    error = trust.figure("clock_error")
    if error and error.value is not None and tenth(error.value) > MOST_ERROR_S:
        said.append(tr(
            "The clock may be off by {error}: times of one round say little.", error=seconds(error.value)
        ))  # fmt: skip
    failed = _count(trust, "signals_failed")
    if failed > FEW * counted:
        said.append(_failed(failed, trust.counts))
    return said


def _marks(trust: Answer) -> list[str]:
    """Return what makes some of it doubtful."""
    said = []
    counted = _count(trust, "counted")
    unmarked, unclear, again, failed = (
        _count(trust, name) for name in ("unmarked", "unclear", "repeated", "signals_failed")
    )
    if 0 < unmarked <= FEW * (counted + unmarked):
        said.append(_unmarked(unmarked, trust.counts))
    if unclear and unclear >= MANY_UNCLEAR * counted:
        said.append(tr(
            "Film the field next time: of {rounds} only a video can tell.", rounds=so_many(unclear, trust.counts)
        ))  # fmt: skip
    if again:
        said.append(trn(
            "{count} round was played again: if because it failed, these figures look too good.",
            "{count} rounds were played again: if because they failed, these figures look too good.", again,
        ))  # fmt: skip
    if 0 < failed <= FEW * counted:
        said.append(_failed(failed, trust.counts))
    return said


def _no_ends(answer: Answer | None) -> list[str]:
    """Return that of too many pushes nobody noted the end."""
    found = answer.figure("no_end") if answer else None
    if found is None or not found.count or found.count < MANY_WITHOUT_END * found.rounds:
        return []
    return [trn(
        "Of {missing} of {count} push nobody noted when it ended: somebody must press Contact up, or Turned.",
        "Of {missing} of {count} pushes nobody noted when they ended: somebody must press Contact up, or Turned.",
        found.rounds, missing=found.count,
    )]  # fmt: skip


def _unmarked(rounds: int, counts: str) -> str:
    return tr("Nobody marked {rounds}.", rounds=so_many(rounds, counts))


def _failed(rounds: int, counts: str) -> str:
    return tr("A signal failed in {rounds}.", rounds=so_many(rounds, counts))


def _finding(answer: Answer, *, evening: bool) -> str:
    """Return an answer as the finding, or an empty text if it is none."""
    match answer.question:
        case "better":
            return next((one.said for one in _better(answer) if one.matters and one.chosen), "")
        case "contact":
            found = answer.figure("contact")
            return line(answer) if found and (found.low or 0) > OFTEN else ""
        case "break_off":
            return _late(answer.figure("surely_on"))
        case "home":
            none = answer.figure("home_none")
            return line(answer) if none and (none.low or 0) > OFTEN else ""
        case "odd":
            # Over a season some are odd by chance alone.
            return line(answer) if answer.marked and evening else ""
        case "matches":
            apart = [one for one in answer.figures if one.of == "difference"]
            return line(answer) if any(is_clear(one) for one in apart) else ""
        case "tired" | "learning":
            return line(answer) if any(is_clear(one) for one in answer.figures) else ""
    return ""


def _late(on: Figure | None) -> str:
    """Return that pushes reach into the window, counted as if each mark was as late as it may be."""
    if on is None or on.value is None or (on.low or 0) <= OFTEN:
        return ""
    if (on.low or 0) > MOST:
        return tr("Most pushes surely reach into the window: {on} of 100 ({limits}).", on=round(100 * on.value),
                  limits=limits_of_100(on))  # fmt: skip
    return tr("Pushes surely reach into the window: {on} of 100 ({limits}).", on=round(100 * on.value),
              limits=limits_of_100(on))  # fmt: skip


def _better(answer: Answer) -> Iterator[_Better]:
    """Yield what the lot showed to differ, but nothing that is sooner with more contacts."""
    for one in answer.comparisons:
        if one.verdict in BETTER and not is_opposed(answer, one):
            apart = answer.figure("difference", one.of)
            small = apart is not None and apart.value is not None and tenth(abs(apart.value)) < NO_MATTER_S
            yield _Better(comparison_line(answer, one), not small, one.factor in CHOSEN)


def _amiss(answers: Mapping[Question, Answer]) -> Iterator[str]:
    """Yield what happened that is not fine: contacts, pushes that the window found on, robots that were not home."""
    contact, on, home = (_figure(answers, *of) for of in (
        ("contact", "contact"), ("break_off", "on_at_lead"), ("home", "home_full"),
    ))  # fmt: skip
    if contact and contact.count:
        yield contact_words(answers["contact"])
    if on and on.value is not None and round(100 * on.value) and not _in_time(answers):
        yield tr(
            "{on} of 100 pushes were still on as the window began ({low} to {high}).", on=round(100 * on.value),
            low=round(100 * (on.low or 0.0)), high=round(100 * (1.0 if on.high is None else on.high)),
        )  # fmt: skip
    if home and not _as_a_rule(home):
        yield home_words(answers["home"])


def _unclear(answers: Mapping[Question, Answer]) -> Iterator[str]:
    """Yield that of some rounds only a video can tell whether there was a contact."""
    contact = _figure(answers, "contact", "contact")
    if contact and contact.at_most is not None:
        yield contact_words(answers["contact"])


def _rest(answers: Mapping[Question, Answer]) -> Iterator[str]:
    """Yield that all is fine where that is known, else what is known, or that it is too little."""
    asked = [one for one in ("contact", "break_off", "home") if one in answers]
    margin, home = _figure(answers, "break_off", "margin"), _figure(answers, "home", "home_full")
    if asked and ("contact" not in asked or _figure(answers, "contact", "contact")) and (
        "break_off" not in asked or (margin and _in_time(answers))
    ) and ("home" not in asked or home):
        yield tr("Nothing new, and that is fine.")
    yield contact_words(answers["contact"]) if "contact" in answers else ""
    for one in ("break_off", "turn", "home"):
        yield line(answers[one]) if one in answers else ""
    yield tr("Too little to tell of yet.")


def _few(review: Review) -> str:
    """Return that a season has too few evenings to be told of."""
    count = len(review.evenings)
    if review.scope == "evening" or count >= FEWEST_EVENINGS:
        return ""
    if review.scope == "matches":
        return trn(
            "One day of matches so far: its own page says what happened. What is usual takes three days.",
            "{count} days of matches so far: their own pages say what happened. What is usual takes three days.", count,
        )  # fmt: skip
    return trn(
        "One evening so far: its own page says what happened. A season says what is usual, which takes three evenings.",
        "{count} evenings so far: their own pages say what happened. A season says what is usual, which takes three "
        "evenings.", count,
    )  # fmt: skip


def _in_time(answers: Mapping[Question, Answer]) -> bool:
    """Return whether the limits of the margin lie before the window, as they are printed."""
    margin = _figure(answers, "break_off", "margin")
    return margin is not None and margin.low is not None and tenth(margin.low) > 0


def _as_a_rule(home: Figure) -> bool:
    return home.rounds - (home.count or 0) <= FEW * home.rounds


def _figure(answers: Mapping[Question, Answer], question: Question, name: str) -> Figure | None:
    answer = answers.get(question)
    return answer.figure(name) if answer else None


def _count(answer: Answer, name: str) -> int:
    found = answer.figure(name)
    return (found.count or 0) if found else 0
