"""Map keys and pad buttons to actions, and write the help line."""

from collections.abc import Iterable, Iterator

import msgspec

from tocsin.model.clock.origins import Phase
from tocsin.model.display.status import KeyHelp
from tocsin.model.rig import SCRIBE_KEYS, Keys, Rig
from tocsin.runner.match.match import NUDGE_NS
from tocsin.units import NS_PER_S

_ACTIONS = (
    "start", "scrap", "hold", "begin", "variant", "earlier", "later", "preflight", "mute", "louder", "softer", "leave",
    "clear", "yes", "no", "repeat", "drop", "crew", "battery", "undo", "sync", "all_keys", "details",
)  # fmt: skip
_PAD = "pad."
_MOST_KEYS = 2                         # more for one thing are not read
_NUDGE_S = NUDGE_NS / NS_PER_S
_HELP: dict[Phase, tuple[tuple[str, str], ...]] = {
    "standby": (("start", "start"), ("preflight", "try every device"), ("variant", "variant"), ("leave", "leave")),
    "waiting": (("scrap", "cancel"), ("variant", "variant"), ("sync", "official moment")),
    "running": (
        ("scrap", "cancel"), ("hold", "hold"), ("begin", "begin period"), ("earlier", f"clock {_NUDGE_S:g} s on"),
        ("later", f"clock {_NUDGE_S:g} s back"), ("sync", "official moment"), ("mute", "mute"),
    ),
    "held": (("hold", "resume"), ("scrap", "cancel")),
    "over": (("start", "next"), ("leave", "leave")),
    "scrapped": (("start", "next"), ("leave", "leave")),
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
    for action in _ACTIONS:
        for key in getattr(keys, action):
            yield key, action
    for cue, names in keys.call.items():
        for key in names:
            yield key, f"call.{cue}"
    for label, names in keys.marks.items():
        for key in names:
            yield key, f"mark.{label}"


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
        return " or ".join(readable(key) for key in keys[:_MOST_KEYS])

    def help(
        self,
        phase: Phase,
        *,
        waits: bool,
        variants: bool,
        callable_cues: Iterable[str],
        besides: Iterable[tuple[str, str]] = (),
        alone: bool = False,
        marks: bool = True,
    ) -> tuple[KeyHelp, ...]:
        """Return the keys that have an action now: those of the phase and ``besides``; in a run, calls and marks.

        ``alone`` leaves those of the phase out, ``marks`` False those of marks.
        """
        lines = []
        for action, does in (*(() if alone else _HELP[phase]), *besides):
            if (action == "begin" and not waits) or (action == "variant" and not variants):
                continue
            if key := self.key_for(action):
                lines.append(KeyHelp(key=key, does=does, action=action))
        if phase == "running":
            for cue in callable_cues:
                if key := self.key_for(f"call.{cue}"):
                    lines.append(KeyHelp(key=key, does=f"call {cue.replace('_', ' ')}", action=f"call.{cue}"))
            for label in self._keys.marks if marks else ():
                action = f"mark.{label}"
                if key := self.key_for(action):
                    lines.append(KeyHelp(key=key, does=f"mark {label.replace('_', ' ')}", action=action))
        return tuple(lines)


def readable(key: str) -> str:
    """Return the name of a key or of a pad's button as people read it.

    >>> readable("page_down"), readable("pad.driver.6")
    ('page down', 'button 6 of the driver')
    """
    if key.startswith(_PAD):
        role, _, button = key.removeprefix(_PAD).partition(".")
        return f"button {button} of the {role}"
    return key.replace("_", " ")
