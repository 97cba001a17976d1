"""Load all files of a run, and check them together."""

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple, Protocol, TypeVar

import msgspec

from tocsin.config import bundle
from tocsin.config.checks.pattern import check_patterns
from tocsin.config.checks.rig import check_calls, check_rig
from tocsin.config.files import FileText, file_text
from tocsin.config.reading import DRILL, GAME, PATTERNS, PLAN, RIG, Format, format_of, open_document, tables
from tocsin.config.schema.game import GameFile
from tocsin.config.schema.pattern import PatternFile
from tocsin.config.schema.plan import PlanFile
from tocsin.config.schema.references import LINK_AWAY, is_link_away, near, objection
from tocsin.config.schema.rig import RigFile
from tocsin.config.schema.table import Table
from tocsin.config.semantics import overlaid, report_mistakes
from tocsin.config.toml.diagnostic import FileDiagnostic, render_all
from tocsin.config.toml.document import Document
from tocsin.config.toml.phrases import listing, quoted
from tocsin.errors import MistakeError, UsageError
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.diagnostics import Diagnostic
from tocsin.model.game import Game
from tocsin.model.pattern import Patterns
from tocsin.model.plan import Plan
from tocsin.model.rig import Rig
from tocsin.model.spelling import readings, tidied
from tocsin.model.timeline.timeline import MATCH, Timeline

T = TypeVar("T", bound=Table)

MOST_PLANS = 3


class LoadedPlan(NamedTuple):
    """A plan with the bundled patterns under its own, its game, and the timeline compiled from both."""

    game: Game
    plan: Plan
    timeline: Timeline


class Loaded(NamedTuple):
    """Plans in the order given, the rig, and the files they were read from."""

    plans: tuple[LoadedPlan, ...]
    rig: Rig
    files: tuple[FileText, ...]

    @property
    def game(self) -> Game:
        """Return the first plan's game."""
        return self.plans[0].game


class DiagnosticsError(MistakeError):
    """Files have mistakes: the message lists all of them, ``problems`` holds them for programs."""

    def __init__(self, problems: tuple[FileDiagnostic, ...], *, hint: str = "") -> None:
        super().__init__(render_all(problems), hint=hint)
        self.problems = problems


class Named(Protocol):
    """A file's name and text, as a journal keeps them."""

    @property
    def name(self) -> str: ...

    @property
    def text(self) -> str: ...


class Parsed(NamedTuple):
    """A document and its valid values, or None. Nobody is asked to fix ``bundled`` files."""

    document: Document
    table: Table | None
    bundled: bool = False


class Pair(NamedTuple):
    """A plan and its game; no game if the plan names none that exists."""

    game: Parsed | None
    plan: Parsed


class Sources(NamedTuple):
    """All parsed files of one loading."""

    pairs: tuple[Pair, ...]
    rigs: tuple[Parsed, ...]
    patterns: tuple[Parsed, ...]


def load(game: str | None, plans: Sequence[str], rig: str, shelf: "FileCache | None" = None) -> Loaded:
    """Return plans with their timelines, rig and file texts; each argument is a file or a bundled name.

    ``game`` None takes the game that each plan names: a bundled one, or a file beside the plan. Files on the ``shelf``
    are not read again; None begins with an empty one. Raises DiagnosticsError (exit 20) with every mistake in all the
    files, also for an existing file that cannot be read, and UsageError (exit 2) for an argument that names nothing.
    """
    if not 1 <= len(plans) <= MOST_PLANS:
        raise UsageError(f"{len(plans)} plans are given", hint=f"give one to {MOST_PLANS}")
    paths = [bundle.find("plans", plan) for plan in plans]
    rig_path = bundle.find("rigs", rig)
    shelf = shelf or FileCache()
    over = None if game is None else shelf.parsed(GAME, bundle.find("games", game))
    pairs = tuple(pair_of(shelf, path, over) for path in paths)
    return assemble(Sources(pairs, (shelf.parsed(RIG, rig_path),), bundled_patterns(shelf)))


def load_rig(rig: str) -> Rig:
    """Return one rig, from a file or by its bundled name. Raises DiagnosticsError and UsageError like ``load``."""
    shelf = FileCache()
    found = checked_rig(Sources((), (shelf.parsed(RIG, bundle.find("rigs", rig)),), ()), ())
    if problems := all_problems(shelf.documents()):
        raise DiagnosticsError(problems)
    assert found is not None                                    # else there would be problems
    return found


def load_texts(files: Iterable[Named]) -> Loaded:
    """Return the same as an earlier ``load``, from the ``files`` that it returned: a run continues without the files on
    disk.

    Files are told apart by their ``format``; each plan is for the last game before it. Raises DiagnosticsError, and
    MistakeError if a file is missing.
    """
    game: Parsed | None = None
    pairs: list[Pair] = []
    rigs: list[Parsed] = []
    patterns: list[Parsed] = []
    for file in files:
        parsed = parse_document(Document(file.name, file.text), None)
        match format_of(parsed.document):
            case found if found is GAME:
                game = parsed
            case found if found is RIG:
                # What its keys call was looked at when the run began.
                rigs.append(parsed._replace(bundled=True))
            case found if found is PATTERNS:
                patterns.append(parsed)
            case _:
                pairs.append(Pair(game, parsed))
    for what, is_there in (("plan", bool(pairs)), ("game", all(pair.game for pair in pairs)), ("rig", bool(rigs))):
        if not is_there:
            raise no_such_text(what)
    return assemble(Sources(tuple(pairs), tuple(rigs), tuple(patterns)))


def no_such_text(what: str) -> MistakeError:
    """Return the error for a run whose files lack one."""
    return MistakeError(f"among the files that the run keeps there is no {what}", hint="start a new one")


class FileCache:
    """Files from disk, each read and parsed once."""

    def __init__(self) -> None:
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
        found = None if game else _game_path(path, document.data.get("game"))
        game = self.parsed(GAME, found) if found else game
        return _bases(game.document) if game else ()

    def _bases_of_drill(self, document: Document, path: Path, given: Parsed | None) -> Iterable[str]:
        if given is not None:
            return _bases(given.document)
        plan = _stated_path("plans", path, document.data.get("plan"))
        if plan is None:
            return ()
        stated = document.data.get("game")
        game = _stated_path("games", path, stated) if stated else _game_path(plan, self._stated_game(plan))
        return _bases(self.parsed(GAME, game).document) if game else ()

    def _stated_game(self, plan: Path) -> object:
        return self.parsed(PLAN, plan).document.data.get("game")

    def copy(self) -> "FileCache":
        """Return a copy, for a loading that may add other files."""
        shelf = FileCache()
        shelf._known |= self._known
        return shelf

    def documents(self) -> tuple[Document, ...]:
        """Return all documents, in the order in which they were first asked for."""
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


def _table(parsed: Parsed, schema: type[T]) -> T | None:
    return parsed.table if isinstance(parsed.table, schema) else None


def bundled_patterns(shelf: FileCache) -> tuple[Parsed, ...]:
    """Return the bundled patterns, in the order of their names."""
    folder = bundle.root() / "patterns"
    return tuple(shelf.parsed(PATTERNS, folder / f"{name}.toml") for name in bundle.names("patterns"))


def pair_of(shelf: FileCache, path: Path, over: Parsed | None) -> Pair:
    """Return the plan at ``path`` and its game, or ``over`` if that is given; a game that is not found is reported."""
    parsed = shelf.parsed(PLAN, path, over)
    if over is not None:
        return Pair(over, parsed)
    stated = parsed.document.data.get("game")
    if found := _game_path(path, stated):
        return Pair(shelf.parsed(GAME, found), parsed)
    if isinstance(stated, str) and not objection(stated):
        _report_no_game(parsed.document, path, stated)
    return Pair(None, parsed)


def _game_path(plan: Path, stated: object) -> Path | None:
    """Return the file of the game that a plan names, bundled or beside it, None if there is none."""
    return _stated_path("games", plan, stated)


def _stated_path(kind: bundle.Kind, beside: Path, stated: object) -> Path | None:
    """Return the file that another one names, bundled or beside it, None if there is none."""
    if not isinstance(stated, str):
        return None
    if stated in bundle.names(kind):
        return bundle.root() / kind / f"{stated}.toml"
    return near(beside.parent, stated)


def _bases(game: Document) -> Iterator[str]:
    """Yield what moments of a game count from, also where parts of its file could not be read."""
    yield MATCH
    for table in ("period", "window"):
        rows = game.data.get(table)
        for row in rows if isinstance(rows, list) else ():
            if isinstance(row, dict) and isinstance(row.get("id"), str):
                yield row["id"]


def _report_no_game(document: Document, path: Path, stated: str) -> None:
    if bundle.is_file_argument(stated) and is_link_away(path.parent, stated):
        facts = {"text": stated, "why": LINK_AWAY}
        document.report(Diagnostic(code="reference", file="plan", path=("game",), facts=facts))
        return
    known = bundle.names("games")
    found = list(map(quoted, _near_games(path, stated, known)))
    facts = {"name": stated, "known": listing(known), "likely": found[0] if len(found) == 1 else "",
             "options": listing(found) if len(found) > 1 else ""}  # fmt: skip
    document.report(Diagnostic(code="game_unknown", file="plan", path=("game",), facts=facts))


def _near_games(plan: Path, stated: str, known: Sequence[str]) -> list[str]:
    """Return what a game that is nowhere may mean: a file, as seen from the plan's folder, or a bundled one."""
    cut = max(stated.rfind("/"), stated.rfind("\\")) + 1
    stem = stated[cut:].removesuffix(".toml")
    paths = [] if objection(stated) else sorted((plan.parent / stated[:cut]).glob("*.toml"))
    beside = [path.stem for path in paths if path != plan]
    files = readings(stem, beside)
    files += [name for name in beside if name not in files and name.startswith(f"{tidied(stem)}_")]
    bundled = [] if bundle.is_file_argument(stated) else readings(stem, known)
    return [*(f"{stated[:cut]}{stem}.toml" for stem in files), *bundled]


def assemble(sources: Sources) -> Loaded:
    """Return all files compiled and checked together. Raises DiagnosticsError."""
    plans = compiled(sources)
    rig = checked_rig(sources, plans)
    if problems := all_problems(documents_of(sources)):
        raise DiagnosticsError(problems)
    assert rig is not None                                      # else there would be problems
    return Loaded(tuple(plan for plan in plans if plan), rig, _texts(sources))


def compiled(sources: Sources) -> list[LoadedPlan | None]:
    """Return each plan compiled, None if it has mistakes; those are reported to the documents."""
    bundled = [table.build() for parsed in sources.patterns if (table := _table(parsed, PatternFile))]
    return [_compiled_pair(pair, bundled) for pair in sources.pairs]


def _compiled_pair(pair: Pair, bundled: Sequence[Patterns]) -> LoadedPlan | None:
    plan_table = _table(pair.plan, PlanFile)
    game_table = _table(pair.game, GameFile) if pair.game else None
    if pair.game is None or plan_table is None or game_table is None:
        return None
    game, own = game_table.build(), plan_table.build()
    plan = msgspec.structs.replace(own, patterns=overlaid(bundled, own.patterns))
    timeline, mistakes = compile_plan(game, plan)
    report_mistakes(mistakes, pair.game.document, game, pair.plan.document, plan)
    return None if timeline is None else LoadedPlan(game, plan, timeline)


def checked_rig(sources: Sources, plans: Iterable[LoadedPlan | None], *, strict: bool = False) -> Rig | None:
    """Return the last rig, None if it is not valid; calls are checked against all plans together.

    A bundled rig may call cues that these plans lack: the key then does nothing. So may a user's rig, unless
    ``strict``: it may serve other plans too.
    """
    # A plan with mistakes may lack the very cue that a key calls.
    sound = [found.plan for found in plans if found is not None]
    rig: Rig | None = None
    for parsed in sources.rigs:
        if table := _table(parsed, RigFile):
            rig = table.build()
            check_rig(parsed.document, rig)
            is_whole = all(pair.plan.document.is_sound for pair in sources.pairs)
            if len(sound) == len(sources.pairs) and sound and is_whole and not parsed.bundled:
                check_calls(parsed.document, rig, sound, strict=strict)
    return rig


def documents_of(sources: Sources) -> tuple[Document, ...]:
    """Return each document once, in the order of the files."""
    parsed: list[Parsed] = []
    for pair in sources.pairs:
        parsed += [pair.game, pair.plan] if pair.game else [pair.plan]
    documents = [one.document for one in (*parsed, *sources.rigs, *sources.patterns)]
    return tuple(dict.fromkeys(documents))


def all_problems(documents: Iterable[Document]) -> tuple[FileDiagnostic, ...]:
    """Return the problems of all documents, each in the order of its lines."""
    return tuple(problem for document in documents for problem in document.sorted_problems())


def _texts(sources: Sources) -> tuple[FileText, ...]:
    texts: list[FileText] = []
    game: Parsed | None = None
    for pair in sources.pairs:
        if pair.game is not None and pair.game is not game:
            texts.append(_text(GAME, pair.game))
            game = pair.game
        texts.append(_text(PLAN, pair.plan))
    texts += [_text(RIG, parsed) for parsed in sources.rigs]
    texts += [_text(PATTERNS, parsed) for parsed in sources.patterns]
    return tuple(texts)


def _text(of: Format, parsed: Parsed) -> FileText:
    return file_text(of.kind, parsed.document.name, parsed.document.text)
