"""Each mark that a drill counts has a key, and the help line says which."""

import pytest

from tocsin.config import bundle
from tocsin.config.drills import load_drill
from tocsin.model.rig import Keys, Rig
from tocsin.runner.keymap import Keymap, with_scribe_keys

BUNDLED = [(drill, rig) for drill in bundle.names("drills") for rig in bundle.names("rigs")]


def rig_of(**marks):
    return Rig(name="Keys", keys=Keys(marks={label: tuple(keys) for label, keys in marks.items()}))


def keys_of(rig, labels):
    keymap = Keymap(with_scribe_keys(rig, labels))
    return {label: keymap.key_for(f"mark.{label}") for label in labels}


def help_of(rig, labels):
    keymap = Keymap(with_scribe_keys(rig, labels))
    lines = keymap.help("running", waits=False, variants=False, callable_cues=())
    return [(line.key, line.does) for line in lines if line.does.startswith("mark ")]


@pytest.mark.parametrize(
    ("rig", "labels", "keys"),
    [
        (rig_of(), ["contact", "turned", "home"], "jkl"),
        (rig_of(contact="c"), ["contact", "turned", "home"], "ckl"),
        (rig_of(contact="c", home="m"), ["contact", "turned", "home"], "ckm"),
        (rig_of(turned="j"), ["contact", "turned", "home"], "kjl"),
        (rig_of(), ["home", "contact"], "lj"),
        (rig_of(), ["wrong"], "j"),
        (rig_of(), ["wrong", "contact", "half", "home"], "kjil"),
        (rig_of(), ["contact", "turned", "home", "home_half", "wrong", "late"], "jklioa"),
        (rig_of(contact=""), ["contact"], "j"),
    ],
)
def test_labels_without_a_key_get_neighbouring_keys(rig, labels, keys):
    assert "".join(keys_of(rig, labels).values()) == keys
    assert help_of(rig, labels)[: len(labels)] == [
        (key, f"mark {label.replace('_', ' ')}") for key, label in zip(keys, labels, strict=True)
    ]


def test_keys_of_other_marks_stay():
    assert help_of(rig_of(slip="g", contact="c"), ["contact", "home"]) == [
        ("c", "mark contact"), ("l", "mark home"), ("g", "mark slip"),
    ]  # fmt: skip


@pytest.mark.parametrize(("drill", "rig"), BUNDLED)
def test_bundled_drills_can_be_marked_with_every_bundled_rig(drill, rig):
    found = load_drill(drill, rig)
    before, labels = Keymap(found.files.rig), found.drill.marks
    keys = keys_of(found.files.rig, labels)
    assert all(keys.values())
    assert len(set(keys.values())) == len(labels)
    # A key that did something else before would no longer do it.
    assert {before.action(key) for key in keys.values()} <= {"", *(f"mark.{label}" for label in labels)}


def test_when_no_letter_is_left_a_label_stays_without_a_key():
    labels = [f"own_{n}" for n in range(30)]
    keys = keys_of(rig_of(), labels)
    given = [key for key in keys.values() if key]
    assert len(given) == len(set(given)) < len(labels)
    assert all(key for key, _ in help_of(rig_of(), labels))
