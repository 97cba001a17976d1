r"""Escape invisible characters in text that others wrote: those that steer a terminal, reverse letters or hide.

Labels, names and hints come from files, devices and programs of anybody. Every place that shows text to people calls
this module; files and results keep the original text. ``utf8_json`` is here for the same reason: names of files may
hold what no encoding takes, and neither a journal nor a message may fail by that. So is ``typed``: a command that is
shown has to come out as it was meant.
"""

import json
import re
import subprocess
import sys

import msgspec

# Controls of C0 and C1 but the newline; bidirectional marks, joiners, fillers and other characters that are ignored
# where they cannot be drawn; line separators; surrogates, which no encoding takes. After the Unicode Standard's
# Default_Ignorable_Code_Point (from memory). Left alone are visible signs of the general category Cf, and the two
# selectors that choose an emoji's form.
_HIDDEN = (
    "\x00-\x09\x0b-\x1f\x7f-\x9f\xad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b-\u200f\u2028-\u202e"
    "\u2060-\u206f\u3164\ud800-\udfff\ufe00-\ufe0d\ufeff\uffa0\ufff0-\ufffb\U0001bca0-\U0001bca3\U0001d173-\U0001d17a"
    "\U000e0000-\U000e0fff"
)
_SEVERAL_LINES = re.compile(f"[{_HIDDEN}]")
_ONE_LINE = re.compile(f"[{_HIDDEN}\n]")
_USUAL = {"\n": r"\n", "\r": r"\r", "\t": r"\t"}
_encoder = msgspec.json.Encoder()
MOST = 120                             # of a text that somebody typed: more tells nobody anything


def typed(*words: str) -> str:
    """Return words as a line to type into this system's command line."""
    if sys.platform == "win32":
        return subprocess.list2cmdline(words)
    import shlex  # only here: few processes show a command

    return shlex.join(words)


def readable(text: str) -> str:
    r"""Return a text of one or more lines with its invisible characters as Python escapes.

    >>> print(readable("caf\u00e9\x1b[31m \u202ebad"))
    café\x1b[31m \u202ebad
    """
    return _SEVERAL_LINES.sub(_escaped, text)


def readable_line(text: str, most: int = MOST) -> str:
    r"""Return a text as one line of at most ``most`` characters, cut if longer, with invisible characters escaped.

    >>> readable_line("two\nlines", 9)
    'two\\nlin…'
    """
    shown = _ONE_LINE.sub(_escaped, text[: most + 1])
    return shown if len(shown) <= most and len(text) <= most else f"{shown[: most - 1]}…"


def readable_json(text: str) -> str:
    r"""Return JSON of the same meaning with its invisible characters escaped.

    >>> readable_json('{"label":"\x9b31m"}')
    '{"label":"\\u009b31m"}'
    """
    return _SEVERAL_LINES.sub(_escaped_in_json, text)


def utf8_json(value: object) -> bytes:
    """Return a value as JSON in UTF-8. Characters that UTF-8 cannot encode (in some file names) become "?"."""
    try:
        return _encoder.encode(value)
    except UnicodeEncodeError:
        text = json.dumps(msgspec.to_builtins(value), ensure_ascii=False, separators=(",", ":"))
        return text.encode("utf-8", "replace")


def _escaped(match: re.Match[str]) -> str:
    character = match[0]
    code = ord(character)
    if 0xDC80 <= code <= 0xDCFF:
        return f"\\x{code - 0xDC00:02x}"           # a byte of a file's name that is no UTF-8
    if code < 0x100:
        return _USUAL.get(character, f"\\x{code:02x}")
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def _escaped_in_json(match: re.Match[str]) -> str:
    code = ord(match[0])
    if code < 0x10000:
        return f"\\u{code:04x}"
    return f"\\u{0xD7C0 + (code >> 10):04x}\\u{0xDC00 + (code & 0x3FF):04x}"
