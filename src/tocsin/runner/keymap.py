"""Map keys and pad buttons to actions, and write the help line."""

from collections.abc import Iterable, Iterator

import msgspec

from tocsin.model.clock.origins import Phase
from tocsin.model.display.status import ALL_KEYS, GIVE_RIGHTS, TAKE_RIGHTS, KeyHelp
from tocsin.model.mark import whose
from tocsin.model.rig import SCRIBE_KEYS, Keys, Rig
from tocsin.runner.match.match import NUDGE_NS
from tocsin.translation import marked, tr
from tocsin.units import NS_PER_S

ACTIONS = (
    "start", "scrap", "hold", "begin", "variant", "earlier", "later", "preflight", "mute", "louder", "softer", "leave",
    "clear", "yes", "no", "repeat", "drop", "crew", "battery", "undo", "sync", "display", "all_keys", "details",
    GIVE_RIGHTS, TAKE_RIGHTS,
)  # fmt: skip
_PAD = "pad."
_MOST_KEYS = 2                         # more for one thing are not read
_NUDGE_S = NUDGE_NS / NS_PER_S
_CALLS = "call"                        # stands for the keys of all cues that can be given by hand
_MOST_LARGE = 3                        # a hand has three fingers beside each other that press quickly
_SMALLER = ("home_half", "home_none")  # said by tapping home again
_IN_MATCH: tuple[Phase, ...] = ("waiting", "running", "held")
SOUND = ("mute", "louder", "softer")
LOUDNESS = (("mute", tr("mute")), ("louder", tr("louder")), ("softer", tr("softer")))
_PHONES = {GIVE_RIGHTS: tr("let a phone mark or lead"), TAKE_RIGHTS: tr("phones only watch")}
_DISPLAY = (("display", tr("type the display (twice)")),)
# In each phase what is needed most comes first: more than five are not shown at once.
_HELP: dict[Phase, tuple[tuple[str, str], ...]] = {
    "standby": (
        ("start", tr("start")), ("preflight", tr("try every device")), ("variant", tr("variant")),
        ("leave", tr("leave")), *LOUDNESS[1:],
    ),
    "waiting": (
        ("scrap", tr("cancel")), ("variant", tr("variant")), ("sync", tr("official moment")), *_DISPLAY, *LOUDNESS,
    ),
    "running": (
        ("scrap", tr("cancel")), ("hold", tr("hold")), ("begin", tr("begin period")), (_CALLS, ""),
        ("sync", tr("official moment")), *_DISPLAY, ("earlier", tr("clock {nudge:g} s forward", nudge=_NUDGE_S)),
        ("later", tr("clock {nudge:g} s back", nudge=_NUDGE_S)), *LOUDNESS,
    ),
    "held": (("hold", tr("resume")), ("scrap", tr("cancel"))),
    "over": (("start", tr("next")), ("leave", tr("leave"))),
    "scrapped": (("start", tr("next")), ("leave", tr("leave"))),
}  # fmt: skip


# For labels of other kinds: what lies beside the scribe's three keys first.
_OTHERS = "0654ioclujabdefghkmnpqrstvwxyz"


def with_scribe_keys(rig: Rig, labels: Iterable[str]) -> Rig:
    """Return the rig with a key for each label that has none: the scribe's own, else the next free one.

    The labels come first among its marks, in their order. A label without a free key stays without a key.
    """
    labels = tuple(labels)
    taken = {key for key, _ in _bound(rig.keys)}
    marks: dict[str, tuple[str, ...]] = {}
    for label in labels:
        keys = rig.keys.marks.get(label, ())
        if not keys:
            free = (key for key in (SCRIBE_KEYS.get(label, ""), *_OTHERS) if key and key not in taken)
            keys = tuple(next(free, ""))
        taken.update(keys)
        marks[label] = keys
    others = {label: keys for label, keys in rig.keys.marks.items() if label not in marks}
    return msgspec.structs.replace(rig, keys=msgspec.structs.replace(rig.keys, marks=marks | others))


def _bound(keys: Keys) -> Iterator[tuple[str, str]]:
    for action in ACTIONS:
        for key in getattr(keys, action):
            yield key, action
    for cue, names in keys.call.items():
        for key in names:
            yield key, f"call.{cue}"
    for label, names in keys.marks.items():
        for key in names:
            yield key, f"mark.{label}"


# Keys by what is printed on them, and marks, as people read them.
marked(
    "space", "enter", "escape", "tab", "backspace", "insert", "delete", "home", "end", "page up", "page down", "left",
    "right", "up", "down", "plus", "minus", "comma", "period", "slash", "semicolon", "quote", "equals", "left bracket",
    "right bracket", "backslash", "backquote", "contact", "turned", "home half", "home none",
)  # fmt: skip


class Keymap:
    """Actions by key. An action is one of the rig's keys, ``call.<cue>``, ``mark.<label>`` or ``plan.<n>``."""

    def __init__(self, rig: Rig) -> None:
        self._keys = rig.keys
        self._actions = {str(n + 1): f"plan.{n}" for n in range(3)} | dict(_bound(rig.keys))
        for pad in rig.pads:
            for button, action in pad.buttons.items():
                self._actions[f"{_PAD}{pad.role}.{button}"] = action

    def action(self, key: str) -> str:
        """Return the action of a key or ``pad.<role>.<button>``, or an empty text."""
        return self._actions.get(key, "")

    def key_for(self, action: str) -> str:
        """Return the key or keys to press for an action, as people read them, or an empty text.

        A pad's button is named only if no key has the action.
        """
        bound = [key for key, what in self._actions.items() if what == action]
        keys = [key for key in bound if not key.startswith(_PAD)] or bound
        return tr(" or ").join(readable(key) for key in keys[:_MOST_KEYS])

    def keyed(self, offers: Iterable[tuple[str, str]]) -> tuple[KeyHelp, ...]:
        """Return the keys of actions and what they do; an action without a key is left out."""
        entries = (self._entry(action, does) for action, does in offers)
        return tuple(entry for entry in entries if entry.key)

    def offers(
        self,
        phase: Phase,
        *,
        waits: bool,
        variants: bool,
        callable_cues: Iterable[str],
        besides: Iterable[tuple[str, str]] = (),
        alone: bool = False,
        marks: bool = True,
        starts: bool = True,
        sound: bool = True,
        phones: Iterable[str] = (),
    ) -> tuple[tuple[str, str], ...]:
        """Return the actions that mean something now, with or without a key, and what they do, those that are needed
        most first: those of the phase, behind its first in standby and after the end, and before all others in a match,
        those of ``besides``; in a run, calls and marks.

        ``alone`` leaves those of the phase out, ``marks`` False those of marks, ``starts`` False the start of a match,
        ``sound`` False those that make the sound louder or softer. ``phones`` are the actions about phones.
        """
        own = () if alone else tuple(entry for entry in _HELP[phase] if sound or entry[0] not in SOUND)
        first = 0 if phase in _IN_MATCH else 1
        of_phones = [(action, _PHONES[action]) for action in phones]
        of_run = self._of_run(phase, alone=alone, marks=marks)
        found = dict.fromkeys([*own[:first], *besides, *own[first:], *of_phones, *of_run])
        cues = tuple(callable_cues)
        offers: dict[str, str] = {}
        for action, does in found:
            if action == _CALLS:
                offers |= {f"call.{cue}": tr("call {words}", words=_words(cue)) for cue in cues}
            elif {"begin": waits, "variant": variants, "start": starts}.get(action, True):
                offers.setdefault(action, does)
        return tuple(offers.items())

    def scribe(self, labels: Iterable[str] | None = None) -> tuple[KeyHelp, ...]:
        """Return the keys of the marks that a scribe presses most, at most three: of ``labels``, or of all that have a
        key; the scribe's own first, in the order of what happens, then the others in theirs."""
        known = [*SCRIBE_KEYS, *(self._keys.marks if labels is None else labels)]
        wanted = set(self._keys.marks if labels is None else labels)
        own = [label for label in known if label in wanted and label not in _SMALLER and not whose(label)[1]]
        more = {"home": tr(" (twice: half home)")} if "home_half" in wanted else {}
        does = {label: tr(_words(label)) + more.get(label, "") for label in own}
        entries = (self._entry(f"mark.{label}", text) for label, text in does.items())
        return tuple([entry for entry in entries if entry.key][:_MOST_LARGE])

    def _of_run(self, phase: Phase, *, alone: bool, marks: bool) -> Iterator[tuple[str, str]]:
        """Yield the actions of a match that is on: calls, where the phase does not place them, undo and marks."""
        if phase == "running" and alone:
            yield _CALLS, ""
        if phase in _IN_MATCH and marks and self._keys.marks:
            yield "undo", tr("undo mark")
        if phase == "running" and marks:
            yield from ((f"mark.{label}", tr("mark {words}", words=tr(_words(label)))) for label in self._keys.marks)
        if not alone:
            yield ALL_KEYS, tr("all keys")

    def _entry(self, action: str, does: str) -> KeyHelp:
        return KeyHelp(key=self.key_for(action), does=does, action=action)


def _words(name: str) -> str:
    return name.replace("_", " ")


def readable(key: str) -> str:
    """Return the name of a key or of a pad's button as people read it.

    >>> readable("page_down"), readable("pad.driver.6")
    ('page down', 'button 6 of the driver')
    """
    if key.startswith(_PAD):
        role, _, button = key.removeprefix(_PAD).partition(".")
        return tr("button {button} of the {role}", button=button, role=tr(role))
    return tr(_words(key))
