"""Recognise novices' slips in TOML in a line, and repair them to their likely meaning.

Each rule looks at the statement in which tomllib gave up. It returns a code of ``messages.MESSAGES``, the marked place,
facts, and the text that replaces the marked one; or None.
"""

import re
from collections.abc import Callable, Mapping
from typing import NamedTuple

from tocsin.config.toml.positions import Place
from tocsin.translation import tr
from tocsin.units import ClockValueError, parse_clock


class Repair(NamedTuple):
    """A recognised slip. ``guess`` is the replacement text at ``place``, or None without a guess: then the statement is
    skipped, at least to ``until``. With the fact ``likely`` it is the only possible meaning."""

    code: str
    place: Place
    facts: Mapping[str, str]
    guess: str | None = None
    until: int | None = None

    @property
    def is_fix(self) -> bool:
        """Return whether the replacement text is the only possible meaning."""
        return "likely" in self.facts


class ParseFailure(NamedTuple):
    """Where tomllib gave up: the whole text, the offset, the statement's begin, and tomllib's message."""

    text: str
    offset: int
    begin: int
    why: str

    @property
    def line(self) -> Place:
        """Return the place of the offset's line, from the statement's begin on at the earliest."""
        begin = max(self.text.rfind("\n", 0, self.offset) + 1, self.begin)
        end = self.text.find("\n", self.offset)
        return Place(begin, len(self.text) if end < 0 else end)


_NUMBER = r"[+-]?[0-9]+(?:\.[0-9]+)?"
_KEY = r"[A-Za-z0-9_-]+"
_QUOTED = r'"(?:[^"\\]|\\.)*"|\'[^\']*\''


def recognise(fault: ParseFailure) -> Repair:
    """Return the slip that explains a parse failure; without a special one, the general one with tomllib's message."""
    for rule in _RULES:
        if slip := rule(fault):
            return slip
    line = fault.line
    place = Place(min(fault.offset, line.end), min(fault.offset, line.end) + 1)
    return Repair("syntax", place, {"why": fault.why})


def _likely(code: str, place: Place, fix: str, **facts: str) -> Repair:
    return Repair(code, place, {**facts, "likely": fix}, fix)


# -- headings and keys ----------------------------------------------------------------------------------------------


def _heading(fault: ParseFailure) -> Repair | None:
    line = fault.line
    text = fault.text[line.begin : line.end]
    if not text.startswith("["):
        return None
    name = re.match(r"\[+[ \t]*([^\]\[#]*)", text)
    words = re.findall(r"[A-Za-z0-9_-]+", name[1]) if name else []
    if not words:
        return None
    is_array = text.startswith("[[")
    key = ".".join(words)
    if fault.why.startswith("Cannot"):
        return None
    comment = text.find("#")
    end = line.begin + (len(text) if comment < 0 else len(text[:comment].rstrip()))
    return _likely("syntax_heading", Place(line.begin, end), f"[[{key}]]" if is_array else f"[{key}]")


def _comment(fault: ParseFailure) -> Repair | None:
    for mark in ("//", "--", ";", "/*", "%"):
        for at in (fault.offset, fault.line.begin):
            before = fault.text[fault.line.begin : at]
            is_note = re.match(r";[ \t]*\w", fault.text[at : fault.line.end])
            if mark == ";" and (fault.why.startswith("Unclosed") or not is_note):
                continue
            if fault.text.startswith(mark, at) and before.count('"') % 2 == 0:
                return _likely("syntax_comment", Place(at, at + len(mark)), "#", text=mark)
    return None


def _equals(fault: ParseFailure) -> Repair | None:
    line = fault.line
    text = fault.text[line.begin : line.end]
    if found := re.match(rf"{_KEY}[ \t]*(==|:=|=>|=:)", text):
        return _likely("syntax_equals", _at(line, found, 1), "=")
    if found := re.match(rf"(?:{_KEY}|{_QUOTED})[ \t]*(:)", text):
        return _likely("syntax_colon", _at(line, found, 1), "=" if text[found.start(1) - 1] == " " else " =")
    if found := re.match(rf"({_KEY}(?:[ \t]+{_KEY})+)[ \t]*=", text):
        joined = re.sub(r"[ \t]+", "_", found[1])
        return _likely("syntax_blank_in_key", _at(line, found, 1), joined, text=found[1])
    if found := re.match(r"[ \t]*=", text):
        return Repair("syntax_no_key", _at(line, found, 0), {})
    if found := re.match(r"([^\s=\"'#\[\]{},]+)[ \t]*=", text):
        if not re.fullmatch(rf"{_KEY}(\.{_KEY})*", found[1]):
            tidy = re.sub(r"[^A-Za-z0-9_.]+", "_", found[1]).strip("_.")
            return _likely("syntax_dash_in_key", _at(line, found, 1), tidy, text=found[1]) if tidy else None
        return None
    if found := re.match(rf"({_KEY})[ \t]+({_QUOTED}|{_NUMBER}|true|false|\[.*\]|{{.*}})[ \t]*(#.*)?$", text):
        return _likely("syntax_no_equals", Place(line.begin, line.begin + found.end(2)), f"{found[1]} = {found[2]}")
    if fault.begin == line.begin and "=" not in text:
        return Repair("syntax_no_equals", line, {})
    return None


def _at(line: Place, found: re.Match[str], group: int) -> Place:
    return Place(line.begin + found.start(group), line.begin + found.end(group))


# -- what already stands there ----------------------------------------------------------------------------------------


def _open_list(fault: ParseFailure) -> Repair | None:
    """A list that runs on into the next statement, or to the end of the file."""
    begun = fault.text.find("=", fault.begin)
    opened = re.compile(r"=[ \t]*(\[)").match(fault.text, begun) if begun >= 0 else None
    if not opened or fault.text.startswith("[", fault.begin):
        return None
    line = fault.line
    is_new = line.begin > fault.begin and re.match(rf"{_KEY}[ \t]*=|\[", fault.text[line.begin : line.end].lstrip())
    if not is_new and fault.offset < len(fault.text.rstrip()):
        return None
    first = fault.text.find("\n", fault.begin)
    first = len(fault.text) if first < 0 else first
    stop = line.begin if is_new else len(fault.text)
    only_one_line = not fault.text[first:stop].strip()
    written = fault.text[opened.start(1) : first].split("#")[0].rstrip()
    place = Place(opened.start(1), opened.start(1) + len(written))
    return _likely("syntax_list_open", place, written.rstrip(",") + "]") if only_one_line else Repair(
        "syntax_list_open", Place(opened.start(1), opened.end(1)), {}
    )  # fmt: skip


def _braces(fault: ParseFailure) -> Repair | None:
    before = fault.text[fault.begin : fault.offset]
    opened = before.rfind("{")
    if opened < 0 or before.count("{") <= before.count("}"):
        return None
    if fault.text[fault.offset : fault.offset + 1] == "}" and (found := re.search(r",\s*$", before)):
        comma = fault.begin + found.start()
        return _likely("syntax_comma_last", Place(comma, comma + 1), "")
    rest = fault.text[fault.offset : fault.line.end].split("#")[0].strip()
    if not rest:
        key = re.search(rf"({_KEY})[ \t]*=[ \t]*$", before[:opened])
        at = fault.begin + opened
        facts = {"key": key[1] if key else "name"}
        return Repair("syntax_table_open", Place(at, at + 1), facts, until=_closing_brace(fault.text, at))
    return None


def _closing_brace(text: str, at: int) -> int:
    """Return where the brace at ``at`` is closed, or the end of its line if it is not."""
    depth = 0
    for found in re.finditer(rf"{_QUOTED}|#[^\n]*|[{{}}]", text[at:]):
        depth += {"{": 1, "}": -1}.get(found[0], 0)
        if not depth:
            return at + found.end()
    end = text.find("\n", at)
    return len(text) if end < 0 else end


# -- values -----------------------------------------------------------------------------------------------------------


def _quotes(fault: ParseFailure) -> Repair | None:
    line = fault.line if fault.offset < len(fault.text) else _last_line(fault)
    text = fault.text[line.begin : line.end]
    found = re.search(r"[“”„«»‘’]([^“”„«»‘’\"]*)[“”„«»‘’]", text)
    if found and text[: found.start()].count('"') % 2 == 0:
        return _likely("syntax_curly_quotes", _at(line, found, 0), f'"{found[1]}"')
    if "\\" in text and (found := re.search(r'"([^"]*\\[^"]*)"', text)) and fault.why.startswith(("Un", "Inv", "Esc")):
        fix = f"'{found[1]}'" if "'" not in found[1] else '"' + found[1].replace("\\", "/") + '"'
        return _likely("syntax_backslash", _at(line, found, 0), fix)
    if slip := _open_quote(fault, _first_line(fault)):
        return slip
    bare = re.sub(_QUOTED, "", text.split("#")[0])
    if bare.count('"') % 2 and text.count('"') > 2:
        return Repair("syntax_quotes_odd", Place(line.begin + text.index('"'), line.begin + text.rindex('"') + 1), {})
    return None


def _open_quote(fault: ParseFailure, line: Place) -> Repair | None:
    text = fault.text[line.begin : line.end]
    if (long := re.search(r'"""|\'\'\'', text)) and fault.why.startswith(("Untermi", "Expected '", 'Expected "')):
        place = Place(line.begin + long.start(), line.begin + len(text.rstrip()))
        return _likely("syntax_open_quote", place, fault.text[place.begin : place.end] + long[0])
    text = re.sub(_QUOTED, lambda found: "_" * len(found[0]), text)
    found = re.search(r"""["'][^#\]},]*""", text)
    if not found or not fault.why.startswith(("Illegal", "Untermi", "Expected '", 'Expected "')):
        return None
    written = fault.text[line.begin + found.start() : line.begin + found.end()].rstrip()
    place = Place(line.begin + found.start(), line.begin + found.start() + len(written))
    # Of what stood before, only the quote is known to be wrong; an odd closing quote (x = home") has none to open.
    unopened = re.search(r"=[ \t]*([^\"'=]+)$", fault.text[line.begin : place.begin])
    if unopened and len(written) == 1:
        begin = line.begin + unopened.start(1)
        return _likely("syntax_unquoted", Place(begin, place.end), f'"{unopened[1]}"', text=unopened[1])
    if written[0] == "'" and written.endswith('"') and written.count('"') == 1 and len(written) > 2:
        return _likely("syntax_open_quote", place, f'"{written[1:]}')
    return _likely("syntax_open_quote", place, written + written[0])


def _first_line(fault: ParseFailure) -> Place:
    end = fault.text.find("\n", fault.begin)
    return Place(fault.begin, len(fault.text) if end < 0 else end)


def _last_line(fault: ParseFailure) -> Place:
    text = fault.text.rstrip()
    return Place(max(text.rfind("\n") + 1, min(fault.begin, len(text))), len(text))


def _value(fault: ParseFailure) -> Repair | None:
    place = _token(fault)
    text = fault.text[place.begin : place.end]
    if not text:
        return _no_value(fault, place)
    if text.lower() in ("none", "null", "nil"):
        return Repair("syntax_nothing", place, {"text": text})
    if text.lower() in ("true", "false", "yes", "no", "on", "off"):
        fix = "true" if text.lower() in ("true", "yes", "on") else "false"
        return _likely("syntax_true", place, fix, text=text)
    if found := re.fullmatch(r"([+-]?)(\.[0-9]+)", text):
        return _likely("syntax_leading_dot", place, f"{found[1]}0{found[2]}")
    if re.fullmatch(r"[+-]?[0-9]+\.", text):
        return _likely("syntax_trailing_dot", place, f"{text}0")
    if re.fullmatch(r"[+-]?(nan|inf|infinity)", text, re.IGNORECASE):
        return Repair("not_finite", place, {"text": text, "low": "0", "high": tr("a finite bound")}, "0")
    if re.fullmatch(r"0[0-9]+(\.[0-9]+)?", text):
        bare = re.sub(r"^0+(?=[0-9])", "", text)
        facts = {"options": f"{bare}, 0.{text[1:]}"} if "." not in text else {}       # or its point was forgotten
        return Repair("syntax_leading_zero", place, facts, bare)
    if re.fullmatch(r"[0-9][0-9.,:]*[ \t]*[A-Za-z]*", text) and re.search("[a-zA-Z:]", text):
        return _likely("syntax_unquoted_time", place, f'"{_clock(text)}"', text=text)
    if found := re.fullmatch(r"""([^"'\s][^"']*)["']""", text):
        return _likely("syntax_no_open_quote", place, f'"{found[1]}"')
    if re.fullmatch(r"[^\W\d][^\"'=\n{}\[\]]*|[\w.:+/\\-]*[^\W\d][\w.:+/\\ -]*", text):
        return _likely("syntax_unquoted", place, f"'{text}'" if "\\" in text else f'"{text}"', text=text)
    return None


def _clock(text: str) -> str:
    """Return the clock value that can only have been meant; of several none, so that the next stage tells them."""
    try:
        parse_clock(text)
    except ClockValueError as error:
        return error.likely if len(error.readings) == 1 else text
    return text


def _token(fault: ParseFailure) -> Place:
    """Return the place of the bare value in which or right after which tomllib gave up."""
    line = fault.line
    begin = max(fault.text.rfind(mark, line.begin, fault.offset) for mark in "=,[{") + 1
    begin = max(begin, line.begin)
    text = fault.text[begin : line.end]
    stop = re.search(r"[,\]}#]", text)
    text = text[: stop.start()] if stop else text
    lead = len(text) - len(text.lstrip())
    return Place(begin + lead, begin + lead + len(text.strip()))


def _no_value(fault: ParseFailure, place: Place) -> Repair | None:
    text = fault.text[fault.line.begin : fault.line.end]
    if found := re.search(r"=[ \t]*(#[0-9a-fA-F]{6}|#[0-9a-fA-F]{3})[ \t]*(#.*)?$", text):
        return _likely("syntax_unquoted", _at(fault.line, found, 1), f'"{found[1]}"', text=found[1])
    key = re.search(rf"({_KEY})[ \t]*=[ \t]*$", fault.text[fault.begin : place.begin])
    if not key:
        return None
    return Repair("syntax_no_value", Place(fault.begin + key.start(), fault.begin + key.end()), {"key": key[1]})


def _commas(fault: ParseFailure) -> Repair | None:
    line = fault.line
    text = fault.text[line.begin : line.end]
    at = fault.offset - line.begin
    for found in re.finditer(rf"(?<![\w.]){_NUMBER},[0-9]+(?![\w.])", text):
        inside_list = re.search(r"\[[^\]{}]*$", text[: found.start()])
        if found.start() <= at <= found.end() + 1 and not inside_list:
            return _likely("syntax_decimal_comma", _at(line, found, 0), found[0].replace(",", "."))
    rest = text[at:].split("#")[0].rstrip()
    if rest in (",", ";"):
        code = "syntax_comma_at_end" if rest == "," else "syntax_semicolon"
        return _likely(code, Place(fault.offset, fault.offset + 1), "")
    if fault.why.startswith("Unclosed") and rest:
        mark = fault.text[fault.offset]
        if mark in "\"'{[" or mark.isalnum():
            return _likely("syntax_comma_missing", Place(fault.offset, fault.offset + 1), f", {mark}")
        if mark == ";":
            return _likely("syntax_comma_missing", Place(fault.offset, fault.offset + 1), ",")
    return None


def _second(fault: ParseFailure) -> Repair | None:
    line = fault.line
    rest = fault.text[fault.offset : line.end]
    if fault.why.startswith("Expected newline") and re.match(rf"{_KEY}[ \t]*=", rest):
        return Repair("syntax_two_on_a_line", Place(fault.offset, line.end), {}, "")
    return None


_RULES: tuple[Callable[[ParseFailure], Repair | None], ...] = (
    _open_list, _heading, _quotes, _comment, _equals, _braces, _second, _commas, _value
)  # fmt: skip
