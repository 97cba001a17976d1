"""Choose the one sentence of a review, and its red flags.

Red flags come first: who cannot trust the records need not read what they say. Of findings the first counts that the
limits, not only the value, put on one side: a habit that costs points before anything that explains it.
"""

from tocsin.analysis.review.answer import Answer, Figure, Review
from tocsin.analysis.review.numbers import limits_of_100, seconds, tenth
from tocsin.analysis.review.words import line
from tocsin.translation import tr, trn

MOST_ERROR_S = 0.5                     # the clock's ± in the middle; beyond it times of a second say little
OFTEN = 0.1                            # a contact in more than one of ten rounds is a finding
MOST_UNCLEAR = 1 / 3


def headline(review: Review) -> str:
    """Return the one sentence that matters: a red flag, else the largest finding, else that there is nothing new."""
    trust = review.answer("trust")
    if trust is None or not trust.figures:
        return tr("No round to tell of.")
    if not review.trusted:
        return flags(review)[0]
    found = next((said for answer in review.answers if (said := _finding(answer))), "")
    return found or tr("Nothing new, and that is fine.")


def flags(review: Review) -> tuple[str, ...]:
    """Return what is wrong with the records, the worst first."""
    trust = review.answer("trust")
    if trust is None:
        return ()
    said = []
    lost = trust.figure("lost")
    if not review.trusted and lost:
        said.append(trn(
            "Too few rounds count: {lost} of {count} is lost. Nothing else is told.",
            "Too few rounds count: {lost} of {count} are lost. Nothing else is told.", lost.rounds, lost=lost.count,
        ))  # fmt: skip
    said += [*_marks(trust), *_clock(trust)]
    return tuple(said)


def _marks(trust: Answer) -> list[str]:
    said = []
    unmarked, unclear, again = (_count(trust, name) for name in ("unmarked", "unclear", "repeated"))
    if unmarked:
        said.append(trn("Nobody marked {count} round.", "Nobody marked {count} rounds.", unmarked))
    counted = _count(trust, "counted")
    if counted and unclear > MOST_UNCLEAR * counted:
        said.append(trn(
            "Of {unclear} of {count} round only a video can tell how it came out.",
            "Of {unclear} of {count} rounds only a video can tell how they came out.", counted, unclear=unclear,
        ))  # fmt: skip
    if again:
        said.append(trn(
            "{count} round was played again: if because it failed, these figures look too good.",
            "{count} rounds were played again: if because they failed, these figures look too good.", again,
        ))  # fmt: skip
    return said


def _clock(trust: Answer) -> list[str]:
    said = []
    error = trust.figure("clock_error")
    if error and error.value is not None and tenth(error.value) > MOST_ERROR_S:
        said.append(tr(
            "The clock may be off by {error}: times of one round say little.", error=seconds(error.value)
        ))  # fmt: skip
    failed = _count(trust, "signals_failed")
    if failed:
        said.append(trn(
            "A signal failed in {count} round.", "A signal failed in {count} rounds.", failed,
        ))  # fmt: skip
    return said


def _finding(answer: Answer) -> str:
    """Return an answer as the finding of the evening, or an empty text if it is none."""
    match answer.question:
        case "contact":
            found = answer.figure("contact")
            return line(answer) if found and (found.low or 0) > OFTEN else ""
        case "break_off":
            return _late(answer.figure("margin"), answer.figure("on_at_lead"))
    return ""


def _late(margin: Figure | None, on: Figure | None) -> str:
    if not margin or margin.value is None or margin.high is None or tenth(margin.high) >= 0 or not on:
        return ""
    return tr(
        "Most pushes are off too late: the middle value is {late} behind the begin of the window ({limits} still on).",
        late=seconds(margin.value), limits=limits_of_100(on),
    )  # fmt: skip


def _count(answer: Answer, name: str) -> int:
    found = answer.figure(name)
    return (found.count or 0) if found else 0
