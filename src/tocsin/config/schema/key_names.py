"""List the key names that a rig may use."""

import string

# One vocabulary for window and terminal, by what is printed on the key; SDL's and terminals' names are mapped to it.
KEY_NAMES: frozenset[str] = frozenset(
    [*string.ascii_lowercase, *string.digits]
    + ["space", "enter", "escape", "tab", "backspace", "insert", "delete", "home", "end", "page_up", "page_down"]
    + ["left", "right", "up", "down", "plus", "minus", "comma", "period", "slash", "semicolon", "quote", "equals"]
    + ["left_bracket", "right_bracket", "backslash", "backquote"]
    + [f"f{n}" for n in range(1, 13)]
)

# What people write when they mean one of them.
MEANT = {
    "return": "enter", "esc": "escape", "spacebar": "space", " ": "space", "pgdn": "page_down", "pgup": "page_up",
    "pagedown": "page_down", "pageup": "page_up", "page down": "page_down", "page up": "page_up",
    "del": "delete", "ins": "insert", "+": "plus", "-": "minus", ",": "comma", ".": "period", "/": "slash",
    ";": "semicolon", "'": "quote", "=": "equals", "[": "left_bracket", "]": "right_bracket", "\\": "backslash",
    "`": "backquote", "arrow_left": "left", "arrow_right": "right", "arrow_up": "up", "arrow_down": "down",
}  # fmt: skip
