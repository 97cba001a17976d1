"""Edit single values of a rig file and keep the rest as people wrote it: order, comments, line ends."""

import datetime
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AoT

from tocsin.config import bundle
from tocsin.config.load import load_rig
from tocsin.config.writing import write_new
from tocsin.errors import UsageError
from tocsin.translation import tr

Value = int | float | str | bool | datetime.date
Place = tuple[str, str] | tuple[str, int, str]     # ("light", "latency_ms"), ("pad", 0, "latency_ms")


def own_rig(argument: str) -> Path:
    """Return the path of a rig that may be edited. Raises UsageError for a bundled one, with the command that copies
    it, and for one that is missing."""
    path = bundle.find("rigs", argument)
    if bundle.holds(path):
        hint = tr("`tocsin init my_team` makes copies of your own; then --rig my_team/rigs/{name}", name=path.name)
        raise UsageError(tr("the rig {stem} comes with Tocsin and stays as it is", stem=path.stem), hint=hint)
    return path


def edited(text: str, values: Mapping[Place, Value]) -> str:
    """Return a rig file's text with ``values`` in their places; a missing table is added at the end.

    ``text`` is TOML without a syntax mistake. Raises KeyError for a pad that the file does not have.
    """
    line_end = "\r\n" if "\r\n" in text else "\n"
    document = tomlkit.parse(text.replace("\r\n", "\n"))
    for place, value in values.items():
        table = _table(document, place)
        table[place[-1]] = value
    return tomlkit.dumps(document).replace("\n", line_end)


def write_values(path: Path, values: Mapping[Place, Value]) -> None:
    """Write ``values`` into the rig file at ``path``, all or none.

    If the file has a mistake, raises the errors of loading a rig and writes nothing. Raises UsageError if it cannot be
    written, or if the edited file would no longer be a rig.
    """
    load_rig(str(path))
    text = path.read_bytes().decode("utf-8-sig")       # as it is, line ends too
    try:
        changed = edited(text, values)
    except (KeyError, TypeError) as error:
        raise UsageError(
            tr("{path} has no place for {error}", path=path, error=error), hint=tr("look at it with `tocsin check`"),
        ) from error
    write_new(path, changed, overwrite=True)


def _table(document: tomlkit.TOMLDocument, place: Place) -> Any:
    name, *rest = place[:-1]
    if rest:
        pads = document.get(name)
        number = rest[0]
        if not isinstance(pads, AoT | list) or not isinstance(number, int) or number >= len(pads):
            raise KeyError(f"[[{name}]] number {number}")
        return pads[number]
    if name not in document:
        document.add(tomlkit.nl())
        document[str(name)] = tomlkit.table()
    return document[str(name)]
