"""Load all files of a run, and check them together."""

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple, Protocol, TypeVar

import msgspec

from tocsin.config import bundle
from tocsin.config.checks.rig import check_calls, check_rig
from tocsin.config.file_cache import FileCache, Parsed, below_plans, game_path, parse_document
from tocsin.config.files import FileText, file_text
from tocsin.config.reading import GAME, PATTERNS, PLAN, RIG, Format, format_of
from tocsin.config.schema.game import GameFile
from tocsin.config.schema.pattern import PatternFile
from tocsin.config.schema.plan import PlanFile
from tocsin.config.schema.references import LINK_AWAY, is_link_away, objection
from tocsin.config.schema.rig import RigFile
from tocsin.config.schema.table import Table
from tocsin.config.semantics import report_mistakes, with_patterns
from tocsin.config.toml.diagnostic import FileDiagnostic, render_all
from tocsin.config.toml.document import Document
from tocsin.config.toml.phrases import listing, quoted
from tocsin.errors import MistakeError, UsageError
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.diagnostics import Diagnostic
from tocsin.model.game import Game
from tocsin.model.pattern import Patterns
from tocsin.model.plan import DEFAULT_LANGUAGE, Plan
from tocsin.model.rig import Rig
from tocsin.model.spelling import readings, tidied
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr

T = TypeVar("T", bound=Table)

MOST_PLANS = 3


class LoadedPlan(NamedTuple):
    """A plan with the bundled and the shared patterns under its own, its game, and the timeline compiled from both."""

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


class Pair(NamedTuple):
    """A plan and its game; no game if the plan names none that exists."""

    game: Parsed | None
    plan: Parsed


class Sources(NamedTuple):
    """All parsed files of one loading."""

    pairs: tuple[Pair, ...]
    rigs: tuple[Parsed, ...]
    patterns: tuple[Parsed, ...]
    language: str = DEFAULT_LANGUAGE       # of plans that name none


def load(game: str | None, plans: Sequence[str], rig: str, shelf: FileCache | None = None) -> Loaded:
    """Return plans with their timelines, rig and file texts; each argument is a file or a bundled name.

    ``game`` None takes the game that each plan names: a bundled one, or a file beside the plan. Files on the ``shelf``
    are not read again; None begins with an empty one. Raises DiagnosticsError (exit 20) with every mistake in all the
    files, also for an existing file that cannot be read, and UsageError (exit 2) for an argument that names nothing.
    """
    if not 1 <= len(plans) <= MOST_PLANS:
        raise UsageError(
            tr("{count} plans are given", count=len(plans)), hint=tr("give 1 to {most_plans}", most_plans=MOST_PLANS),
        )
    paths = [bundle.find("plans", plan) for plan in plans]
    rig_path = bundle.find("rigs", rig)
    shelf = shelf or FileCache()
    over = None if game is None else shelf.parsed(GAME, bundle.find("games", game))
    pairs = tuple(pair_of(shelf, path, over) for path in paths)
    return assemble(sources_of(shelf, pairs, (shelf.parsed(RIG, rig_path),)))


def sources_of(shelf: FileCache, pairs: tuple[Pair, ...], rigs: tuple[Parsed, ...] = ()) -> Sources:
    """Return plans and rigs with what the shelf's files share."""
    return Sources(pairs, rigs, below_plans(shelf), shelf.shared.language)


def load_rig(rig: str) -> Rig:
    """Return one rig, from a file or by its bundled name. Raises DiagnosticsError and UsageError like ``load``."""
    shelf = FileCache()
    found = checked_rig(Sources((), (shelf.parsed(RIG, bundle.find("rigs", rig)),), ()), ())
    if problems := all_problems(shelf.documents()):
        raise DiagnosticsError(problems)
    assert found is not None                                    # else there would be problems
    return found


def load_texts(files: Iterable[Named], language: str = DEFAULT_LANGUAGE) -> Loaded:
    """Return the same as an earlier ``load``, from the ``files`` that it returned: a run continues without the files on
    disk. ``language`` is that of plans that name none.

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
    return assemble(Sources(tuple(pairs), tuple(rigs), tuple(patterns), language))


def no_such_text(what: str) -> MistakeError:
    """Return the error for a run whose files lack one."""
    return MistakeError(
        tr("the run kept no file for {what}", what=what), hint=tr("start a new one"),
    )


def _table(parsed: Parsed, schema: type[T]) -> T | None:
    return parsed.table if isinstance(parsed.table, schema) else None


def pair_of(shelf: FileCache, path: Path, over: Parsed | None) -> Pair:
    """Return the plan at ``path`` and its game, or ``over`` if that is given; a game that is not found is reported."""
    parsed = shelf.parsed(PLAN, path, over)
    if over is not None:
        return Pair(over, parsed)
    stated = parsed.document.data.get("game")
    if found := game_path(path, stated):
        return Pair(shelf.parsed(GAME, found), parsed)
    if isinstance(stated, str) and not objection(stated):
        _report_no_game(parsed.document, path, stated)
    return Pair(None, parsed)


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
    below = [table.build() for parsed in sources.patterns if (table := _table(parsed, PatternFile))]
    return [_compiled_pair(pair, below, sources.language) for pair in sources.pairs]


def _compiled_pair(pair: Pair, below: Sequence[Patterns], language: str) -> LoadedPlan | None:
    plan_table = _table(pair.plan, PlanFile)
    game_table = _table(pair.game, GameFile) if pair.game else None
    if pair.game is None or plan_table is None or game_table is None:
        return None
    game, own = game_table.build(), plan_table.build()
    stated = own.language if "language" in plan_table.model_fields_set else language
    plan = with_patterns(msgspec.structs.replace(own, language=stated), below)
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
