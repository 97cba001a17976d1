"""Hold the files of one loading, each read and parsed once, and what lies below all plans of it."""

from collections.abc import Iterable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from tocsin.config import bundle
from tocsin.config.checks.pattern import check_patterns
from tocsin.config.reading import DRILL, GAME, PATTERNS, PLAN, Format, open_document, tables
from tocsin.config.schema.pattern import PatternFile
from tocsin.config.schema.plan import PlanFile
from tocsin.config.schema.references import near
from tocsin.config.schema.table import Table
from tocsin.config.toml.document import Document
from tocsin.model.plan import DEFAULT_LANGUAGE
from tocsin.model.timeline.timeline import MATCH


class Parsed(NamedTuple):
    """A document and its valid values, or None. Nobody is asked to fix ``bundled`` files."""

    document: Document
    table: Table | None
    bundled: bool = False


class Shared(NamedTuple):
    """What lies below all plans of a loading: own files of patterns above the bundled ones, and the language of plans
    that name none."""

    patterns: tuple[Path, ...] = ()
    language: str = DEFAULT_LANGUAGE


NOTHING_SHARED = Shared()


class FileCache:
    """Files from disk, each read and parsed once, and what is ``shared`` by the plans among them."""

    def __init__(self, shared: Shared = NOTHING_SHARED) -> None:
        self.shared = shared
        self._known: dict[tuple[str, Path], Parsed] = {}

    def parsed(self, wanted: Format, path: Path, game: Parsed | None = None) -> Parsed:
        """Return the file at ``path``, parsed as ``wanted``; a plan or drill for ``game`` if that differs from the one
        it names."""
        key = (wanted.name, path.resolve())
        if key not in self._known:
            document = open_document(path)
            is_bundled = bundle.holds(path)
            if wanted is PATTERNS and is_bundled and document.is_sound:
                self._known[key] = _bundled_file_of_patterns(document.name, document.text)
                return self._known[key]
            self._known[key] = Parsed(document, None)      # its place among the others
            if wanted is GAME:
                document.bases = lambda: _bases(document)
            elif wanted is PLAN:
                document.bases = lambda: self._bases_of_plan(document, path, game)
            elif wanted is DRILL:
                document.bases = lambda: self._bases_of_drill(document, path, game)
            self._known[key] = parse_document(document, wanted)._replace(bundled=is_bundled)
        return self._known[key]

    def _bases_of_plan(self, document: Document, path: Path, game: Parsed | None) -> Iterable[str]:
        found = None if game else game_path(path, document.data.get("game"))
        game = self.parsed(GAME, found) if found else game
        return _bases(game.document) if game else ()

    def _bases_of_drill(self, document: Document, path: Path, given: Parsed | None) -> Iterable[str]:
        if given is not None:
            return _bases(given.document)
        plan = stated_path("plans", path, document.data.get("plan"))
        if plan is None:
            return ()
        stated = document.data.get("game")
        game = stated_path("games", path, stated) if stated else game_path(plan, self._stated_game(plan))
        return _bases(self.parsed(GAME, game).document) if game else ()

    def _stated_game(self, plan: Path) -> object:
        return self.parsed(PLAN, plan).document.data.get("game")

    def copy(self) -> "FileCache":
        """Return a copy, for a loading that may add other files."""
        shelf = FileCache(self.shared)
        shelf._known |= self._known
        return shelf

    def files(self) -> tuple[Parsed, ...]:
        """Return all files, in the order in which they were first asked for."""
        return tuple(self._known.values())

    def documents(self) -> tuple[Document, ...]:
        """Return all documents, in that order."""
        return tuple(parsed.document for parsed in self._known.values())


def parse_document(document: Document, wanted: Format | None) -> Parsed:
    """Return a document's valid values; ``wanted`` None takes the format that it names."""
    table = tables(document, wanted)
    if isinstance(table, PlanFile | PatternFile):
        check_patterns(document, table.pattern, PLAN.kind if isinstance(table, PlanFile) else PATTERNS.kind)
    return Parsed(document, table)


@lru_cache(maxsize=32)
def _bundled_file_of_patterns(name: str, text: str) -> Parsed:
    """Return a bundled file of patterns, parsed: once a text, since every loading has all of them, and nothing that is
    found in other files is reported to them."""
    return parse_document(Document(name, text), PATTERNS)._replace(bundled=True)


def bundled_patterns(shelf: FileCache) -> tuple[Parsed, ...]:
    """Return the bundled patterns, in the order of their names."""
    folder = bundle.root() / "patterns"
    return tuple(shelf.parsed(PATTERNS, folder / f"{name}.toml") for name in bundle.names("patterns"))


def below_plans(shelf: FileCache) -> tuple[Parsed, ...]:
    """Return the patterns that lie below those of plans: the bundled ones, then the shared ones, which count first."""
    return (*bundled_patterns(shelf), *(shelf.parsed(PATTERNS, path) for path in shelf.shared.patterns))


def game_path(plan: Path, stated: object) -> Path | None:
    """Return the file of the game that a plan names, bundled or beside it, None if there is none."""
    return stated_path("games", plan, stated)


def stated_path(kind: bundle.Kind, beside: Path, stated: object) -> Path | None:
    """Return the file that another one names, bundled or beside it, None if there is none."""
    if not isinstance(stated, str):
        return None
    return bundle.file_of(kind, stated) or near(beside.parent, stated)


def _bases(game: Document) -> Iterator[str]:
    """Yield what moments of a game count from, also where parts of its file could not be read."""
    yield MATCH
    for table in ("period", "window"):
        rows = game.data.get(table)
        for row in rows if isinstance(rows, list) else ():
            if isinstance(row, dict) and isinstance(row.get("id"), str):
                yield row["id"]
