"""Find every problem of any set of files, for ``tocsin check``."""

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from tocsin.config import bundle
from tocsin.config.drills import Instead, check_in_game, deals_plans, drill_on, instead
from tocsin.config.file_cache import NOTHING_SHARED, FileCache, Parsed
from tocsin.config.files import shown_name
from tocsin.config.load import (
    LoadedPlan,
    Pair,
    all_problems,
    checked_rig,
    compiled,
    pair_of,
    sources_of,
)
from tocsin.config.project import FoundProject, ReadProject, read_project
from tocsin.config.reading import DRILL, GAME, OF_KIND, PLAN, PROJECT, RIG, Format, likely_format, open_document
from tocsin.config.renamed import OlderName, older_names, protocol_note
from tocsin.config.schema.drill import DrillFile
from tocsin.config.schema.game import GameFile
from tocsin.config.schema.plan import PlanFile
from tocsin.config.schema.rig import RigFile
from tocsin.config.semantics import report_game
from tocsin.config.toml.diagnostic import FileDiagnostic
from tocsin.config.toml.document import Document
from tocsin.config.toml.phrases import nearest
from tocsin.errors import UsageError
from tocsin.model.drill import Drill
from tocsin.model.plan import CHANNELS, ChannelName
from tocsin.model.rig import Rig
from tocsin.translation import tr


class CleanPlan(NamedTuple):
    """A plan without a mistake, and the patterns in its own file, by channel and id."""

    loaded: LoadedPlan
    document: Document
    own: frozenset[tuple[ChannelName, str]]


class Checked(NamedTuple):
    """All problems of some files, and the plans, rigs and drills without problems."""

    problems: tuple[FileDiagnostic, ...]
    plans: tuple[CleanPlan, ...]
    rigs: tuple[tuple[Rig, Document], ...]
    drills: tuple[tuple[Drill, Document], ...] = ()
    strange: tuple[tuple[str, str], ...] = ()          # plans that are of another game than the project's, with that
    older: tuple[tuple[str, tuple[OlderName, ...]], ...] = ()      # files in which older names stand, with these
    unsaid: tuple[str, ...] = ()                       # of rigs, what to know of a strip's protocol


def check(arguments: Sequence[str], game: str | None = None) -> tuple[FileDiagnostic, ...]:
    """Return all problems, like ``examine``."""
    return examine(arguments, game).problems


def examine(
    arguments: Sequence[str],
    game: str | None = None,
    shelf: FileCache | None = None,
    plan: str | None = None,
    project: ReadProject | None = None,
) -> Checked:
    """Return all problems of files, folders (all TOML files in them) and bundled names, in the order given.

    Each plan is checked in its game (or in ``game``), each drill with the plan that it names (or with ``plan``, which
    is then checked as one of the files), each rig with all the given plans; a rig alone is checked by itself. Files
    that a plan needs are checked with it. A ``project`` is checked too; without one, one that is among the files says
    how they are meant. Files on the ``shelf`` are not read again; None begins with an empty one.
    Raises UsageError for an argument that names nothing.
    """
    files = tuple(_found(arguments))
    projects = _projects(files, project)
    meant = next((read.found for read in projects if read.found), None)
    shelf = shelf or FileCache(meant.shared if meant else NOTHING_SHARED)
    given = instead(plan, game)
    over = None if given.game is None else shelf.parsed(GAME, given.game)
    pairs: list[Pair] = [pair_of(shelf, given.plan, over)] if given.plan else []
    count = 0
    rigs: list[Parsed] = []
    games: list[Parsed] = []
    drills: list[tuple[Drill, Document]] = []
    for wanted, path in files:
        wanted = wanted or likely_format(open_document(path).text) or PLAN
        if wanted is PROJECT:
            continue
        if wanted is PLAN:
            pairs.append(pair_of(shelf, path, over or _game_of_project(shelf, path, meant)))
            continue
        if wanted is DRILL:
            count += 1
            its = _for_drill(path, given, meant)
            parsed = drill_on(shelf, path, its)
            if check_in_game(shelf, parsed, path, its) and isinstance(parsed.table, DrillFile):
                drills.append((parsed.table.build(), parsed.document))
            continue
        parsed = shelf.parsed(wanted, path)
        if wanted is RIG:
            rigs.append(parsed)
        elif wanted is GAME:
            games.append(parsed)
    if plan is not None and not count:
        hint = tr("write: tocsin check {plan}", plan=plan)
        raise UsageError(tr("--plan is for drills, and there is none among these files"), hint=hint)
    _check_games(games, pairs)
    sources = sources_of(shelf, tuple(pairs), tuple(rigs))
    plans = compiled(sources)
    checked_rig(sources, plans, strict=True)
    clean = {plan.document.name: plan for plan in _clean(pairs, plans)}
    built = tuple((r.table.build(), r.document) for r in rigs if isinstance(r.table, RigFile) and r.document.is_sound)
    of_projects = all_problems(read.document for read in projects)
    strange = tuple(_strange(pairs, meant))
    problems = (*of_projects, *all_problems(shelf.documents()))
    older, unsaid = tuple(_older(shelf, projects)), tuple(filter(None, map(protocol_note, shelf.files())))
    return Checked(problems, tuple(clean.values()), built, tuple(drills), strange, older, unsaid)


def _older(shelf: FileCache, projects: Iterable[ReadProject]) -> Iterator[tuple[str, tuple[OlderName, ...]]]:
    """Yield each of people's files in which older names stand, with these."""
    folders = {read.document: read.found.folder for read in projects if read.found}
    own = [parsed for parsed in shelf.files() if not parsed.bundled]
    for parsed in [*(Parsed(document, None) for document in folders), *own]:
        if found := older_names(parsed, shelf, folders.get(parsed.document)):
            yield parsed.document.name, found


def _check_games(games: Iterable[Parsed], pairs: Iterable[Pair]) -> None:
    """Check each game by itself, but for one beside its plan: what it names may be used there."""
    played = [pair.game.document for pair in pairs if pair.game is not None]
    for parsed in games:
        if parsed.document not in played and isinstance(parsed.table, GameFile):
            report_game(parsed.document, parsed.table.build())


def _game_of_project(shelf: FileCache, plan: Path, project: FoundProject | None) -> Parsed | None:
    """Return the project's game for a bundled plan, which cannot name it; None for the game that the plan names."""
    game = project.game_of([plan.stem]) if project and bundle.holds(plan) else None
    return shelf.parsed(GAME, bundle.find("games", game)) if game else None


def _strange(pairs: Iterable[Pair], project: FoundProject | None) -> Iterator[tuple[str, str]]:
    """Yield each plan that is of another game than the project's, with that game."""
    if project is None or project.game is None:
        return
    ours = shown_name(bundle.find("games", project.game))
    for pair in pairs:
        if pair.game and pair.game.document.name != ours:
            yield pair.plan.document.name, pair.game.document.name


def _projects(files: Iterable[tuple[Format | None, Path]], project: ReadProject | None) -> tuple[ReadProject, ...]:
    """Return the project, and those among the files, each once."""
    found = [project] if project else []
    for wanted, path in files:
        if wanted is None and likely_format(open_document(path).text) is PROJECT:
            found.append(read_project(path))
    return tuple({read.document.name: read for read in reversed(found)}.values())[::-1]


def _for_drill(path: Path, given: Instead, project: FoundProject | None) -> Instead:
    """Return the files that a drill is checked with: those given, else what the project plays a bundled drill with."""
    if given != Instead() or project is None or not bundle.holds(path):
        return given
    plan = project.plan_of_drill(path.stem, deals=deals_plans(path.stem))
    return instead(plan, project.game_of([path.stem if plan is None else plan]))


def _clean(pairs: Iterable[Pair], plans: Iterable[LoadedPlan | None]) -> Iterator[CleanPlan]:
    for pair, loaded in zip(pairs, plans, strict=True):
        document, table = pair.plan.document, pair.plan.table
        if loaded and pair.game and isinstance(table, PlanFile) and document.is_sound and pair.game.document.is_sound:
            own = {(channel, name) for channel in CHANNELS for name in getattr(table.pattern, channel)}
            yield CleanPlan(loaded, document, frozenset(own))


def files_of(arguments: Sequence[str], plan: str | None = None) -> tuple[str, ...]:
    """Return the files that ``examine`` checks, as its messages call them. Raises UsageError like ``examine``."""
    paths = [*(path for _, path in _found(arguments)), *([bundle.find("plans", plan)] if plan is not None else [])]
    return tuple(dict.fromkeys(map(shown_name, paths)))


def files_of_this_folder(here: Path = Path()) -> tuple[str, ...]:
    """Return Tocsin's files in this folder, or another, and in the folders that ``tocsin init`` makes in it.

    Other tools use TOML too: a file without a format and without any of Tocsin's headings is left out.
    """
    found = [path for folder in (here, *(here / kind for kind in bundle.KINDS)) for path in folder.glob("*.toml")]
    ours = [path for path in sorted(found) if likely_format(open_document(path).text)]
    return tuple(str(path) for path in ours)


def _found(arguments: Iterable[str]) -> Iterable[tuple[Format | None, Path]]:
    for argument in arguments:
        if Path(argument).is_dir() and bundle.is_file_argument(argument):
            yield from ((None, path) for path in sorted(Path(argument).rglob("*.toml")))
        elif bundle.is_file_argument(argument):
            yield None, bundle.find("plans", argument)
        else:
            yield from _bundled(argument)


def _bundled(name: str) -> Iterable[tuple[Format | None, Path]]:
    found = {kind: path for kind in OF_KIND if (path := bundle.file_of(kind, name))}
    if not found and Path(name).is_dir():
        yield from ((None, path) for path in sorted(Path(name).rglob("*.toml")))
    elif not found:
        raise UsageError(tr("there is nothing bundled by the name '{name}'", name=name), hint=_hint(name))
    for kind, path in found.items():
        yield OF_KIND[kind], path


def _hint(name: str) -> str:
    every = sorted({known for kind in OF_KIND for known in bundle.names(kind)})
    likely = nearest(name, every)
    return (
        tr("did you mean {likely}?", likely=likely) if likely
        else tr("a file is named with its ending .toml, a folder with a / behind it")
    )
