"""Check what must fit together within a rig, and between a rig and its plans."""

from collections.abc import Iterable, Iterator, Mapping

from tocsin.config.schema.rig import ACTIONS
from tocsin.config.schema.values import ID_PATTERN
from tocsin.config.toml.document import Document
from tocsin.config.toml.phrases import listing, only_word, quoted
from tocsin.model.diagnostics import Diagnostic, Path
from tocsin.model.plan import Plan
from tocsin.model.rig import KEYS_BESIDE_ROBOT, Keys, Pad, Rig
from tocsin.model.serial_port import AUTO
from tocsin.model.spelling import only_reading, tidied
from tocsin.translation import tr

# What tells pads apart, or ports, says nothing beside the name of a package's device.
_NOT_BESIDE_DEVICE = {
    "pad": ("usb", "guid", "name", "order", "hidapi", "buttons"), "light": ("port", "usb", "protocol", "baud"),
}
_PLAN_KEYS = ("1", "2", "3")
_MOST_BUTTONS = 64


def check_rig(document: Document, rig: Rig) -> None:
    """Report every mistake of a rig that no single value shows."""
    if rig.drives_robot and rig.priority == "realtime":
        _report(document, "realtime_beside_robot", ("priority",))
    _check_keys(document, rig)
    for index, pad in enumerate(rig.pads):
        named = ("usb", "guid", "name", "order", "device")
        _check_beside_device(document, ("pad", index), pad.device)
        if not any(getattr(pad, key) for key in named) and not _is_lost(document, ("pad", index), named):
            _report(document, "pad_names_nothing", ("pad", index))
        twins = [n for n in range(index) if _same_pad(rig, n, index)]
        if twins:
            first = document.line_of(document.original_path(("pad", twins[0])))
            _report(document, "pad_twice", ("pad", index), first=str(first))
        for button, action in pad.buttons.items():
            _check_button(document, index, button, action)
    was_lost = _is_lost(document, ("light",), ("port", "usb", "device"))
    if rig.light is None:
        return
    _check_beside_device(document, ("light",), rig.light.device)
    if rig.light.port == AUTO and not (rig.light.usb or rig.light.device or was_lost):
        _report(document, "no_port_no_usb", ("light",))


def check_calls(document: Document, rig: Rig, plans: Iterable[Plan], *, strict: bool) -> None:
    """Report keys and buttons that call a cue that can be given by hand in none of the plans.

    A cue that none of the plans has is reported only if ``strict``.
    """
    plans = list(plans)
    cues = _callable_by_id(plans)
    known = [name for name, may in cues.items() if may]
    for name in rig.keys.call:
        if not cues.get(name) and (strict or name in cues):
            meant = "" if name in cues else only_reading(name, known)
            is_right = meant in _other_names(plans) and name not in _other_names(plans)
            options = (
                tr("{meant} here, or id = {name} in the plan", meant=meant, name=quoted(name)) if meant and not is_right
                else ""
            )
            facts = {"text": name, "known": listing(known), "likely": meant if is_right else "", "options": options}
            document.report_key(_call_code(name, cues), ("keys", "call", name), facts)
    for index, pad in enumerate(rig.pads):
        for button, name in _called_by(pad):
            if not cues.get(name) and (strict or name in cues):
                path = ("pad", index, "buttons", button)
                _report(document, _call_code(name, cues), path, text=name, known=listing(known))


def _other_names(plans: Iterable[Plan]) -> set[str]:
    """Return the names of patterns and leads, and the words said: a cue is mostly named as one of them."""
    names: set[str] = set()
    for plan in plans:
        names |= {*plan.leads, *(tidied(cue.say) for cue in plan.cues)}
        names |= {pattern for cue in plan.cues for pattern in cue.patterns.values()}
    return names


def idle_calls(rig: Rig, plans: Iterable[Plan]) -> dict[str, str]:
    """Return each key and button of a pad that does nothing with these plans, with the cue that it would call."""
    cues = _callable_by_id(plans)
    calls = [(tr("the key {key}", key=key), name) for name, keys in rig.keys.call.items() for key in keys]
    calls += [
        (tr("the {role}'s button {button}", role=pad.role, button=button), name)
        for pad in rig.pads
        for button, name in _called_by(pad)
    ]
    return {what: name for what, name in calls if not cues.get(name)}


def _callable_by_id(plans: Iterable[Plan]) -> dict[str, bool]:
    cues: dict[str, bool] = {}
    for cue in (cue for plan in plans for cue in plan.cues):
        cues[cue.id] = cues.get(cue.id, False) or cue.callable
    return cues


def _called_by(pad: Pad) -> Iterator[tuple[str, str]]:
    """Yield the pad's buttons that call, each with its cue."""
    for button, action in pad.buttons.items():
        group, _, name = action.partition(".")
        if group == "call":
            yield button, name


def _call_code(name: str, cues: Mapping[str, bool]) -> str:
    return "not_callable" if name in cues else "call_unknown"


def _check_keys(document: Document, rig: Rig) -> None:
    taken: dict[str, tuple[str, Path]] = {}
    # What the file says comes first: a default key that collides with it is then named as such.
    for key, action, path in sorted(_bound(rig.keys), key=lambda entry: not _is_written(document, entry[2])):
        if rig.drives_robot and key not in KEYS_BESIDE_ROBOT:
            _report(document, "key_beside_robot", path, text=key)
        if key in _PLAN_KEYS and action in ACTIONS:
            _report(document, "key_chooses_plan", path, text=key)
        other, other_path = taken.setdefault(key, (action, path))
        if other_path == path:
            continue
        if other == action:
            _report(document, "listed_twice", path, text=key)
        elif _is_written(document, path):
            _report(document, "key_taken", path, text=key, other=other)
        else:
            _report(document, "key_taken", other_path, text=key, other=action, how=tr(" by default"))


def _is_written(document: Document, path: Path) -> bool:
    """Return whether the file itself gives this key, in a list or alone."""
    return path in document.places.values or path[:-1] in document.places.values


def _bound(keys: Keys) -> Iterator[tuple[str, str, Path]]:
    for action in ACTIONS:
        for index, key in enumerate(getattr(keys, action)):
            yield key, action, ("keys", action, index)
    for name, names in keys.call.items():
        for index, key in enumerate(names):
            yield key, tr("call {name}", name=name), ("keys", "call", name, index)
    for label, names in keys.marks.items():
        for index, key in enumerate(names):
            yield key, tr("mark {label}", label=label), ("keys", "marks", label, index)


def _is_lost(document: Document, table: Path, keys: Iterable[str]) -> bool:
    """Return whether one of a table's keys is there, but could not be read."""
    return any((*document.original_path(table), key) in document.lost for key in keys)


def _check_button(document: Document, index: int, button: str, action: str) -> None:
    path: Path = ("pad", index, "buttons", button)
    if not (button.isascii() and button.isdecimal() and int(button) < _MOST_BUTTONS):
        document.report_key("button_number", document.original_path(path), {"text": button})
    group, _, name = action.partition(".")
    if action in ACTIONS or (group in ("call", "mark") and ID_PATTERN.fullmatch(name)):
        return
    likely = f"mark.{name}" if group == "marks" else only_word(action, ACTIONS)
    known = listing((*ACTIONS, "call.CUE", "mark.LABEL"))
    _report(document, "button_action", path, text=action, known=known, likely=quoted(likely) if likely else "")


def _check_beside_device(document: Document, table: Path, device: str) -> None:
    for key in _NOT_BESIDE_DEVICE[str(table[0])] if device else ():
        if document.original_path((*table, key)) in document.places.keys:
            _report(document, "device_beside", (*table, key), key=key, device=device)


def _same_pad(rig: Rig, one: int, other: int) -> bool:
    first, second = rig.pads[one], rig.pads[other]
    keys = ("usb", "guid", "name", "order", "device")
    return all(getattr(first, key) == getattr(second, key) for key in keys)


def _report(document: Document, code: str, path: Path, **facts: str) -> None:
    document.report(Diagnostic(code=code, file="rig", path=document.original_path(path), facts=facts))

