"""Each mark that a drill counts has a key, and the help line says which."""

import pytest

from tocsin.config import bundle
from tocsin.config.drills import load_drill
from tocsin.model.rig import KEYS_BESIDE_ROBOT, SCRIBE_KEYS, Keys, Rig
from tocsin.runner.keymap import Keymap, with_scribe_keys

BUNDLED = [(drill, rig) for drill in bundle.names("drills") for rig in bundle.names("rigs")]


def rig_of(**marks):
    return Rig(name="Keys", keys=Keys(marks={label: tuple(keys) for label, keys in marks.items()}))


def keys_of(rig, labels):
    keymap = Keymap(with_scribe_keys(rig, labels))
    return {label: keymap.key_for(f"mark.{label}") for label in labels}


def help_of(rig, labels):
    keymap = Keymap(with_scribe_keys(rig, labels))
    lines = keymap.keyed(keymap.offers("running", waits=False, variants=False, callable_cues=()))
    return [(line.key, line.does) for line in lines if line.does.startswith("mark ")]


@pytest.mark.parametrize(
    ("rig", "labels", "keys"),
    [
        (rig_of(), ["contact", "turned", "home"], "789"),
        (rig_of(contact="c"), ["contact", "turned", "home"], "c89"),
        (rig_of(contact="c", home="l"), ["contact", "turned", "home"], "c8l"),
        (rig_of(turned="7"), ["contact", "turned", "home"], "079"),
        (rig_of(), ["home", "contact"], "97"),
        (rig_of(), ["wrong"], "0"),
        (rig_of(), ["wrong", "contact", "half", "home"], "0769"),
        (rig_of(), ["contact", "turned", "home", "home_half", "wrong", "late"], "789065"),
        (rig_of(contact=""), ["contact"], "7"),
    ],
)
def test_labels_without_a_key_get_neighbouring_keys(rig, labels, keys):
    assert "".join(keys_of(rig, labels).values()) == keys
    assert help_of(rig, labels)[: len(labels)] == [
        (key, f"mark {label.replace('_', ' ')}") for key, label in zip(keys, labels, strict=True)
    ]


def test_keys_of_other_marks_stay():
    assert help_of(rig_of(slip="g", contact="c"), ["contact", "home"]) == [
        ("c", "mark contact"), ("9", "mark home"), ("g", "mark slip"),
    ]  # fmt: skip


@pytest.mark.parametrize("rig", bundle.names("rigs"))
def test_the_scribes_three_keys_are_the_same_in_every_bundled_rig_and_without_one(rig):
    found = load_drill("break_off", rig).files.rig
    assert keys_of(found, SCRIBE_KEYS) == SCRIBE_KEYS == keys_of(rig_of(), SCRIBE_KEYS)
    assert set(SCRIBE_KEYS.values()) <= KEYS_BESIDE_ROBOT


# Rows of a keyboard, each shifted by so many keys against the row of digits (ISO 9995, from memory).
ROWS = {
    "English": ((0, "1234567890"), (0.5, "qwertyuiop"), (0.75, "asdfghjkl"), (1.25, "zxcvbnm")),
    "German": ((0, "1234567890"), (0.5, "qwertzuiop"), (0.75, "asdfghjkl"), (1.25, "yxcvbnm")),
    "French": ((0, "1234567890"), (0.5, "azertyuiop"), (0.75, "qsdfghjklm"), (1.25, "wxcvbn")),
}


@pytest.mark.parametrize("layout", ROWS)
def test_undo_and_cancel_lie_far_from_the_scribes_keys_and_nothing_beside_these_disturbs_a_match(layout):
    places = {
        key: (shift + number, row) for row, (shift, keys) in enumerate(ROWS[layout]) for number, key in enumerate(keys)
    }

    def apart(one, other):
        (x, y), (v, w) = places[one], places[other]
        return max(abs(x - v), abs(y - w))

    scribe = SCRIBE_KEYS.values()
    keymap = Keymap(rig_of())
    for far in (*Keys().undo, *Keys().scrap):
        assert min(apart(far, key) for key in scribe) >= 3, far
    beside = {key for key in places if key not in scribe and min(apart(key, own) for own in scribe) <= 1}
    assert len(beside) >= 5
    assert {keymap.action(key) for key in beside} <= {"", "yes", "details"}      # that do nothing in a match


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
