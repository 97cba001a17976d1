"""What must fit together within a rig, and between a rig and the plans that it is used with."""

from collections.abc import Iterable, Iterator

from tocsin.config.document import Document
from tocsin.config.fields import closest, listing, quoted
from tocsin.config.rig_schema import ACTIONS
from tocsin.model.mistake import Mistake, Path
from tocsin.model.plan import Plan
from tocsin.model.rig import KEYS_OF_CONTROL_PROGRAMS, Keys, Rig

_PLAN_KEYS = ("1", "2", "3")
_MOST_BUTTONS = 64


def check_rig(document: Document, rig: Rig) -> None:
    """Report every mistake of a rig that no single value shows."""
    if rig.drives_robot and rig.priority == "realtime":
        _report(document, "realtime_beside_robot", ("priority",), likely='"raised"')
    _check_keys(document, rig)
    for index, pad in enumerate(rig.pads):
        if not (pad.usb or pad.guid or pad.name or pad.order is not None):
            _report(document, "pad_names_nothing", ("pad", index))
        twins = [n for n in range(index) if _same_pad(rig, n, index)]
        if twins:
            first = document.places.keys.get(("pad", twins[0])) or document.places.values.get(("pad", twins[0]))
            _report(document, "pad_twice", ("pad", index), first=str(_line(document, first.begin)) if first else "?")
        for button, action in pad.buttons.items():
            _check_button(document, rig, index, button, action)
    if rig.light is not None and rig.light.port == "auto" and not rig.light.usb:
        _report(document, "no_port_no_usb", ("light",))


def check_calls(document: Document, rig: Rig, plans: Iterable[Plan]) -> None:
    """Report keys that call cues which no plan lets be called."""
    cues = {cue.id: cue.callable for plan in plans for cue in plan.cues}
    known = [name for name, may in cues.items() if may]
    for name in rig.keys.call:
        if name in cues and not cues[name]:
            _report_key(document, "not_callable", ("keys", "call", name), text=name, known=listing(known))


def _check_keys(document: Document, rig: Rig) -> None:
    taken: dict[str, tuple[str, Path]] = {}
    bound = sorted(_bound(rig.keys), key=lambda entry: entry[2] not in document.places.values)
    for key, action, path in bound:
        written = path in document.places.values
        if rig.drives_robot and key in KEYS_OF_CONTROL_PROGRAMS:
            _report(document, "key_of_control_program", path, text=key)
        if key in _PLAN_KEYS and action in ACTIONS and action != "start":
            _report(document, "key_chooses_plan", path, text=key)
        if key in taken:
            other, other_path = taken[key]
            how = "" if other_path in document.places.values else " by default"
            _report(document, "key_taken", path if written else other_path, text=key, other=other, how=how)
        else:
            taken[key] = (action, path)


def _bound(keys: Keys) -> Iterator[tuple[str, str, Path]]:
    for action in ACTIONS:
        for index, key in enumerate(getattr(keys, action)):
            yield key, action, ("keys", action, index)
    for name, names in keys.call.items():
        for index, key in enumerate(names):
            yield key, f"call {name}", ("keys", "call", name, index)
    for label, names in keys.marks.items():
        for index, key in enumerate(names):
            yield key, f"mark {label}", ("keys", "marks", label, index)


def _check_button(document: Document, rig: Rig, index: int, button: str, action: str) -> None:
    path: Path = ("pad", index, "buttons", button)
    if not (button.isascii() and button.isdecimal() and int(button) < _MOST_BUTTONS):
        _report_key(document, "button_number", path, text=button)
    known = [*ACTIONS, *(f"call.{name}" for name in rig.keys.call), *(f"mark.{name}" for name in rig.keys.marks)]
    if action not in known and not action.startswith(("call.", "mark.")):
        likely = closest(action, known)
        facts = {"text": action, "known": listing(known), "likely": quoted(likely) if likely else ""}
        document.report(Mistake(code="button_action", file="rig", path=path, facts=facts))


def _same_pad(rig: Rig, one: int, other: int) -> bool:
    first, second = rig.pads[one], rig.pads[other]
    return (first.usb, first.guid, first.name, first.order) == (second.usb, second.guid, second.name, second.order)


def _line(document: Document, offset: int) -> int:
    return document.text.count("\n", 0, offset) + 1


def _report(document: Document, code: str, path: Path, **facts: str) -> None:
    document.report(Mistake(code=code, file="rig", path=path, facts=facts))


def _report_key(document: Document, code: str, path: Path, **facts: str) -> None:
    document.report_key(code, path, facts)
