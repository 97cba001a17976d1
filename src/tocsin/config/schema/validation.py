"""Validate a document's values by the schema of its format: report all mistakes at once, and keep the valid rest."""

import copy
import itertools
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any, TypeVar, get_args

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from tocsin.config.schema.table import Table
from tocsin.config.toml.document import Document
from tocsin.config.toml.messages import MESSAGES
from tocsin.config.toml.phrases import listing, only_word, quoted, what_is
from tocsin.model.diagnostics import Diagnostic, Path
from tocsin.model.moment import respelt
from tocsin.translation import tr

T = TypeVar("T", bound=Table)
_KEY = "[key]"                 # pydantic's mark for a mistake in a key rather than in its value
_UNITS = {"ms": ("ms",), "ma": ("ma",), "hz": ("hz",)}          # that end keys, and what they are written as


def validate(document: Document, schema: type[T], file: str) -> T | None:
    """Return the document's values in the schema's type, or None if no part of them is valid.

    Every mistake is reported to the document. A wrong value is replaced by its likely meaning, or taken out, and the
    rest is validated again, so that later stages find their mistakes in the same run; ``document.rows`` then tells
    which tables are left.
    """
    data = copy.deepcopy({key: value for key, value in document.data.items() if key != "format"})
    while True:
        try:
            return schema.model_validate(data)
        except ValidationError as error:
            errors = error.errors(include_url=False)
        renames = _report(document, schema, file, errors)
        if not _prune(document, data, errors, renames):
            return None


def _report(document: Document, schema: type[Table], file: str, errors: list[ErrorDetails]) -> dict[Path, str]:
    """Report all mistakes; return what unknown keys were likely meant to be, by their paths in the values."""
    renames: dict[Path, str] = {}
    meant: set[Path] = set()
    for error in errors:
        if error["type"] == "extra_forbidden":
            path = document.original_path(error["loc"])
            likely = _report_unknown_key(document, schema, path)
            meant.add((*path[:-1], likely))
            if likely:
                renames[error["loc"]] = likely
                document.rename(path, likely)
    for error in errors:
        path = document.original_path(error["loc"])
        if error["type"] == "missing":
            if path not in meant and path not in document.lost:
                _report_missing(document, schema, file, path)
        elif _follows(document, path):
            # What is wrong with a value that was guessed is not held against the writer.
            document.follow(path, _likely(document, error))
        elif error["type"] != "extra_forbidden":
            _report_value(document, schema, file, path, error)
    return renames


def _follows(document: Document, path: Path) -> bool:
    """Return whether what stands at a path was guessed, or stands under a key that was."""
    is_renamed = document.original_key(path) != path
    return is_renamed or any(path[:end] in document.guessed for end in range(1, len(path) + 1))


def _report_unknown_key(document: Document, schema: type[Table], path: Path) -> str:
    if document.is_full:
        document.pass_over()
        return ""
    table = _table_at(schema, path[:-1])
    known = _keys(table)
    free = [key for key in known if not _has(document.data, (*path[:-1], key))]
    likely = _meant_key(document, table, path, free)
    facts = {"key": str(path[-1]), "table": table.heading, "known": listing(known), "likely": likely}
    document.report_key("unknown_key", path, facts)
    return likely


def _meant_key(document: Document, table: type[Table], path: Path, free: list[str]) -> str:
    """Return the one of the keys that are free that an unknown one can only mean, by its letters and its value."""
    key = str(path[-1])
    # What stands below a key that was itself misspelt is not found by this path.
    value = _at(document.data, path) if _has(document.data, path) else None
    fitting = [one for one in free if value is None or _may_hold(table, one, value)]
    stem, _, unit = key.rpartition("_")
    in_unit = [one for one in fitting if one.rpartition("_")[0] in (key, stem) and one.rpartition("_")[2] in _UNITS]
    if in_unit and isinstance(value, int | float) and unit not in _UNITS[in_unit[0].rpartition("_")[2]]:
        # A number under a key without its unit may be in another one: it is not, if that would be too large.
        is_sure = _may_hold(table, in_unit[0], value) and not _may_hold(table, in_unit[0], value * 1000)
        return in_unit[0] if is_sure else ""
    return in_unit[0] if len(in_unit) == 1 else only_word(key, fitting)


def _may_hold(table: type[Table], key: str, value: Any) -> bool:
    """Return whether a value may stand under a key, or what can only have been meant by it; what is wrong inside of a
    list or a table is another question."""
    try:
        table.model_validate({key: value})
    except ValidationError as error:
        wrong = [one for one in error.errors(include_url=False) if one["loc"][:1] == (key,)]
        if isinstance(value, list | dict):
            return not any(one["loc"] == (key,) for one in wrong)
        return all(len(one.get("ctx", {}).get("readings", ())) == 1 for one in wrong)
    return True


def _report_missing(document: Document, schema: type[Table], file: str, path: Path) -> None:
    if document.is_full:
        document.pass_over()
        return
    table, key = _table_at(schema, path[:-1]), str(path[-1])
    example = next(str(field.examples[0]) for name, field in _fields(table) if name == key and field.examples)
    if key == "id":
        example = _free_id(document.data, example)
    facts = {"key": key, "table": table.heading, "example": f"{key} = {example}"}
    document.report(Diagnostic(code="missing", file=file, path=path, facts=facts))


def _free_id(data: Mapping[str, Any], example: str) -> str:
    """Return an id in quotes, the example or one like it, that nothing in the file has."""
    rows = [row for rows in data.values() if isinstance(rows, list) for row in rows if isinstance(row, dict)]
    taken = {str(row.get("id")) for row in rows}
    stem = example.strip('"')
    names = (stem if number == 1 else f"{stem}_{number}" for number in itertools.count(1))
    return f'"{next(name for name in names if name not in taken)}"'


def _report_value(document: Document, schema: type[Table], file: str, path: Path, error: ErrorDetails) -> None:
    if document.is_full:
        document.pass_over()
        return
    context: Mapping[str, Any] = error.get("ctx", {})
    if error["type"] in MESSAGES:
        facts = {key: str(value) for key, value in context.items() if key not in ("span", "readings")}
        found = _readings(document, error)
        facts["likely"] = found[0] if len(found) == 1 else ""
        facts["options"] = listing(found) if len(found) > 1 else ""
        if facts.get("about") == "base" and (bases := dict.fromkeys(document.bases())):
            facts["expected"] = tr("Moments here: {bases}, each with .begin or .end.", bases=listing(bases))
        if path[-1] == _KEY:
            document.report_key(error["type"], path[:-1], facts)
        else:
            document.report(
                Diagnostic(code=error["type"], file=file, path=path, span=context.get("span"), facts=facts)
            )
        return
    code, facts = _standard(schema, path, error)
    document.report(Diagnostic(code=code, file=file, path=path, facts=facts))


def _standard(schema: type[Table], path: Path, error: ErrorDetails) -> tuple[str, dict[str, str]]:
    """Return code and facts of one of pydantic's own mistakes: they are about tables and lists only."""
    key = str(path[-1])
    context = error.get("ctx", {})
    match error["type"]:
        case "model_type" | "model_attributes_type" | "dict_type":
            example = (
                tr("a heading [{key}] and a line for each entry.", key=key) if len(path) == 1
                else "a table: { key = value }"
            )
            return "no_table", {"key": key, "is": what_is(error["input"]), "example": example}
        case "list_type":
            return (
                "no_list_of_tables",
                {
                    "key": key,
                    "is": what_is(error["input"]),
                    "example": (
                        tr("a heading [[{key}]] for each one.", key=key) if len(path) == 1
                        else tr("a list of tables: [ { } ]")
                    ),
                },
            )
        case "too_short":
            return "list_empty", {"wanted": "entry"}
        case "too_long":
            code = "table_long" if isinstance(error["input"], dict) or len(path) == 1 else "list_long"
            return code, {"count": f"{len(error['input']):,}", "high": f"{context['max_length']:,}"}
    return "wrong_type", {"is": what_is(error["input"]), "wanted": tr("something else ({error})", error=error["msg"])}


# -- the schema by key path -------------------------------------------------------------------------------------------


def _fields(table: type[Table]) -> Iterator[tuple[str, Any]]:
    for name, field in table.model_fields.items():
        yield field.alias or name, field


def _keys(table: type[Table]) -> list[str]:
    return [name for name, _ in _fields(table)]


def _table_at(schema: type[Table], path: Path) -> type[Table]:
    """Return the schema's table that the key path leads to."""
    kind: Any = schema
    for part in path:
        if _is_table(kind):
            kind = next((field.annotation for name, field in _fields(kind) if name == part), schema)
        else:
            kind = get_args(kind)[-1]                                       # list[X], dict[Id, X]
        kind = next((option for option in get_args(kind) if _is_table(option) and type(None) in get_args(kind)), kind)
    return kind if _is_table(kind) else schema


def _is_table(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, Table)


def _has(data: Any, path: Path) -> bool:
    try:
        _at(data, path)
    except (KeyError, IndexError, TypeError):
        return False
    return True


def _at(data: Any, path: Path) -> Any:
    """Return the value at a path. Raises KeyError, IndexError or TypeError where nothing stands."""
    for part in path:
        data = data[part]
    return data


# -- taking out what is wrong -----------------------------------------------------------------------------------------


def _prune(
    document: Document, data: dict[str, Any], errors: list[ErrorDetails], renames: Mapping[Path, str]
) -> bool:
    """Take what is wrong out of ``data``, or put what was meant in its place; return whether anything is left."""
    doomed = {_standing(data, _doomed(error)) for error in errors if not _fix(document, data, error, renames)}
    if () in doomed:
        if any(error["loc"] != ("name",) for error in errors if _doomed(error) == ()):
            return False
        data["name"] = "?"
    for path in sorted(doomed - {()}, key=_depth, reverse=True):
        document.lost.add(document.original_path(path))
        if not _delete(data, path):
            return False
    for name in {path[0] for path in doomed if len(path) == 2 and isinstance(path[1], int)}:
        gone = {path[1] for path in doomed if len(path) == 2 and path[0] == name}
        rows = document.rows.setdefault(str(name), list(range(len(data[str(name)]) + len(gone))))
        document.rows[str(name)] = [row for number, row in enumerate(rows) if number not in gone]
    return True


def _fix(document: Document, data: dict[str, Any], error: ErrorDetails, renames: Mapping[Path, str]) -> bool:
    """Put the likely value or key in place of a wrong one, once each; return whether that was done."""
    path, likely = error["loc"], _likely(document, error)
    original = document.original_path(path)
    is_known = path in renames or (likely and path[-1] != _KEY)
    if not is_known or original in document.guessed:
        return False
    document.guessed.add(original)
    above: Any = data
    holder: Any = data
    for part in path[:-1]:
        above, holder = holder, holder[part]
    if path in renames:
        holder[renames[path]] = holder.pop(path[-1])
        return True
    value = tomllib.loads(f"value = {likely}")["value"]
    last: Any = path[-1]
    if isinstance(holder, dict | list):
        holder[last] = value
    else:                                                   # one alone, read as a list of one
        last = path[-2]
        above[last] = value
    return True


def _likely(document: Document, error: ErrorDetails) -> str:
    """Return the only value that can have been meant, as TOML writes it, or nothing."""
    found = _readings(document, error)
    return found[0] if len(found) == 1 else ""


def _readings(document: Document, error: ErrorDetails) -> list[str]:
    """Return all that may have been meant, as TOML writes it; a moment that counts from nothing here is none of it."""
    context: Mapping[str, Any] = error.get("ctx", {})
    found = list(context.get("readings", ()))
    if "about" not in context:
        return found
    table = document.data.get("lead")
    leads = list(table) if isinstance(table, dict) else []
    bases = list(document.bases())
    spelt = [respelt(one.strip('"'), bases, leads) for one in found]
    return list(dict.fromkeys(quoted(one) for one in spelt if one))


def _doomed(error: ErrorDetails) -> Path:
    """Return the path of what has to go for this mistake: the value, or the table in which a key is missing."""
    path: Path = error["loc"]
    if path[-1] == _KEY or error["type"] == "missing":
        path = path[:-1]
    # Half a list of moments or steps means something else than the whole: it goes as one.
    while len(path) > 2 and isinstance(path[-1], int):
        path = path[:-1]
    return path


def _standing(data: Any, path: Path) -> Path:
    """Return the path of what stands there: of one value alone that was read as a list of one, that value."""
    if path and not isinstance(_at(data, path[:-1]), dict | list):
        return path[:-1]
    return path


def _depth(path: Path) -> tuple[int, tuple[tuple[bool, int, str], ...]]:
    """Order deeper paths, and later places of one list, after others."""
    return len(path), tuple((isinstance(p, int), p if isinstance(p, int) else 0, str(p)) for p in path)


def _delete(data: Any, path: Path) -> bool:
    for part in path[:-1]:
        data = data[part]
    if path[-1] in (data if isinstance(data, dict) else range(len(data))):
        del data[path[-1]]
        return True
    return False
