"""Load a drill with its game, plan and rig, and check them together."""

from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from tocsin.config import bundle
from tocsin.config.checks.drill import check_drill
from tocsin.config.files import file_text
from tocsin.config.load import (
    DiagnosticsError,
    FileCache,
    Loaded,
    Named,
    Pair,
    Parsed,
    Sources,
    all_problems,
    assemble,
    bundled_patterns,
    compiled,
    load_texts,
    no_such_text,
    pair_of,
    parse_document,
)
from tocsin.config.reading import DRILL, GAME, RIG, format_of
from tocsin.config.schema.drill import DrillFile
from tocsin.config.schema.references import LINK_AWAY, is_link_away, near
from tocsin.config.toml.document import Document
from tocsin.config.toml.phrases import listing, only_word, quoted
from tocsin.model.diagnostics import Diagnostic
from tocsin.model.drill import Drill


class LoadedDrill(NamedTuple):
    """A drill, the loaded files it runs on, and its own file."""

    drill: Drill
    files: Loaded


def load_drill(drill: str, rig: str) -> LoadedDrill:
    """Return a drill with all files that it names; each argument is a file or a bundled name.

    Raises DiagnosticsError (exit 20) with every mistake in all the files, UsageError (exit 2) for an argument that
    names nothing.
    """
    path = bundle.find("drills", drill)
    rig_path = bundle.find("rigs", rig)
    shelf = FileCache()
    parsed = shelf.parsed(DRILL, path)
    pair = check_in_game(shelf, parsed, path)
    if pair is None:
        raise DiagnosticsError(all_problems(shelf.documents()))
    sources = Sources((pair,), (shelf.parsed(RIG, rig_path),), bundled_patterns(shelf))
    loaded = assemble(sources)
    return _joined(parsed, loaded)


def load_drill_texts(files: Iterable[Named]) -> LoadedDrill:
    """Return the same as an earlier ``load_drill``, from the files that it returned. Raises MistakeError."""
    files = list(files)
    found = next((file for file in files if format_of(Document(file.name, file.text)) is DRILL), None)
    if found is None:
        raise no_such_text("drill")
    parsed = parse_document(Document(found.name, found.text), DRILL)
    if not parsed.document.is_sound:
        raise DiagnosticsError(all_problems((parsed.document,)))
    return _joined(parsed, load_texts(file for file in files if file is not found))


def check_in_game(shelf: FileCache, parsed: Parsed, path: Path) -> Pair | None:
    """Return the plan and game that a drill names, None if there are mistakes; all mistakes are reported."""
    table = parsed.table
    if not isinstance(table, DrillFile):
        return None
    drill = table.build()
    plan_path = _named(parsed.document, "plans", drill.plan, path)
    game_path = _named(parsed.document, "games", drill.game, path) if drill.game else None
    if plan_path is None or (drill.game and game_path is None):
        return None
    pair = pair_of(shelf, plan_path, shelf.parsed(GAME, game_path) if game_path else None)
    (found,) = compiled(Sources((pair,), (), bundled_patterns(shelf)))
    if found is None or all_problems(shelf.documents()):
        return None
    check_drill(parsed.document, drill, found.game, found.plan, found.timeline)
    return pair if parsed.document.is_sound else None


def _named(document: Document, kind: bundle.Kind, name: str, beside: Path) -> Path | None:
    """Return the file that a drill names, bundled or beside it; one that is nowhere is reported."""
    known = bundle.names(kind)
    path = bundle.root() / kind / f"{name}.toml" if name in known else near(beside.parent, name)
    if path is not None:
        return path
    key = kind[:-1]
    if bundle.is_file_argument(name) and is_link_away(beside.parent, name):
        facts = {"text": name, "why": LINK_AWAY}
        document.report(Diagnostic(code="reference", file="drill", path=(key,), facts=facts))
        return None
    facts = {"kind": key, "name": name, "known": listing(known)}
    if likely := only_word(name, known):
        facts["likely"] = quoted(likely)
    document.report(Diagnostic(code="drill_names_nothing", file="drill", path=(key,), facts=facts))
    return None


def _joined(parsed: Parsed, loaded: Loaded) -> LoadedDrill:
    assert isinstance(parsed.table, DrillFile)                  # else there would be problems
    own = file_text(DRILL.kind, parsed.document.name, parsed.document.text)
    files = (*loaded.files, own)
    return LoadedDrill(parsed.table.build(), Loaded(loaded.plans, loaded.rig, files))
