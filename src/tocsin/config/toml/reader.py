"""Read TOML with mistakes: note every mistake, and read the rest.

tomllib stops at the first mistake. This reader notes the mistake, replaces its line by the likely meaning or by a blank
line, and reads the text again. Line numbers stay the same.
"""

import re
import tomllib
from collections.abc import Collection
from typing import NamedTuple

from tocsin.config.toml.bounds import excess_of
from tocsin.config.toml.document import Document
from tocsin.config.toml.positions import Place, Places, TableHeader, line_starts, scan
from tocsin.config.toml.repairs import ParseFailure, Repair, recognise
from tocsin.model.diagnostics import Path
from tocsin.model.spelling import only_reading

# Past this many mistakes a file is no TOML at all, and more messages help nobody; each takes another reading.
MOST = 30
_MOST_READ = 800_000                 # characters, all readings of one text together
_AT = re.compile(r"(?P<why>.*) \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)", re.DOTALL)
_NEXT = re.compile(r"[ \t]*([A-Za-z0-9_.-]+[ \t]*=|\[\[?[ \t]*[A-Za-z0-9_.-]+[ \t]*\]|#)")
_SPARE = "__unread_"              # keys of tables that stand twice: read for their own mistakes, then dropped


class Headings(NamedTuple):
    """The headings of a format that are lists (``[[cue]]``), and those that are tables (``[lead]``)."""

    lists: Collection[str]
    tables: Collection[str]


def read(document: Document, headings: Headings) -> None:
    """Fill the document's data and places from its text, reporting every mistake of syntax."""
    if excess := excess_of(document.text):
        document.report_at(excess.code, excess.place, excess.facts)
        document.text = "\n" * document.text.count("\n")
        return
    for attempt in range(max(2, min(MOST, _MOST_READ // (len(document.text) + 1)))):
        places = scan(document.text)
        if slip := _wrong_brackets(document, places.headers, headings):
            _go_on(document, slip, slip.place, places)
            continue
        try:
            document.data = tomllib.loads(document.text)
        except tomllib.TOMLDecodeError as error:
            _recover(document, places, str(error), attempt)
            continue
        document.places = places
        break
    for key in [key for key in document.data if key.startswith(_SPARE)]:
        del document.data[key]


def _recover(document: Document, places: Places, error: str, attempt: int) -> None:
    text = document.text
    found = _AT.fullmatch(error)
    offset, why = len(text), error
    if found:
        why = found["why"]
        if found["line"]:
            offset = line_starts(text)[int(found["line"]) - 1] + int(found["column"]) - 1
    if why.startswith(("Cannot", "Duplicate")) and _twice(document, places, offset, attempt, why):
        return
    begin = places.stopped if places.stopped is not None and places.stopped <= offset else _line_begin(text, offset)
    fault = ParseFailure(text, offset, begin, why[:1].lower() + why[1:] if why[:1] == "E" else why)
    slip = recognise(fault._replace(why=why))
    _go_on(document, slip, Place(begin, max(begin, slip.place.begin)), places)


def _go_on(document: Document, slip: Repair, statement: Place, places: Places) -> None:
    """Note a slip and put the fixed text in its place; without a guess, blank the whole statement."""
    text = document.text
    facts = {name: fact for name, fact in slip.facts.items() if name != "likely"}
    if slip.guess is not None:
        fixed = text[: slip.place.begin] + slip.guess + text[slip.place.end :]
        if fixed != text and not _is_stuck(document, slip):
            if slip.is_fix:
                document.fixed_in_text(slip.code, slip.place, facts)
            else:
                document.report_at(slip.code, slip.place, facts)
            document.text = fixed
            return
    document.report_at(slip.code, slip.place, facts)
    _blank(document, statement._replace(end=max(statement.end, slip.until or 0)), places)


def _is_stuck(document: Document, slip: Repair) -> bool:
    """Return whether fixing does not get on: the same line has been fixed before."""
    line = document.text.count("\n", 0, slip.place.begin)
    if line in document.fixed_lines:
        return True
    document.fixed_lines.add(line)
    return False


def _blank(document: Document, statement: Place, places: Places) -> None:
    """Blank the statement's lines, and remember its key: it is not missing, it could not be read."""
    text = document.text
    begin = _line_begin(text, statement.begin)
    end = _statement_end(text, begin, statement.end)
    if found := re.match(r"[ \t]*([A-Za-z0-9_-]+)", text[begin:end]):
        document.lost.add((*places.table, found[1]))
    elif places.table:
        document.lost.add(places.table)
    kept = "\n" * text.count("\n", begin, end)
    document.text = text[:begin] + kept + text[end:]


def _statement_end(text: str, begin: int, at_least: int) -> int:
    """Return the end of the statement: where the next line looks like a statement of its own."""
    end = text.find("\n", max(begin, at_least))
    while end >= 0:
        stop = text.find("\n", end + 1)
        following = text[end + 1 : stop if stop >= 0 else len(text)]
        if not following.strip() or _NEXT.match(following):
            return end
        end = stop
    return len(text)


def _line_begin(text: str, offset: int) -> int:
    return text.rfind("\n", 0, min(offset, len(text))) + 1


def _wrong_brackets(document: Document, headers: list[TableHeader], headings: Headings) -> Repair | None:
    for header in headers:
        key = ".".join(header.key)
        if len(header.key) == 1 and key in headings.lists and not header.is_array:
            fix, code = f"[[{key}]]", "syntax_single_bracket"
        elif header.key[0] in headings.tables and header.is_array:
            fix, code = f"[{key}]", "syntax_double_bracket"
        elif header.is_array and len(header.key) == 1 and (meant := _meant_list(key, headings)):
            fix, code = f"[[{meant}]]", "syntax_list_unknown"
        else:
            continue
        return Repair(code, header.place, {"key": key, "likely": fix}, fix)
    return None


def _meant_list(key: str, headings: Headings) -> str:
    """Return the list that an unknown heading can only mean: it may stand beside others of the list, unlike a key."""
    return "" if key in (*headings.lists, *headings.tables) else only_reading(key, headings.lists)


def _twice(document: Document, places: Places, offset: int, attempt: int, why: str) -> bool:
    """Note a key or table that stands there already; return whether this is one."""
    header = next((h for h in places.headers if h.place.begin <= offset <= h.place.end + 1), None)
    if header is not None:
        _note_twice(document, "syntax_table_twice", header.place, ".".join(header.key), places.keys.get(header.key))
        text = document.text
        document.text = f"{text[: header.place.begin]}[{_SPARE}{attempt}]{text[header.place.end :]}"
        return True
    begin = max((start for start in places.statements if start < offset), default=0)
    text = document.text
    table = _table_before(places, begin)
    if inline := re.match(r"Duplicate inline table key '(.*)'", why):
        twin = re.compile(rf"(?<![\w-]){re.escape(inline[1])}(?![\w-])")
        found = list(twin.finditer(text, begin, offset))[-1:]
        if not found:
            return False
        place = Place(*found[0].span())
        _note_twice(document, "syntax_key_twice", place, inline[1], place)
    else:
        key = re.compile(r"[A-Za-z0-9_-]+").match(text, begin)
        if not key:
            return False
        place = Place(*key.span())
        _note_twice(document, "syntax_key_twice", place, key[0], places.keys.get((*table, key[0])))
        if _begins_a_table(places, table, key[0], begin):
            # Its heading is missing: the lines below it would all stand twice.
            stop = min((h.place.begin for h in places.headers if h.place.begin > begin), default=len(text))
            document.text = text[:begin] + re.sub(r"[^\n]+", "", text[begin:stop]) + text[stop:]
            return True
    _blank(document, Place(begin, offset), places)
    return True


def _begins_a_table(places: Places, table: Path, key: str, offset: int) -> bool:
    """Return whether a key that stands twice in a list's table is the one that the table began with."""
    inside = [place.begin for path, place in places.keys.items() if path[:-1] == table and place.begin < offset]
    first = places.keys.get((*table, key))
    is_listed = bool(table) and isinstance(table[-1], int)
    return is_listed and first is not None and first.begin == min(inside, default=-1)


def _note_twice(document: Document, code: str, place: Place, key: str, first: Place | None) -> None:
    line = document.text.count("\n", 0, first.begin) + 1 if first else 1
    document.report_at(code, place, {"key": key, "first": str(line)})


def _table_before(places: Places, offset: int) -> Path:
    return next((h.path for h in reversed(places.headers) if h.place.begin < offset), ())
