"""Change the words of people in a TOML file: its comments, names, titles, reasons and spoken words.

All other text in such a file is read back by its spelling, and stays unchanged.
"""

import re
import tomllib
from collections.abc import Callable

import tomlkit

_STRING = r'"""(?:\\.|[^\\])*?"{3,5}|' + r"'''.*?'{3,5}|" + r'"(?:\\.|[^"\\\n])*"|' + r"'[^'\n]*'"
_KEY = r"(?:name|title|why|say)"
_TOKEN = re.compile(
    rf"""(?P<key>(?<![\w.\-"'])(?:{_KEY}|"{_KEY}"|'{_KEY}')[ \t]*=[ \t]*)(?P<value>{_STRING})"""
    rf"|(?P<string>{_STRING})|(?P<comment>\#[^\n]*)|(?P<head>^[ \t]*\[\[?[ \t]*(?P<table>[\w\-]+)[ \t]*\]\]?)",
    re.DOTALL | re.MULTILINE,
)
_NO_WORDS = "pad"                      # a pad's name is how it is found


def with_words(text: str, change: Callable[[str], str], change_value: Callable[[str], str]) -> str:
    """Return a TOML file's text with its comments changed by ``change``, its values by ``change_value``.

    A file that cannot be read is changed as a whole, by ``change``.
    """
    try:
        tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return change(text)
    table = ""

    def changed(token: re.Match[str]) -> str:
        nonlocal table
        if token["head"]:
            table = token["table"]
        if token["comment"]:
            return "#" + change(token["comment"][1:])
        if token["key"] and table != _NO_WORDS:
            return token["key"] + _value(token["value"], change_value)
        return token[0]

    return _TOKEN.sub(changed, text)


def _value(literal: str, change: Callable[[str], str]) -> str:
    """Return a string as TOML writes it with another text; to the letter as it was if the text is the same."""
    old = tomllib.loads(f"text = {literal}")["text"]
    new = change(old)
    return literal if new == old else str(tomlkit.string(new).as_string())
