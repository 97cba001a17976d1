"""Check single values of a file, each with the fix for a wrong one.

Every check raises a PydanticCustomError: its type is a code of ``messages.MESSAGES``, its context the facts. The fact
``readings`` holds all likely meanings, each as TOML text that replaces the value: a single one is the fix; ``span``
marks the wrong part of a text.
"""

import contextlib
import datetime
import math
import re
import tomllib
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Annotated, Any, TypeVar

from pydantic import BeforeValidator, PlainValidator
from pydantic_core import PydanticCustomError

from tocsin.config.schema.colours import NEAREST
from tocsin.config.schema.key_names import KEY_NAMES, MEANT
from tocsin.config.toml.phrases import listing, mistake, only_word, quoted, what_is
from tocsin.model.pattern import Rgb
from tocsin.model.safety import OKABE_ITO
from tocsin.model.spelling import only_reading, tidied
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

ID_PATTERN = re.compile(r"[a-z][a-z0-9_]*")
T = TypeVar("T")
_WORDS_APART = r"\s*(?:[,;/&|+]|\band\b|\s)\s*"


def proven(check: Callable[[Any], T]) -> Callable[[Any], T]:
    """Return a check whose mistakes keep only those readings that pass the check themselves."""

    def checked(value: Any) -> T:
        try:
            return check(value)
        except PydanticCustomError as error:
            facts = dict(error.context or {})
            found = [reading for reading in facts.get("readings", ()) if _passes(check, reading)]
            raise PydanticCustomError(error.type, "{code}", {**facts, "readings": found}) from None

    return checked


def _passes(check: Callable[[Any], object], reading: str) -> bool:
    try:
        check(tomllib.loads(f"value = {reading}")["value"])
    except PydanticCustomError:
        return False
    return True


# -- texts ----------------------------------------------------------------------------------------------------------


def text_of(value: object, wanted: str = tr("a text in quotes"), longest: int = 80) -> str:
    """Return a text of up to ``longest`` letters; else raises the mistake, which says what is ``wanted``."""
    if not isinstance(value, str):
        found = [quoted(str(value))] if isinstance(value, int) and not isinstance(value, bool) else []
        raise mistake("wrong_type", **{"is": what_is(value)}, wanted=wanted, readings=found)
    if not value.isprintable():
        raise mistake("text_control", readings=_with_backslashes(value))
    if len(value) > longest:
        raise mistake("text_long", count=str(len(value)), high=str(longest))
    return value


def _with_backslashes(value: str) -> list[str]:
    codes = {"\n": "\\n", "\t": "\\t", "\r": "\\r", "\b": "\\b", "\f": "\\f"}
    meant = "".join(codes.get(char, char) for char in value)
    return [f"'{meant}'"] if meant.isprintable() and "'" not in meant else []


def title(value: object, longest: int = 80) -> str:
    """Return a text that is not blank; else raises the mistake."""
    text = text_of(value, longest=longest)
    if not text.strip():
        raise mistake("text_empty", fix=tr("Write what people should read."))
    return text


def _language(value: object) -> str:
    """Return a language tag. Which ones there are is not known here: only the form of RFC 5646 is held to."""
    text = text_of(value, tr('a language tag in quotes, such as "en"'))
    if not re.fullmatch(r"[A-Za-z]{2,3}(-[A-Za-z0-9]{1,8})*", text):
        tidy = re.sub(r"[_ .]+", "-", text.strip())
        found = [quoted(tidy)] if re.fullmatch(r"[A-Za-z]{2,3}(-[A-Za-z]{2})", tidy) else []
        raise mistake("language", text=text, readings=found)
    return text


def identifier(value: object) -> str:
    """Return an id; else raises the mistake, with the only id that separate words or capitals can mean."""
    text = text_of(value, tr("an id in quotes"))
    if not ID_PATTERN.fullmatch(text):
        words = re.fullmatch(r"[A-Za-z][A-Za-z0-9]*([_ -][A-Za-z0-9]+)*", text.strip())
        raise mistake("id", text=text, readings=[quoted(tidied(text))] if words else [])
    return text


def _usb(value: object) -> str:
    text = text_of(value, tr('USB ids in quotes, such as "1209:0001"')).lower()
    if not re.fullmatch(r"[0-9a-f]{4}:[0-9a-f]{4}", text):
        digits = re.fullmatch(r"(?:0x)?([0-9a-f]{4})[^0-9a-f]+(?:0x)?([0-9a-f]{4})", text)
        raise mistake("usb_ids", text=text, readings=[quoted(":".join(digits.groups()))] if digits else [])
    return text


def _guid(value: object) -> str:
    text = text_of(value, tr("a GUID in quotes")).lower()
    if not re.fullmatch(r"[0-9a-f]{32}", text):
        tidy = re.sub(r"[^0-9a-f]", "", text)
        raise mistake("guid", text=text, readings=[quoted(tidy)] if len(tidy) == 32 else [])
    return text


def key_name(value: object) -> str:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 9:
        raise mistake(
            "wrong_type", **{"is": what_is(value)}, wanted=tr("a key in quotes"), readings=[quoted(str(value))],
        )
    text = text_of(value, tr("a key in quotes"))
    if text not in KEY_NAMES:
        likely = MEANT.get(text.lower()) or only_word(text, KEY_NAMES)
        raise mistake("key_name", text=text, readings=[quoted(likely)] if likely else [])
    return text


def one_of(*known: str, people: bool = False, older: Mapping[str, str] = MappingProxyType({})) -> Callable[[Any], str]:
    """Return the check that a text is one of ``known``, or an ``older`` name of one, which becomes the newer one. The
    plural of ``people`` may mean one of them, or all."""

    def check(value: object) -> str:
        text = text_of(value, tr("one of ") + listing(quoted(word) for word in known))
        text = older.get(text, text)
        if text not in known:
            is_plural = people and tidied(text) not in known and tidied(text).removesuffix("s") in known
            likely = "" if is_plural else only_word(text, known)
            raise mistake("choice", text=text, known=listing(known), readings=[quoted(likely)] if likely else [])
        return text

    return check


def choice(*known: str, older: Mapping[str, str] = MappingProxyType({})) -> BeforeValidator:
    """Return the validator of a text that is one of ``known``, or an ``older`` name of one."""
    return BeforeValidator(one_of(*known, older=older))


Text = Annotated[str, PlainValidator(text_of)]
Language = Annotated[str, PlainValidator(_language)]
Title = Annotated[str, PlainValidator(title)]
Sentence = Annotated[str, PlainValidator(lambda value: text_of(value, longest=160))]
Id = Annotated[str, PlainValidator(identifier)]
UsbIds = Annotated[str, PlainValidator(proven(_usb))]
Guid = Annotated[str, PlainValidator(_guid)]
KeyName = Annotated[str, PlainValidator(key_name)]


# -- numbers --------------------------------------------------------------------------------------------------------

# Units that people write behind a number whose key has it in its name; the factor makes the key's own of it.
MILLISECONDS: Mapping[str, float] = {"ms": 1, "s": 1000}
MILLIAMPERES: Mapping[str, float] = {"ma": 1, "a": 1000}
_PERCENT: Mapping[str, float] = {"%": 0.01}
_FLAGS = {"true": "true", "yes": "true", "on": "true", "false": "false", "no": "false", "off": "false"}


def _flag(value: object) -> bool:
    if isinstance(value, bool):
        return value
    if isinstance(value, str) and value.lower() in _FLAGS:
        raise mistake("flag_in_quotes", text=value, readings=[_FLAGS[value.lower()]])
    found = {0: ["false"], 1: ["true"]}.get(value, []) if isinstance(value, int) else []
    raise mistake("wrong_type", **{"is": what_is(value)}, wanted=tr("true or false"), readings=found)


def _number(value: object, low: float, high: float, wanted: str, units: Mapping[str, float]) -> float:
    bounds = {"low": f"{low:g}", "high": f"{high:g}"}
    if isinstance(value, str):
        tidy = value.strip().replace(",", ".")
        if re.fullmatch(r"[+-]?[0-9]+(\.[0-9]+)?", tidy):
            raise mistake("number_in_quotes", text=value, readings=[tidy])
        if re.fullmatch(r"[+-]?(inf|nan|infinity)", tidy.lower()):
            raise mistake("not_finite", text=value, **bounds)
        found = re.fullmatch(r"([0-9]+(?:\.[0-9]+)?) *([A-Za-z]+|%)", tidy)
        if found and (scale := units.get(found[2].lower())):
            raise mistake(
                "wrong_type", **{"is": what_is(value)}, wanted=wanted, readings=[f"{float(found[1]) * scale:g}"]
            )
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise mistake("wrong_type", **{"is": what_is(value)}, wanted=wanted)
    if not math.isfinite(value):
        raise mistake("not_finite", text=str(value), **bounds)
    if high == 1 and 2 < value <= 100:                      # from 1 to 2 nobody means percent
        raise mistake("percent", text=f"{value:g}", share=f"{value / 100:g}", **bounds)
    if not low <= value <= high:
        raise mistake("out_of_range", text=f"{value:g}", way=tr("small") if value < low else tr("large"), **bounds)
    return value


def number(low: float, high: float) -> PlainValidator:
    """Return the check for a finite number in ``[low, high]``; whole numbers count too."""
    wanted, units = tr("a number from {low:g} to {high:g}", low=low, high=high), _PERCENT if high == 1 else {}
    return PlainValidator(proven(lambda value: float(_number(value, low, high, wanted, units))))


def whole(low: int, high: int, units: Mapping[str, float] | None = None) -> PlainValidator:
    """Return the check for a whole number in ``[low, high]``. A text with a unit means the number times the factor that
    ``units`` (in small letters) gives for it."""

    def check(value: object) -> int:
        found = _number(value, low, high, tr("a whole number from {low} to {high}", low=low, high=high), units or {})
        if found != int(found):
            raise mistake("not_whole", text=f"{found:g}", low=str(low), high=str(high))
        return int(found)

    return PlainValidator(proven(check))


def one_of_numbers(*known: int) -> PlainValidator:
    """Return the check that a whole number is one of ``known``."""

    def check(value: object) -> int:
        found = int(
            _number(
                value, known[0], known[-1],
                tr("a whole number from {known} to {known_2}", known=known[0], known_2=known[-1]), {},
            ),
        )
        if found not in known:
            raise mistake("power_of_two", text=str(value), known=listing(map(str, known)))
        return found

    return PlainValidator(proven(check))


Flag = Annotated[bool, PlainValidator(_flag)]
Share = Annotated[float, number(0, 1)]


def _latency_ns(value: object) -> int:
    return round(_number(value, 0, 2000, tr("milliseconds from 0 to 2000, without a unit"), MILLISECONDS) * NS_PER_MS)


LatencyNs = Annotated[int, PlainValidator(proven(_latency_ns))]


def _day(value: object) -> str:
    """Return a day, which TOML writes without quotes, as ISO 8601 writes it."""
    if type(value) is datetime.date:
        return value.isoformat()
    found = []
    if isinstance(value, str | datetime.datetime):
        with contextlib.suppress(ValueError):
            found = [datetime.datetime.fromisoformat(str(value)).date().isoformat()]
    raise mistake("wrong_type", **{"is": what_is(value)}, wanted=tr("a day, such as 2031-03-01"), readings=found)


Day = Annotated[str, PlainValidator(_day)]


# -- lists -----------------------------------------------------------------------------------------------------------


def one_or_list(value: object) -> object:
    """Return the value as a list; a single value becomes a list of one."""
    return value if isinstance(value, list) else [value]


def list_of(check: Callable[[Any], object], separators: str = _WORDS_APART) -> BeforeValidator:
    """Return the validator of a list or a single value, which ``check``s each value.

    One text that holds several, such as ``"driver, operator"``, is a mistake with the list as its only reading.
    """

    def listed(value: object) -> object:
        found = one_or_list(value)
        assert isinstance(found, list)
        if len(found) == 1 and isinstance(found[0], str) and not _is_sound(check, found[0]):
            parts = [part for part in re.split(separators, found[0].strip()) if part]
            if len(parts) > 1 and all(_is_sound(check, part) for part in parts):
                whole_list = "[" + ", ".join(map(quoted, parts)) + "]"
                one = [] if "," in found[0] else _readings_of(check, found[0])
                raise mistake("list_as_text", text=found[0], readings=[whole_list, *one])
        return found

    return BeforeValidator(listed)


def _is_sound(check: Callable[[Any], object], value: object) -> bool:
    try:
        check(value)
    except PydanticCustomError:
        return False
    return True


def _readings_of(check: Callable[[Any], object], value: object) -> list[str]:
    """Return what a value may mean that stands alone."""
    try:
        check(value)
    except PydanticCustomError as error:
        return list((error.context or {}).get("readings", ()))
    return []


# -- colours --------------------------------------------------------------------------------------------------------


def _colour(value: object) -> Rgb:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 0xFFFFFF:
        raise mistake("colour", text=str(value), known=listing(OKABE_ITO))
    text = text_of(value, tr("a colour in quotes"))
    if text in OKABE_ITO:
        return OKABE_ITO[text]
    if re.fullmatch(r"#[0-9a-fA-F]{6}", text):
        return (int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16))
    likely = _likely_colour(text)
    near = NEAREST.get(tidied(text), "")
    facts = {
        "known": listing(OKABE_ITO),
        "near": tr("Nearest to it is {near}. ", near=quoted(near)) if near and not likely else "",
    }
    raise mistake("colour", text=text, readings=[quoted(likely)] if likely else [], **facts)


def _likely_colour(text: str) -> str:
    tidy = text.strip().lower()
    if found := re.fullmatch(r"#([0-9a-f])([0-9a-f])([0-9a-f])", tidy):
        return "#" + "".join(digit * 2 for digit in found.groups())
    if re.fullmatch(r"[0-9a-f]{6}", tidy):
        return f"#{tidy}"
    return only_reading(text, OKABE_ITO)


Colour = Annotated[Rgb, PlainValidator(_colour)]
Colours = Annotated[list[Colour], list_of(_colour)]
