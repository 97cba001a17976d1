"""Word the parts of sentences about mistakes: kinds, lists, quotes, and the likely meaning of a misspelt word."""

import datetime
from collections.abc import Iterable
from typing import Any, NamedTuple

from pydantic_core import PydanticCustomError

from tocsin.model.spelling import only_reading, readings, tidied
from tocsin.translation import tr

_MOST_LISTED = 60                      # words in one message
_TELLING = 3                   # of so many letters a word that is cut short may be known


class Sentence(NamedTuple):
    """A message in three parts; ``expected`` and ``hint`` may be empty."""

    wrong: str
    expected: str = ""
    hint: str = ""


def mistake(code: str, **facts: Any) -> PydanticCustomError:
    """Return the error for a value; ``facts`` fill the sentence of ``code``."""
    return PydanticCustomError(code, "{code}", {"code": code, **facts})


def what_is(value: object) -> str:
    """Return the kind of a value in plain words."""
    kinds: tuple[tuple[type | tuple[type, ...], str], ...] = (
        (bool, tr("true or false")),
        ((int, float), tr("a number")),
        (str, tr("a text")),
        (list, tr("a list")),
        (dict, tr("a table")),
        (datetime.time, tr("a time of day")),
        ((datetime.datetime, datetime.date), tr("a date")),
    )
    return next((words for kind, words in kinds if isinstance(value, kind)), tr("something else"))


def quoted(text: str) -> str:
    """Return ``text`` as TOML writes it."""
    if "\\" in text and "'" not in text and text.isprintable():
        return f"'{text}'"
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(char if char.isprintable() else f"\\u{ord(char):04X}" for char in escaped) + '"'


def only_word(text: str, known: Iterable[str]) -> str:
    """Return the only word of a fixed vocabulary that ``text``, misspelt or cut short, can mean, or an empty text."""
    words = list(dict.fromkeys(known))
    tidy = tidied(text)
    begun = [word for word in words if len(tidy) >= _TELLING and word.lower().startswith(tidy)]
    near = readings(text, words)
    if len({*begun, *near}) != 1:
        return ""
    return begun[0] if begun else only_reading(text, words)


def nearest(text: str, known: Iterable[str]) -> str:
    """Return the word that ``text`` probably means, for a question, or an empty text."""
    words = list(dict.fromkeys(known))
    begun = [word for word in words if word.lower().startswith(tidied(text))] if len(text) >= _TELLING else []
    return next(iter([*readings(text, words), *begun]), "")


def listing(known: Iterable[str]) -> str:
    """Return the words as a list in a sentence."""
    words = list(known)
    more = len(words) - _MOST_LISTED
    return ", ".join([*words[:_MOST_LISTED], *([tr("and {more} more", more=more)] if more > 0 else [])]) or tr("none")
