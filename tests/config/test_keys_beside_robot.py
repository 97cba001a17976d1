"""Beside a program that drives a robot keys are letters, digits, arrows and page keys; nothing needs another one."""

import string
from pathlib import Path

import pytest

from tocsin.config import bundle
from tocsin.config.load import DiagnosticsError, load_rig
from tocsin.config.schema.key_names import KEY_NAMES
from tocsin.model.rig import KEYS_BESIDE_ROBOT, LATER_KEYS, SCRIBE_KEYS, Keys
from tocsin.runner.display_entry import DisplayEntry
from tocsin.runner.keymap import with_scribe_keys

MAY = {*string.ascii_lowercase, *string.digits, "left", "right", "up", "down", "page_up", "page_down"}
RIG = 'format = "tocsin-rig/1"\nname = "Ours"\ndrives_robot = {drives}\n[keys]\nmarks = {{ contact = ["{key}"] }}\n'
OFF = "start = []\nscrap = []\nhold = []\nbegin = []\nvariant = []\nearlier = []\nlater = []\npreflight = []\n" \
      "mute = []\nlouder = []\nsofter = []\nleave = []\nclear = []\nyes = []\nno = []\nrepeat = []\ndrop = []\n" \
      "crew = []\nbattery = []\ndetails = []\nundo = []\nsync = []\ndisplay = []\nall_keys = []\n"  # fmt: skip


def read(folder: Path, key: str, drives: str) -> Keys:
    path = folder / "rig.toml"
    path.write_text(RIG.format(drives=drives, key=key) + OFF, encoding="utf-8")
    return load_rig(str(path)).keys


def test_these_are_the_keys() -> None:
    assert KEYS_BESIDE_ROBOT == MAY
    assert KEYS_BESIDE_ROBOT < KEY_NAMES


@pytest.mark.parametrize("key", sorted(KEY_NAMES))
def test_each_key_that_may_be_pressed_is_taken_and_no_other(key: str, tmp_path: Path) -> None:
    assert read(tmp_path, key, "false").marks == {"contact": (key,)}
    if key in MAY:
        assert read(tmp_path, key, "true").marks == {"contact": (key,)}
        return
    with pytest.raises(DiagnosticsError) as raised:
        read(tmp_path, key, "true")
    assert [problem.code for problem in raised.value.problems] == ["key_beside_robot"]
    said = " ".join(str(raised.value).split())
    assert "letters, digits, arrows (left, right, up, down), page_up and page_down" in said


def test_nothing_needs_another_key() -> None:
    """What a key does by default, and what a person is told to press while the display's time is typed."""
    keys = Keys()
    plain = {key for name in keys.__struct_fields__ if name not in ("call", "marks") for key in getattr(keys, name)}
    later = {key for several in LATER_KEYS.values() for key in several}
    assert plain | later | set(SCRIBE_KEYS.values()) <= MAY
    (digits, *others) = DisplayEntry().keys("s", "a", "x")
    assert digits.key == "0 to 9"
    assert {entry.key for entry in others} <= MAY


@pytest.mark.parametrize("name", bundle.names("rigs"))
def test_bundled_rigs_use_no_other(name: str) -> None:
    rig = with_scribe_keys(load_rig(name), [f"label_{n}" for n in range(40)])
    bound = {key for of in (rig.keys.call, rig.keys.marks) for several in of.values() for key in several}
    assert bound <= MAY
