"""Find out whether a person noticed a device: fire forms until the answers name them, or do not."""

from collections.abc import Callable, Sequence
from random import Random
from typing import Literal, NamedTuple

from tocsin.features.devices.tryout.forms import Form
from tocsin.features.devices.tryout.people import AGAIN, LEAVE_OUT, Dialogue
from tocsin.translation import tr

Verdict = Literal["confirmed", "not_confirmed", "swapped", "absent", "lost", "failed", "left_alone", "left_out"]
RIGHT_IN_A_ROW = 2                     # the second form is another one, so that no habitual answer is right twice
MOST_FIRINGS = 5
MOST_NOTHINGS = 2


class Attempt(NamedTuple):
    """A fired form and the person's answer, None for nothing noticed."""

    fired: Form
    named: Form | None


class DeviceOutcome(NamedTuple):
    """The result: ``why`` a device did not come, and all answers."""

    verdict: Verdict
    answers: tuple[Attempt, ...] = ()
    why: str = ""


class Question(NamedTuple):
    """A question. ``fire`` fires a form and returns why it did not come, or an empty text; ``gone`` returns whether the
    device went away."""

    text: str
    forms: Sequence[Form]
    fire: Callable[[Form], str]
    gone: Callable[[], bool]


def find_out(question: Question, people: Dialogue, random: Random) -> DeviceOutcome:
    """Fire forms and ask for them, until two answers in a row are right. Raises LeftError, EndedError.

    A form never comes twice in a row, except when it is asked for again.
    """
    answers: list[Attempt] = []
    form = random.choice(question.forms)
    while not _settled(answers):
        if why := question.fire(form):
            return DeviceOutcome("lost" if question.gone() else "failed", tuple(answers), why)
        named = _asked(question, people)
        if named == AGAIN:
            continue
        if named is None or named == LEAVE_OUT:
            return DeviceOutcome("left_out" if named else "lost", tuple(answers))
        choice = int(named) - 1
        answers.append(Attempt(form, question.forms[choice] if choice < len(question.forms) else None))
        if answers[-1].named != form:
            people.say(tr("  It was: {title}.", title=form.title))
        form = random.choice([other for other in question.forms if other != form])
    return DeviceOutcome("confirmed" if _confirmed(answers) else "not_confirmed", tuple(answers))


def _settled(answers: Sequence[Attempt]) -> bool:
    nothings = answers[-MOST_NOTHINGS:]
    nothing = len(nothings) == MOST_NOTHINGS and all(answer.named is None for answer in nothings)
    return nothing or _confirmed(answers) or len(answers) == MOST_FIRINGS


def _confirmed(answers: Sequence[Attempt]) -> bool:
    row = answers[-RIGHT_IN_A_ROW:]
    return len(row) == RIGHT_IN_A_ROW and all(answer.named == answer.fired for answer in row)


def _asked(question: Question, people: Dialogue) -> str | None:
    """Return the key of the answer, None if the device went away."""
    titles = [*(form.title for form in question.forms), "nothing"]
    choices = ", ".join(f"{number}: {title}" for number, title in enumerate(titles, 1))
    keys = [*(str(number) for number in range(1, len(titles) + 1)), AGAIN, LEAVE_OUT]
    return people.ask(
        tr(
            "{text} {choices}; {again}: again, {leave_out}: leave it out", text=question.text, choices=choices,
            again=AGAIN, leave_out=LEAVE_OUT,
        ),
        keys,
        question.gone,
    )
