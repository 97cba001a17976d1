"""Load a drill with its game, plan and rig, and check them together."""

from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import NamedTuple

from tocsin.config import bundle
from tocsin.config.checks.drill import Ground, check_drill
from tocsin.config.file_cache import NOTHING_SHARED, FileCache, Parsed, Shared, parse_document, stated_path
from tocsin.config.files import file_text
from tocsin.config.load import (
    DiagnosticsError,
    Loaded,
    LoadedPlan,
    Named,
    Pair,
    all_problems,
    assemble,
    compiled,
    load_texts,
    no_such_text,
    pair_of,
    sources_of,
)
from tocsin.config.reading import DRILL, GAME, RIG, format_of
from tocsin.config.schema.drill import DrillFile
from tocsin.config.schema.references import LINK_AWAY, is_link_away, near
from tocsin.config.toml.document import Document
from tocsin.config.toml.phrases import listing, only_word, quoted
from tocsin.errors import UsageError
from tocsin.model.diagnostics import Diagnostic
from tocsin.model.diagnostics import Path as Place
from tocsin.model.drill import Drill
from tocsin.model.plan import DEFAULT_LANGUAGE
from tocsin.translation import tr


class LoadedDrill(NamedTuple):
    """A drill, the loaded files it runs on, and its own file."""

    drill: Drill
    files: Loaded


class Instead(NamedTuple):
    """Files that take the place of those that a drill names; None leaves the drill's. A plan brings the game that it
    names along, unless a game is given too."""

    plan: Path | None = None
    game: Path | None = None


def deals_plans(drill: str) -> bool:
    """Return whether a drill, by file or bundled name, deals several plans by lot. Raises UsageError for one that names
    nothing; what cannot be read deals none."""
    table = FileCache().parsed(DRILL, bundle.find("drills", drill)).table
    return isinstance(table, DrillFile) and bool(table.vary.plan)


def plan_named_by(drill: str) -> Path | None:
    """Return the file of the plan that a drill names, by file or bundled name; None if it names none that is there.
    Raises UsageError like ``deals_plans``."""
    path = bundle.find("drills", drill)
    table = FileCache().parsed(DRILL, path).table
    return stated_path("plans", path, table.plan) if isinstance(table, DrillFile) else None


def instead(plan: str | None, game: str | None) -> Instead:
    """Return the files that the command line gives in place of a drill's, by file or bundled name. Raises UsageError
    for one that names nothing."""
    return Instead(
        None if plan is None else bundle.find("plans", plan), None if game is None else bundle.find("games", game)
    )


def load_drill(
    drill: str, rig: str, plan: str | None = None, game: str | None = None, shared: Shared = NOTHING_SHARED
) -> LoadedDrill:
    """Return a drill with all files that it names; each argument is a file or a bundled name.

    ``plan`` and ``game`` take the place of those that the drill names; ``shared`` lies below all plans. Raises
    DiagnosticsError (exit 20) with every mistake in all the files, UsageError (exit 2) for an argument that names
    nothing.
    """
    path = bundle.find("drills", drill)
    rig_path = bundle.find("rigs", rig)
    given = instead(plan, game)
    shelf = FileCache(shared)
    parsed = drill_on(shelf, path, given)
    pairs = check_in_game(shelf, parsed, path, given)
    if not pairs:
        raise DiagnosticsError(all_problems(shelf.documents()))
    loaded = assemble(sources_of(shelf, pairs, (shelf.parsed(RIG, rig_path),)))
    return _joined(parsed, loaded)


def load_drill_texts(files: Iterable[Named], language: str = DEFAULT_LANGUAGE) -> LoadedDrill:
    """Return the same as an earlier ``load_drill``, from the files that it returned; ``language`` is that of plans that
    name none. Raises MistakeError."""
    files = list(files)
    found = next((file for file in files if format_of(Document(file.name, file.text)) is DRILL), None)
    if found is None:
        raise no_such_text("drill")
    parsed = parse_document(Document(found.name, found.text), DRILL)
    if not parsed.document.is_sound:
        raise DiagnosticsError(all_problems((parsed.document,)))
    return _joined(parsed, load_texts((file for file in files if file is not found), language))


def drill_on(shelf: FileCache, path: Path, given: Instead) -> Parsed:
    """Return the drill at ``path``, parsed for the game of the files that are given in place of its own."""
    game = shelf.parsed(GAME, given.game) if given.game else None
    if game is None and given.plan is not None:
        game = pair_of(shelf, given.plan, None).game
    return shelf.parsed(DRILL, path, game)


def check_in_game(shelf: FileCache, parsed: Parsed, path: Path, given: Instead) -> tuple[Pair, ...]:
    """Return the plans that a drill's rounds are of, each with its game; none if there are mistakes, and all are
    reported. Raises UsageError for a plan in place of several that the drill deals by lot."""
    table = parsed.table
    if not isinstance(table, DrillFile):
        return ()
    drill = table.build()
    pairs = _pairs(shelf, parsed.document, drill, path, given)
    found = compiled(sources_of(shelf, pairs))
    if not pairs or None in found or all_problems(shelf.documents()):
        return ()

    @cache
    def own() -> LoadedPlan | None:
        quiet = FileCache(shelf.shared)
        pairs = _pairs(quiet, quiet.parsed(DRILL, path).document, drill, path, Instead())
        return next(iter(compiled(sources_of(quiet, pairs))), None)

    is_given = given != Instead()
    for pair, plan in zip(pairs, found, strict=True):
        assert pair.game is not None                            # else there would be problems
        assert plan is not None
        ground = Ground(plan, pair.plan.document, pair.game.document, own if is_given else None)
        check_drill(parsed.document, drill, ground)
    return () if all_problems(shelf.documents()) else pairs


def _pairs(shelf: FileCache, document: Document, drill: Drill, path: Path, given: Instead) -> tuple[Pair, ...]:
    """Return the plans of a drill with their games; none if a file is not found, which is reported."""
    if given.plan and drill.vary.plans:
        dealt = listing(map(quoted, drill.vary.plans))
        raise UsageError(
            tr(
                "{name} picks its plans at random: {dealt}; --plan would replace all of them",
                name=document.name, dealt=dealt,
            ),
            hint=tr("leave --plan out, or delete the line `plan` below [vary] in a copy of the drill"),
        )
    stated = "" if given.plan or given.game else drill.game
    game = given.game or (_named(document, "games", stated, path, ("game",)) if stated else None)
    plans = [given.plan] if given.plan else _named_plans(document, drill, path)
    if None in plans or (stated and game is None):
        return ()
    over = shelf.parsed(GAME, game) if game else None
    pairs = tuple(pair_of(shelf, plan, over) for plan in plans if plan)
    for place, pair in enumerate(pairs):
        first = pairs[0].game
        if pair.game and first and pair.game is not first:
            facts = {"name": pair.plan.document.name, "game": pair.game.document.name, "first": first.document.name}
            where = ("vary", "plan", drill.vary.plans.index(drill.plans[place]))
            document.report(Diagnostic(code="drill_games", file="drill", path=where, facts=facts))
    return pairs


def _named_plans(document: Document, drill: Drill, path: Path) -> list[Path | None]:
    dealt = drill.vary.plans
    if dealt and drill.plan not in dealt and document.is_sound:
        facts = {"name": drill.plan, "known": listing(map(quoted, dealt))}
        document.report(Diagnostic(code="drill_plan_not_dealt", file="drill", path=("plan",), facts=facts))
    if not dealt:
        return [_named(document, "plans", drill.plan, path, ("plan",))]
    places = (("vary", "plan", dealt.index(name)) for name in drill.plans)
    return [_named(document, "plans", name, path, where) for name, where in zip(drill.plans, places, strict=True)]


def _named(document: Document, kind: bundle.Kind, name: str, beside: Path, where: Place) -> Path | None:
    """Return the file that a drill names at ``where``, bundled or beside it; one that is nowhere is reported."""
    path = bundle.file_of(kind, name) or near(beside.parent, name)
    if path is not None or document.is_guessed(where):
        return path
    key, known = kind[:-1], bundle.names(kind)
    if bundle.is_file_argument(name) and is_link_away(beside.parent, name):
        facts = {"text": name, "why": LINK_AWAY}
        document.report(Diagnostic(code="reference", file="drill", path=where, facts=facts))
        return None
    facts = {"kind": key, "name": name, "known": listing(known)}
    if likely := only_word(name, known):
        facts["likely"] = quoted(likely)
    document.report(Diagnostic(code="drill_names_nothing", file="drill", path=where, facts=facts))
    return None


def _joined(parsed: Parsed, loaded: Loaded) -> LoadedDrill:
    assert isinstance(parsed.table, DrillFile)                  # else there would be problems
    drill = parsed.table.build()
    if len(loaded.plans) < len(drill.plans):                    # a journal may come from anywhere
        raise no_such_text("plan")
    own = file_text(DRILL.kind, parsed.document.name, parsed.document.text)
    files = (*loaded.files, own)
    return LoadedDrill(drill, Loaded(loaded.plans, loaded.rig, files))
