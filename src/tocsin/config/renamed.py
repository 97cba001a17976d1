"""Find the older names that stand in a file, each with its place and what it is called now."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from pathlib import Path as FilePath
from typing import Any, NamedTuple

from tocsin.config import bundle
from tocsin.config.file_cache import FileCache, Parsed, below_plans, parse_document
from tocsin.config.load import Named
from tocsin.config.older_names import FORMS, pattern_meant
from tocsin.config.reading import DRILL, PATTERNS, PLAN, PROJECT, RIG, format_of, likely_format
from tocsin.config.schema.pattern import PatternFile
from tocsin.config.schema.references import near
from tocsin.config.schema.rig import LightDevice, RigFile
from tocsin.config.toml.document import Document
from tocsin.config.toml.phrases import quoted
from tocsin.model.diagnostics import Path
from tocsin.model.plan import CHANNELS
from tocsin.translation import tr

# Which keys of a format name other files, by what kind these are of.
_NAMED: Mapping[str, tuple[tuple[Path, bundle.Kind], ...]] = {
    PLAN.kind: ((("game",), "games"),),
    DRILL.kind: ((("game",), "games"), (("plan",), "plans"), (("vary", "plan"), "plans")),
    PROJECT.kind: (
        (("game",), "games"), (("plan",), "plans"), (("event", "plan"), "plans"), (("rig",), "rigs"),
        (("drills",), "drills"), (("patterns",), "patterns"),
    ),
}  # fmt: skip
Ids = Mapping[str, Collection[str]]
"""Ids of patterns by channel."""


class OlderName(NamedTuple):
    """A value at a key path, and the line, that is called otherwise now; ``older`` is empty for one that is left out
    and meant something else before."""

    path: Path
    line: int
    older: str
    newer: str


def pattern_ids(parsed: Iterable[Parsed]) -> Ids:
    """Return the ids of the patterns in files, by channel."""
    tables = [one.table.pattern for one in parsed if isinstance(one.table, PatternFile)]
    return {channel: {name for table in tables for name in getattr(table, channel)} for channel in CHANNELS}


def older_names(parsed: Parsed, shelf: FileCache, folder: FilePath | None = None) -> tuple[OlderName, ...]:
    """Return the older names in a file without mistakes, in the order of its lines.

    ``shelf`` has what lies below its plans: an id of a pattern there, or in the plan itself, is the team's own name.
    ``folder`` is a project file's: a file in it is meant first.
    """
    document = parsed.document
    found = format_of(document)
    if found is None or not document.is_sound:
        return ()
    changes = [*_files(document.data, found.kind, folder)]
    if found in (PLAN, PATTERNS):
        changes += _forms(document.data)
    if found is PLAN:
        changes += _patterns(document.data, pattern_ids(below_plans(shelf)))
    if found is RIG and isinstance(parsed.table, RigFile) and (light := parsed.table.light) and _is_of_before(light):
        changes.append((("light", "protocol"), "", light.build().protocol))
    placed = [OlderName(path, document.line_of(path), older, newer) for path, older, newer in changes]
    return tuple(sorted(placed, key=lambda one: one.line))


def protocol_note(parsed: Parsed) -> str:
    """Return what to know of a rig that names no protocol for a strip that nobody confirmed: it was another one before.
    An empty text for any other file."""
    light = parsed.table.light if isinstance(parsed.table, RigFile) else None
    if light is None or light.device or "protocol" in parsed.document.data.get("light", {}) or light.confirmed:
        return ""
    return tr(
        "{name}, line {line}: [light] names no protocol, so the strip is sent TPM2. Earlier versions sent Adalight: "
        'if the strip stays dark, write protocol = "adalight" there.',
        name=parsed.document.name, line=parsed.document.line_of(("light",)),
    )


def protocol_notes(files: Iterable[Named]) -> Iterator[str]:
    """Yield that note of each rig among the files of a run."""
    for file in files:
        parsed = parse_document(Document(file.name, file.text), RIG) if likely_format(file.text) is RIG else None
        if parsed and (note := protocol_note(parsed)):
            yield note


def _is_of_before(light: LightDevice) -> bool:
    return light.protocol is None and not light.device and bool(light.confirmed)


def _forms(data: Mapping[str, Any]) -> Iterator[tuple[Path, str, str]]:
    for name, table in _table(_table(data, "pattern"), "light").items():
        form = table.get("form") if isinstance(table, dict) else None
        if isinstance(form, str) and form in FORMS:
            yield ("pattern", "light", name, "form"), form, FORMS[form]


def _patterns(data: Mapping[str, Any], below: Ids) -> Iterator[tuple[Path, str, str]]:
    own = _table(data, "pattern")
    rows = data.get("cue")
    for place, cue in enumerate(rows if isinstance(rows, list) else ()):
        for channel in CHANNELS:
            name = cue.get(channel)
            if isinstance(name, str):
                newer = pattern_meant(channel, name, {*below[channel], *_table(own, channel)})
                if newer != name:
                    yield ("cue", place, channel), name, newer


def _files(data: Mapping[str, Any], kind: str, folder: FilePath | None) -> Iterator[tuple[Path, str, str]]:
    for where, of_kind in _NAMED.get(kind, ()):
        value: Any = data
        for key in where:
            value = value.get(key) if isinstance(value, dict) else None
        several = [((*where, place), one) for place, one in enumerate(value)] if isinstance(value, list) else []
        for path, name in several or [(where, value)]:
            if isinstance(name, str) and not (folder and near(folder, f"{of_kind}/{name}.toml")):
                bundled = None if bundle.is_file_argument(name) else bundle.file_of(of_kind, name)
                if bundled and bundled.stem != name:
                    yield path, name, bundled.stem


def _table(data: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    found = data.get(key)
    return found if isinstance(found, dict) else {}


def told_older(found: Iterable[OlderName]) -> str:
    """Return older names as a list in a sentence: each once, with its lines and what it is called now."""
    lines: dict[tuple[str, str], list[str]] = {}
    for one in found:
        lines.setdefault((one.older, one.newer), []).append(str(one.line))
    return "; ".join(_told(older, newer, where) for (older, newer), where in lines.items())


def _told(older: str, newer: str, lines: list[str]) -> str:
    numbers = ", ".join(lines)
    if not older:
        return tr(
            "[light] in line {lines} names no protocol; people saw the strip with {newer}", lines=numbers,
            newer=quoted(newer),
        )
    if len(lines) == 1:
        return tr("{older} in line {lines} is {newer} now", older=quoted(older), lines=numbers, newer=quoted(newer))
    return tr("{older} in lines {lines} is {newer} now", older=quoted(older), lines=numbers, newer=quoted(newer))
