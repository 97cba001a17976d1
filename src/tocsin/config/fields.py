"""What single values of a file may be, each with the mend for what people write instead.

Every check raises a PydanticCustomError: its type is a code of ``messages.MESSAGES``, its context the facts. The fact
``likely`` is TOML text to put in place of the value; ``span`` marks the wrong part of a text.
"""

import contextlib
import datetime
import difflib
import math
import re
from collections.abc import Iterable
from typing import Annotated, Any

from pydantic import BeforeValidator, PlainValidator
from pydantic_core import PydanticCustomError

from tocsin.config.colours import NEAREST
from tocsin.config.key_names import KEY_NAMES, MEANT
from tocsin.model.moment import A_BASE, Moment, MomentError, parse
from tocsin.model.pattern import Rgb
from tocsin.model.safety import OKABE_ITO
from tocsin.units import NS_PER_MS, ClockValueError, format_clock, parse_clock

ID_PATTERN = re.compile(r"[a-z][a-z0-9_]*")


def mistake(code: str, **facts: Any) -> PydanticCustomError:
    """Return the error for a value; ``facts`` fill the sentence of ``code``."""
    return PydanticCustomError(code, "{code}", {"code": code, **facts})


def what_is(value: object) -> str:
    """Return in plain words what kind of value this is."""
    kinds: tuple[tuple[type | tuple[type, ...], str], ...] = (
        (bool, "true or false"),
        ((int, float), "a number"),
        (str, "a text"),
        (list, "a list"),
        (dict, "a table"),
        (datetime.time, "a time of day"),
        ((datetime.datetime, datetime.date), "a date"),
    )
    return next((words for kind, words in kinds if isinstance(value, kind)), "something else")


def quoted(text: str) -> str:
    """Return ``text`` as TOML writes it."""
    if "\\" in text and "'" not in text and text.isprintable():
        return f"'{text}'"
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(char if char.isprintable() else f"\\u{ord(char):04X}" for char in escaped) + '"'


def closest(text: str, known: Iterable[str]) -> str:
    """Return the one of ``known`` that ``text`` was likely meant to be, or nothing."""
    words = {word.lower(): word for word in known}
    tidy = re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")
    if tidy in words:
        return words[tidy]
    found = difflib.get_close_matches(tidy, words, n=1, cutoff=0.6)
    return words[found[0]] if found else ""


def listing(known: Iterable[str]) -> str:
    """Return the words as a list in a sentence."""
    return ", ".join(known) or "none"


# -- texts ----------------------------------------------------------------------------------------------------------


def _text(value: object, wanted: str = "a text in quotes", longest: int = 80) -> str:
    if not isinstance(value, str):
        likely = quoted(str(value)) if isinstance(value, int | float) and not isinstance(value, bool) else ""
        raise mistake("wrong_type", **{"is": what_is(value)}, wanted=wanted, likely=likely)
    if not value.isprintable():
        raise mistake("text_control", likely=_with_backslashes(value))
    if len(value) > longest:
        raise mistake("text_long", count=str(len(value)), high=str(longest))
    return value


def _with_backslashes(value: str) -> str:
    codes = {"\n": "\\n", "\t": "\\t", "\r": "\\r", "\b": "\\b", "\f": "\\f"}
    meant = "".join(codes.get(char, char) for char in value)
    return f"'{meant}'" if meant.isprintable() and "'" not in meant else ""


def title(value: object, longest: int = 80) -> str:
    """Return a text that is not blank; raises the mistake for anything else."""
    text = _text(value, longest=longest)
    if not text.strip():
        raise mistake("text_empty", mend="Write what people should read.")
    return text


def _language(value: object) -> str:
    """Return a language tag. Which ones there are is not known here: only the form of RFC 5646 is held to."""
    text = _text(value, 'a language tag in quotes, such as "en"')
    if not re.fullmatch(r"[A-Za-z]{2,3}(-[A-Za-z0-9]{1,8})*", text):
        tidy = re.sub(r"[_ .]+", "-", text.strip())
        likely = quoted(tidy) if re.fullmatch(r"[A-Za-z]{2,3}(-[A-Za-z]{2})", tidy) else ""
        raise mistake("language", text=text, likely=likely)
    return text


def identifier(value: object) -> str:
    """Return an id; raises the mistake, with a likely id, for anything else."""
    text = _text(value, "an id in quotes")
    if not ID_PATTERN.fullmatch(text):
        tidy = re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")
        raise mistake("id", text=text, likely=quoted(tidy) if ID_PATTERN.fullmatch(tidy) else "")
    return text


def _usb(value: object) -> str:
    text = _text(value, 'USB ids in quotes, such as "045e:028e"').lower()
    if not re.fullmatch(r"[0-9a-f]{4}:[0-9a-f]{4}", text):
        digits = re.fullmatch(r"(?:0x)?([0-9a-f]{4})[^0-9a-f]+(?:0x)?([0-9a-f]{4})", text)
        raise mistake("usb_ids", text=text, likely=quoted(":".join(digits.groups())) if digits else "")
    return text


def _guid(value: object) -> str:
    text = _text(value, "a GUID in quotes").lower()
    if not re.fullmatch(r"[0-9a-f]{32}", text):
        tidy = re.sub(r"[^0-9a-f]", "", text)
        raise mistake("guid", text=text, likely=quoted(tidy) if len(tidy) == 32 else "")
    return text


def _key_name(value: object) -> str:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 9:
        raise mistake("wrong_type", **{"is": what_is(value)}, wanted="a key in quotes", likely=quoted(str(value)))
    text = _text(value, "a key in quotes")
    if text not in KEY_NAMES:
        likely = MEANT.get(text.lower()) or closest(text, KEY_NAMES)
        raise mistake("key_name", text=text, likely=quoted(likely) if likely else "")
    return text


def choice(*known: str) -> BeforeValidator:
    """Return the check that a text is one of ``known``."""

    def check(value: object) -> str:
        text = _text(value, "one of " + listing(quoted(word) for word in known))
        if text not in known:
            likely = closest(text, known)
            raise mistake("choice", text=text, known=listing(known), likely=quoted(likely) if likely else "")
        return text

    return BeforeValidator(check)


Text = Annotated[str, PlainValidator(_text)]
Language = Annotated[str, PlainValidator(_language)]
Title = Annotated[str, PlainValidator(title)]
Sentence = Annotated[str, PlainValidator(lambda value: _text(value, longest=160))]
Id = Annotated[str, PlainValidator(identifier)]
UsbIds = Annotated[str, PlainValidator(_usb)]
Guid = Annotated[str, PlainValidator(_guid)]
KeyName = Annotated[str, PlainValidator(_key_name)]


# -- numbers --------------------------------------------------------------------------------------------------------


def _flag(value: object) -> bool:
    if isinstance(value, bool):
        return value
    if isinstance(value, str) and value.lower() in ("true", "false"):
        raise mistake("flag_in_quotes", text=value, likely=value.lower())
    likely = {0: "false", 1: "true"}.get(value, "") if isinstance(value, int) else ""
    raise mistake("wrong_type", **{"is": what_is(value)}, wanted="true or false", likely=likely)


def _number(value: object, low: float, high: float, wanted: str) -> float:
    bounds = {"low": f"{low:g}", "high": f"{high:g}"}
    if isinstance(value, str):
        tidy = value.strip().replace(",", ".")
        if re.fullmatch(r"[+-]?[0-9]+(\.[0-9]+)?", tidy):
            raise mistake("number_in_quotes", text=value, likely=tidy)
        if re.fullmatch(r"[+-]?(inf|nan|infinity)", tidy.lower()):
            raise mistake("not_finite", text=value, **bounds)
        if found := re.fullmatch(r"([0-9]+)(\.[0-9]+)? *(ms|s|%|mA|ma)", tidy):
            raise mistake("wrong_type", **{"is": what_is(value)}, wanted=wanted, likely=_unitless(found))
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise mistake("wrong_type", **{"is": what_is(value)}, wanted=wanted)
    if not math.isfinite(value):
        raise mistake("not_finite", text=str(value), **bounds)
    if high == 1 and 2 < value <= 100:                      # from 1 to 2 nobody means percent
        raise mistake("percent", text=f"{value:g}", likely=f"{value / 100:g}", **bounds)
    if not low <= value <= high:
        way, likely = ("small", low) if value < low else ("large", high)
        raise mistake("out_of_range", text=f"{value:g}", way=way, likely=f"{likely:g}", **bounds)
    return value


def _unitless(found: re.Match[str]) -> str:
    figure = float(found[1] + (found[2] or ""))
    scale = {"s": 1000, "%": 0.01}.get(found[3], 1)
    return f"{figure * scale:g}"


def number(low: float, high: float) -> PlainValidator:
    """Return the check for a finite number in ``[low, high]``; whole numbers count too."""
    return PlainValidator(lambda value: float(_number(value, low, high, f"a number from {low:g} to {high:g}")))


def whole(low: int, high: int) -> PlainValidator:
    """Return the check for a whole number in ``[low, high]``."""

    def check(value: object) -> int:
        found = _number(value, low, high, f"a whole number from {low} to {high}")
        if found != int(found):
            raise mistake("not_whole", text=f"{found:g}", low=str(low), high=str(high), likely=str(round(found)))
        return int(found)

    return PlainValidator(check)


def one_of_numbers(*known: int) -> PlainValidator:
    """Return the check that a whole number is one of ``known``."""

    def check(value: object) -> int:
        found = int(_number(value, known[0], known[-1], f"a whole number from {known[0]} to {known[-1]}"))
        if found not in known:
            nearest = min(known, key=lambda number: abs(number - found))
            raise mistake("power_of_two", text=str(value), known=listing(map(str, known)), likely=str(nearest))
        return found

    return PlainValidator(check)


Flag = Annotated[bool, PlainValidator(_flag)]
Share = Annotated[float, number(0, 1)]


def _latency_ns(value: object) -> int:
    return round(_number(value, 0, 2000, "milliseconds from 0 to 2000, without a unit") * NS_PER_MS)


LatencyNs = Annotated[int, PlainValidator(_latency_ns)]


def _day(value: object) -> str:
    """Return a day, which TOML writes without quotes, as ISO 8601 writes it."""
    if type(value) is datetime.date:
        return value.isoformat()
    likely = ""
    if isinstance(value, str | datetime.datetime):
        with contextlib.suppress(ValueError):
            likely = datetime.datetime.fromisoformat(str(value)).date().isoformat()
    raise mistake("wrong_type", **{"is": what_is(value)}, wanted="a day, such as 2031-03-01", likely=likely)


Day = Annotated[str, PlainValidator(_day)]


# -- times ----------------------------------------------------------------------------------------------------------


def _clock_ns(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, str | int | float | datetime.time):
        raise mistake("wrong_type", **{"is": what_is(value)}, wanted='a time in quotes, such as "30s"')
    if isinstance(value, datetime.time):
        raise mistake("clock_quotes", text=str(value), likely=quoted(str(value)))
    if not isinstance(value, str):
        likely = f'"{value:g}s"' if math.isfinite(value) and value >= 0 else ""
        raise mistake("clock_unit", text=f"{value:g}", likely=likely)
    try:
        return parse_clock(value)
    except ClockValueError as error:
        raise mistake("clock", text=value, likely=quoted(error.likely) if error.likely else "") from None


def _in_milliseconds(error: PydanticCustomError, low_ns: int, high_ns: int) -> PydanticCustomError:
    """Return a mistake whose likely seconds, where they are too many and milliseconds would fit, are milliseconds."""
    facts = dict(error.context or {})
    found = re.fullmatch(r'"([0-9]+(?:\.[0-9]{1,6})?)s"', str(facts.get("likely", "")))
    if not found or parse_clock(f"{found[1]}s") <= high_ns or not low_ns <= parse_clock(f"{found[1]}ms") <= high_ns:
        return error
    return PydanticCustomError(error.type, "{code}", {**facts, "likely": f'"{found[1]}ms"'})


def clock(low_ns: int, high_ns: int, *, whole_ms: bool = False) -> PlainValidator:
    """Return the check for a clock value in ``[low_ns, high_ns]``; it yields nanoseconds."""

    def check(value: object) -> int:
        try:
            ns = _clock_ns(value)
        except PydanticCustomError as error:
            raise _in_milliseconds(error, low_ns, high_ns) from None
        facts = {"text": str(value), "low": format_clock(low_ns), "high": format_clock(high_ns)}
        if not low_ns <= ns <= high_ns:
            way, likely = ("short", low_ns) if ns < low_ns else ("long", high_ns)
            raise mistake("clock_range", way=way, likely=quoted(format_clock(likely)), **facts)
        if whole_ms and ns % NS_PER_MS:
            nearest = round(ns / NS_PER_MS) * NS_PER_MS
            raise mistake("clock_whole_ms", likely=quoted(format_clock(nearest)), **facts)
        return ns

    return PlainValidator(check)


def lead(most_ns: int) -> PlainValidator:
    """Return the check for a lead: a clock value without a sign, since it counts ahead by itself."""
    plain: Any = clock(0, most_ns).func

    def check(value: object) -> int:
        if isinstance(value, str) and value[:1] in ("+", "-", "\N{MINUS SIGN}"):
            rest = value[1:].strip()
            try:
                parse_clock(rest)
            except ClockValueError as error:
                rest = error.likely
            raise mistake("lead_sign", text=value, likely=quoted(rest) if rest else "")
        ns: int = plain(value)
        return ns

    return PlainValidator(check)


def signed_clock(most_ns: int) -> PlainValidator:
    """Return the check for a clock value with or without a sign, ``"+1s"`` or ``"-500ms"``; it yields nanoseconds."""
    plain: Any = clock(0, most_ns).func

    def check(value: object) -> int:
        signed = isinstance(value, str) and value[:1] in ("+", "-")
        ns: int = plain(value[1:] if isinstance(value, str) and signed else value)
        return -ns if isinstance(value, str) and value[:1] == "-" else ns

    return PlainValidator(check)


def clock_or_open(low_ns: int, high_ns: int) -> PlainValidator:
    """Return the check for a clock value, or ``"open"``, which yields None."""
    timed = clock(low_ns, high_ns).func

    def check(value: object) -> int | None:
        return None if value == "open" else timed(value)  # type: ignore[call-arg]

    return PlainValidator(check)


def _moment(value: object) -> Moment:
    if isinstance(value, int | float) and not isinstance(value, bool):
        raise mistake("moment_bare", text=f"{value:g}")
    text = _text(value, 'a moment in quotes, such as "driver.end-20s"')
    try:
        return parse(text)
    except MomentError as error:
        likely = quoted(error.likely) if error.likely else ""
        facts = {"expected": f"Expected {error.expected}.", "about": "base" if error.expected == A_BASE else "offset"}
        raise mistake("moment", text=text, span=error.span, likely=likely, **facts) from None


def one_or_list(value: object) -> object:
    """Return the value as a list: one alone stands for a list of one."""
    return value if isinstance(value, list) else [value]


MomentField = Annotated[Moment, PlainValidator(_moment)]
Moments = Annotated[list[MomentField], BeforeValidator(one_or_list)]


# -- colours --------------------------------------------------------------------------------------------------------


def _colour(value: object) -> Rgb:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 0xFFFFFF:
        raise mistake("colour", text=str(value), known=listing(OKABE_ITO), likely=f'"#{value:06x}"')
    text = _text(value, "a colour in quotes")
    if text in OKABE_ITO:
        return OKABE_ITO[text]
    if re.fullmatch(r"#[0-9a-fA-F]{6}", text):
        return (int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16))
    likely = _likely_colour(text)
    raise mistake("colour", text=text, known=listing(OKABE_ITO), likely=quoted(likely) if likely else "")


def _likely_colour(text: str) -> str:
    tidy = text.strip().lower().replace(" ", "_").replace("-", "_")
    if found := re.fullmatch(r"#?([0-9a-f])([0-9a-f])([0-9a-f])", tidy):
        return "#" + "".join(digit * 2 for digit in found.groups())
    if re.fullmatch(r"[0-9a-f]{6}", tidy):
        return f"#{tidy}"
    return NEAREST.get(tidy) or closest(tidy, OKABE_ITO)


Colour = Annotated[Rgb, PlainValidator(_colour)]
Colours = Annotated[list[Colour], BeforeValidator(one_or_list)]
