"""What a drill waits for, step by step, and which of its own keys mean something then."""

from collections.abc import Callable
from enum import Enum, auto

from tocsin.features.drills.card import parts
from tocsin.model.clock.origins import Phase
from tocsin.model.drill import Place
from tocsin.translation import tr


class DrillStep(Enum):
    """The step that the drill waits for."""

    QUESTIONS = auto()
    CLEAR = auto()                         # on a field only
    START = auto()                         # all said: the start key begins the round
    RESULT = auto()                        # the round has ended
    REASON = auto()                        # the round is to be dropped: why?

    def ask(self, phase: Phase, key: Callable[[str], str], question: str, *, last: bool) -> str:
        """Return the question, or the key that is due; ``question`` is the safety question that is open, ``last``
        whether no round comes after this one."""
        does = self.ask_afar(phase, question, last=last)
        match self:
            case DrillStep.QUESTIONS:
                answers = parts(tr("{key}: yes", key=key("yes")), tr("{key}: no", key=key("no")))
                return f"{does} {answers}"
            case DrillStep.CLEAR:
                return " ".join((does, parts(tr("Press {key}.", key=key("clear")))))
            case DrillStep.REASON:
                return f"{does} {parts(*(f'{key(action)}: {why}' for action, why in reasons()))}"
            case DrillStep.RESULT:
                return tr("Press {key}: {does}", key=key("start"), does=does)
        return does

    def ask_afar(self, phase: Phase, question: str, *, last: bool) -> str:
        """Return the same without the laptop's keys."""
        match self:
            case DrillStep.QUESTIONS:
                return question
            case DrillStep.CLEAR:
                return tr("Nobody on the field?")
            case DrillStep.REASON:
                return tr("Why not?")
            case DrillStep.RESULT:
                return tr("end of the drill") if last else tr("next round")
        return {"over": tr("The result comes"), "scrapped": tr("This round is played again")}.get(phase, "")

    def next_words(self, phase: Phase, *, last: bool) -> str:
        """Return what the start key does at a result, an empty text elsewhere."""
        return self.ask_afar(phase, "", last=last) if self is DrillStep.RESULT and phase == "over" else ""

    def wished_names(self, *, details: bool) -> dict[str, str]:
        """Return by which name boards wish for an action of the keys, where that means something else each time."""
        match self:
            case DrillStep.RESULT:
                return {"yes": "watched"} | ({"details": "picture"} if details else {})
            case DrillStep.REASON:
                return {"drop": "keep"}
        return {}


NOTHING_TO_MARK = tr("watched, nothing to mark")
REASONS = (tr("wrong set-up"), tr("robot or field failed"), tr("start or marks wrong"))
# What must wait for a round's result, or the round would be lost.
AFTER_THE_RESULT = ("start", "leave", "repeat", "drop", "clear", "crew", "battery")
# Why no round may start yet.
WHY_NOT_YET = {
    DrillStep.QUESTIONS: tr("answer the safety questions first"),
    DrillStep.CLEAR: tr("say first that the field is clear"),
}


def called(place: Place) -> DrillStep:
    """Return the step that comes once a round is called.

    On a bench nobody is asked about a field: a wrong question teaches people to press without reading.
    """
    return DrillStep.START if place == "bench" else DrillStep.CLEAR


def reasons() -> tuple[tuple[str, str], ...]:
    """Return the actions that say why a round is not counted, and what they say."""
    return tuple((f"plan.{no}", why) for no, why in enumerate(REASONS))


def step_keys(
    step: DrillStep, phase: Phase, place: Place, *, details: bool, watched: bool, leave: str,
    others: bool = True, nothing: str = NOTHING_TO_MARK,
) -> tuple[tuple[str, str], ...]:
    """Return the actions that mean something at a step, and what they do; ``details`` if the result's sentences stand
    there in place of its picture, ``watched`` if somebody marked what happened, or said that there was nothing;
    ``leave`` says what leaving does to the drill; ``others`` whether there may be another crew, ``nothing`` what
    it does to say that there was nothing to mark."""
    if phase in ("running", "waiting", "held"):
        return (("undo", tr("undo mark")),)
    match step:
        case DrillStep.QUESTIONS:
            return (("yes", tr("yes")), ("no", tr("no")))
        case DrillStep.CLEAR | DrillStep.START if phase == "standby":
            is_first = step is DrillStep.CLEAR
            told = tr("field clear") if is_first else tr("field clear again")
            clear = (("clear", told),) if place == "field" else ()
            battery = (("battery", tr("new battery")),) if place == "field" else ()
            crew = (("crew", tr("next crew")),) if others else ()
            return (*clear, *crew, *battery, ("leave", leave))
        case DrillStep.RESULT:
            return (
                ("details", tr("picture") if details else tr("details")), ("repeat", tr("repeat the round")),
                ("undo", tr("undo mark")) if watched else ("yes", nothing),
                ("leave", leave), ("drop", tr("do not count it")),
            )  # fmt: skip
        case DrillStep.REASON:
            return (("drop", tr("do count it")),)
        case _:
            return ()
