"""Names of keys: what SDL and a layout say, and what a rig calls it."""

import pytest

from tocsin.channels.screen.events import key_name
from tocsin.config.schema.key_names import KEY_NAMES


@pytest.mark.parametrize(
    ("sdl", "typed", "place", "name"),
    [
        ("page down", "", 78, "page_down"),
        ("left", "", 80, "left"),
        ("h", "h", 11, "h"),
        ("h", "H", 11, "h"),
        ("7", "7", 36, "7"),
        ("[7]", "7", 95, "7"),
        ("[7]", "", 95, "7"),
        ("=", "+", 46, "plus"),
        ("+", "+", 48, "plus"),
        ("[+]", "+", 87, "plus"),
        ("-", "-", 45, "minus"),
        ("&", "&", 30, "1"),                 # a French layout types digits with shift only
        ("à", "à", 39, "0"),
        ("return", "\r", 40, "enter"),
        ("escape", "\x1b", 41, "escape"),
        ("space", " ", 44, "space"),
        ("[", "[", 47, "left_bracket"),
        ("\\", "\\", 49, "backslash"),
        ("f5", "", 62, "f5"),
    ],
)
def test_key_has_the_name_that_a_rig_uses(sdl, typed, place, name):
    assert key_name(sdl, typed, place) == name
    assert name in KEY_NAMES


@pytest.mark.parametrize("sdl", ["left shift", "right ctrl", "left alt", "left meta", "caps lock", "alt gr"])
def test_modifiers_are_no_keys_of_their_own(sdl):
    assert key_name(sdl, "", 225) == ""
