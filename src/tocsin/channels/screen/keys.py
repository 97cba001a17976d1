"""What SDL calls a key, as a rig names it."""

_NAMED = {
    "return": "enter", "+": "plus", "-": "minus", ",": "comma", ".": "period", "/": "slash", ";": "semicolon",
    "'": "quote", "=": "equals", "[": "left_bracket", "]": "right_bracket", "\\": "backslash", "`": "backquote",
    "page up": "page_up", "page down": "page_down", "pageup": "page_up", "pagedown": "page_down",
}  # fmt: skip
_MODIFIERS = (" shift", " ctrl", " alt", " meta", " gui", "alt gr", "caps lock", "numlock")
# Places of the row of digits (USB HID usage ids, which SDL's scancodes are): on some layouts digits need shift.
_DIGIT_PLACES = {30 + n: str((n + 1) % 10) for n in range(10)}


def key_name(sdl_name: str, typed: str, scancode: int) -> str:
    """Return the rig's name of a key from SDL's name of it, the character that it typed, and its place.

    What was typed comes first, so that plus is plus on every layout. Nothing is what shift and its like are called.
    """
    if typed in ("+", "-"):
        return _NAMED[typed]
    if len(typed) == 1 and typed.isascii() and typed.isalnum():
        return typed.lower()
    if scancode in _DIGIT_PLACES:
        return _DIGIT_PLACES[scancode]
    name = sdl_name.lower()
    if name.endswith(_MODIFIERS):
        return ""
    if len(name) == 3 and name[0] == "[" and name[2] == "]":
        name = name[1]                             # a key of the number block
    return _NAMED.get(name, name.replace(" ", "_"))
