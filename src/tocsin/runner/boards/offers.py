"""Say what boards may wish now: what the keys mean, in their words, and the marks of a scribe."""

import re
from collections.abc import Iterator

from tocsin.model.clock.origins import Phase
from tocsin.model.mark import CONTACT, OTHERS
from tocsin.model.rig import SCRIBE_KEYS
from tocsin.runner.keymap import ACTIONS
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Stage
from tocsin.runner.status import offers_of
from tocsin.service.messages import Offer
from tocsin.translation import marked, tr

# What nobody may wish over the network: words that need eyes on the field or on people, the laptop's own windows and
# rights. By the names that boards know: a result is told to have been watched by ``watched``, not by ``yes``.
NEVER = frozenset([
    "clear", "yes", "no", "leave", "display", "preflight", "all_keys", "phones", "phones_off",
])  # fmt: skip
SURE = frozenset(["scrap"])            # asked twice on the board, by these names
_SOMETIMES = frozenset(["resume", "watched", "keep", "picture"])       # names that only boards know
_OF_PLAN = re.compile(r"call\.[a-z][a-z0-9_]{0,63}|plan\.[0-9]")
MARK = "mark."
_SAID_BY_HOME = ("home_half", "home_none")         # by tapping home again
_MARKED: tuple[Phase, ...] = ("waiting", "running", "held", "over")
marked("contact by partner", "contact by opponent")


def offers(stage: Stage, programme: Programme) -> tuple[Offer, ...]:
    """Return what may be wished now: the scribe's marks in their order, then the actions that are needed most first."""
    return (*_marks(stage, programme), *_actions(stage, programme))


def known_name(action: str, programme: Programme, phase: Phase) -> str:
    """Return the keys' name of an action that a board wishes, or an empty text if it is none now."""
    names = programme.wished_names(phase)
    by_board = {board: key for key, board in names.items()}
    if action in by_board:
        return by_board[action]
    return "" if action in names or action in NEVER or action in _SOMETIMES else action


def is_action(name: str) -> bool:
    """Return whether there is such an action of the keys."""
    return name in ACTIONS or _OF_PLAN.fullmatch(name) is not None


def labels(programme: Programme, stage: Stage) -> tuple[str, ...]:
    """Return the labels that boards may mark: the scribe's three that the programme notes, contacts of others beside
    our own, then the programme's and the rig's own labels."""
    own = programme.marks
    noted = [*SCRIBE_KEYS, *stage.rig.keys.marks] if own is None else [*own, *stage.rig.keys.marks]
    known = [label for label in SCRIBE_KEYS if label in noted]
    others = [f"{CONTACT}_by_{other}" for other in OTHERS] if CONTACT in noted else []
    ours = [label for label in noted if label not in _SAID_BY_HOME]
    return tuple(dict.fromkeys([*known, *others, *ours]))


def _marks(stage: Stage, programme: Programme) -> Iterator[Offer]:
    if programme.of_match and not programme.keys_alone and stage.match.lifecycle.phase in _MARKED:
        for label in labels(programme, stage):
            yield Offer(action=f"{MARK}{label}", does=tr(label.replace("_", " ")))


def _actions(stage: Stage, programme: Programme) -> Iterator[Offer]:
    phase = stage.match.lifecycle.phase
    names = programme.wished_names(phase)
    found = {**dict(programme.choices(phase)), **dict(offers_of(stage, programme))}
    words = {"start": programme.next_words(phase)}
    for action, does in found.items():
        name = names.get(action, action)
        if name not in NEVER and not name.startswith(MARK):
            yield Offer(action=name, does=words.get(name) or does, sure=name in SURE)
