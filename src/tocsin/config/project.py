"""Find a team's project file from a folder upward, and the files that it names."""

import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import NamedTuple

from tocsin.config import bundle
from tocsin.config.file_cache import NOTHING_SHARED, Shared
from tocsin.config.files import shown_name
from tocsin.config.load import MOST_PLANS, DiagnosticsError
from tocsin.config.reading import OF_KIND, PROJECT, likely_format, open_document, tables
from tocsin.config.schema.project import ProjectFile
from tocsin.config.schema.references import LINK_AWAY, is_link_away, near
from tocsin.config.toml.document import Document
from tocsin.config.toml.phrases import listing, only_word, quoted
from tocsin.errors import UsageError
from tocsin.model.diagnostics import Diagnostic
from tocsin.model.diagnostics import Path as Place
from tocsin.model.plan import DEFAULT_LANGUAGE
from tocsin.model.project import Project
from tocsin.translation import tr

FILE_NAME = "tocsin.toml"
VARIABLE = "TOCSIN_PROJECT"            # of the environment: a project file; empty for none


class FoundProject(NamedTuple):
    """A project, and what it names: files, or bundled names, as ``load`` takes them."""

    path: Path
    project: Project
    game: str | None = None
    plans: tuple[str, ...] = ()
    rig: str | None = None
    drills: tuple[str, ...] = ()
    patterns: tuple[Path, ...] = ()
    event_plan: str | None = None
    runs: Path | None = None

    @property
    def folder(self) -> Path:
        """The folder of the project file, as seen from here."""
        return self.path.parent

    @property
    def shared(self) -> Shared:
        """What lies below all its plans."""
        return Shared(self.patterns, self.project.language or DEFAULT_LANGUAGE)

    def own(self, kind: bundle.Kind, argument: str) -> str:
        """Return what an argument of the command line means here: a name is first one of the project's own files."""
        if bundle.is_file_argument(argument):
            return argument
        return _own(self.folder, kind, argument, self._named(kind)) or argument

    def own_names(self, kind: bundle.Kind) -> tuple[str, ...]:
        """Return the names of the project's own files of a kind: of those that it names, and of its folder of that
        kind."""
        paths = [one for one in self._named(kind) if bundle.is_file_argument(one)]
        return tuple(dict.fromkeys(Path(path).stem for path in (*paths, *files_of(self.folder, kind))))

    def names(self) -> tuple[str, ...]:
        """Return all files and bundled names of plans, games, rig, drills and patterns, each once."""
        kinds: tuple[bundle.Kind, ...] = ("plans", "games", "rigs", "drills", "patterns")
        return tuple(dict.fromkeys(name for kind in kinds for name in self._named(kind)))

    def plan_of_drill(self, drill: str, *, deals: bool) -> str | None:
        """Return the plan that takes the place of a drill's; None for its own.

        A file names the plan that it trains; a bundled drill cannot, so the usual plan takes the place of its, unless
        it ``deals`` plans by lot.
        """
        if deals or bundle.is_file_argument(drill) or not self.plans:
            return None
        return self.plans[0]

    def game_of(self, plans: Iterable[str]) -> str | None:
        """Return the game that takes the place of those that plans name; None for theirs. A bundled plan cannot name
        the project's game."""
        return None if all(map(bundle.is_file_argument, plans)) else self.game

    def _named(self, kind: bundle.Kind) -> tuple[str, ...]:
        named: dict[bundle.Kind, tuple[str | None, ...]] = {
            "games": (self.game,), "plans": (*self.plans, self.event_plan), "rigs": (self.rig,),
            "drills": self.drills, "patterns": tuple(map(str, self.patterns)),
        }  # fmt: skip
        return tuple(one for one in named[kind] if one)


class ReadProject(NamedTuple):
    """A project file as read, with all its problems, and what is sound of it; None if nothing is."""

    document: Document
    found: FoundProject | None


def find_project(start: Path, environment: Mapping[str, str]) -> FoundProject | None:
    """Return the project whose file lies in ``start`` or the nearest folder above it, or that TOCSIN_PROJECT names.

    None if there is none, and where that variable is empty. Raises DiagnosticsError (exit 20) with every mistake of the
    file, UsageError where the variable names no file.
    """
    path = project_path(start, environment)
    if path is None:
        return None
    read = read_project(path)
    if read.found is None or not read.document.is_sound:
        raise DiagnosticsError(read.document.sorted_problems())
    return read.found


def project_path(start: Path, environment: Mapping[str, str]) -> Path | None:
    """Return the path of the project file that ``find_project`` reads, None if there is none. Raises UsageError."""
    stated = environment.get(VARIABLE)
    if stated is None:
        return _upward(start)
    if not stated.strip():
        return None
    path = Path(stated)
    if path.is_dir():
        raise UsageError(
            tr("{variable} names a folder: {stated}", variable=VARIABLE, stated=stated),
            hint=tr("write {variable}={path}", variable=VARIABLE, path=path / FILE_NAME),
        )
    if not os.path.lexists(path):
        raise UsageError(
            tr("{variable} names no file: {stated}", variable=VARIABLE, stated=stated),
            hint=tr("name a tocsin.toml, or leave it empty for none"),
        )
    return path


def _upward(start: Path) -> Path | None:
    try:
        depth = len(start.resolve().parts)
    except OSError:                                # this folder was deleted
        return None
    for up in range(depth):
        path = start.joinpath(*[".."] * up, FILE_NAME)
        if os.path.lexists(path) and not path.is_dir():
            return path
    return None


def read_project(path: Path) -> ReadProject:
    """Return the project file at ``path`` with its problems, those of the files' names among them."""
    document = open_document(path)
    table = tables(document, PROJECT)
    if not isinstance(table, ProjectFile):
        return ReadProject(document, None)
    project = table.build()
    if len(project.plans) > MOST_PLANS:
        facts = {"count": str(len(project.plans)), "high": str(MOST_PLANS)}
        document.report(Diagnostic(code="table_long", file="project", path=("plan",), facts=facts))
    names = _Names(document, path.parent)
    found = FoundProject(
        path=path,
        project=project,
        game=names.one("games", project.game, ("game",)),
        plans=names.several("plans", project.plans, "plan"),
        rig=names.one("rigs", project.rig, ("rig",)),
        drills=names.several("drills", project.drills, "drills"),
        patterns=tuple(map(Path, names.several("patterns", project.patterns, "patterns"))),
        event_plan=names.one("plans", project.event.plan, ("event", "plan")),
        runs=names.runs(project.runs),
    )
    return ReadProject(document, found)


def shared_in(folder: Path) -> Shared:
    """Return what lies below all plans of a folder's project; nothing where it holds none, or one that cannot be read.
    """
    path = folder / FILE_NAME
    found = read_project(path).found if path.is_file() else None
    return found.shared if found else NOTHING_SHARED


class _Names:
    """What the names in one project file mean; those that mean nothing are reported to its document."""

    def __init__(self, document: Document, folder: Path) -> None:
        self._document = document
        self._folder = folder

    def several(self, kind: bundle.Kind, stated: tuple[str, ...], key: str) -> tuple[str, ...]:
        """Return the files of a list, as arguments."""
        found = (self.one(kind, name, (key, place)) for place, name in enumerate(stated))
        return tuple(one for one in found if one)

    def one(self, kind: bundle.Kind, stated: str, where: Place) -> str | None:
        """Return the file that a name means, as an argument; None for none."""
        if not stated:
            return None
        where = self._document.original_path(where)
        if not bundle.is_file_argument(stated):
            own = _own(self._folder, kind, stated, ())
            if own is None and (bundled := bundle.file_of(kind, stated)):
                return str(bundled) if kind == "patterns" else bundled.stem
        else:
            path = near(self._folder, stated)
            own = None if path is None else str(path)
            if own is None and is_link_away(self._folder, stated):
                self._report("reference", where, {"text": stated, "why": LINK_AWAY})
                return None
        if own is None:
            self._report_nothing(kind, stated, where)
            return None
        return own if self._is_of(kind, stated, Path(own), where) else None

    def runs(self, stated: str) -> Path | None:
        """Return the folder of runs; None if it is not said, or lies elsewhere."""
        if not stated:
            return None
        folder = self._folder / stated
        why = ""
        if not folder.resolve().is_relative_to(self._folder.resolve()):
            why = LINK_AWAY
        elif folder.exists() and not folder.is_dir():
            why = tr("it is a file")
        elif folder.resolve() == self._folder.resolve():
            why = tr("it is the folder of this file")
        if why:
            self._report("runs_folder", ("runs",), {"text": stated, "why": why})
        return None if why else folder

    def _is_of(self, kind: bundle.Kind, stated: str, path: Path, where: Place) -> bool:
        """Return whether a file is of a kind, as far as it says so; what else is wrong with it is its own matter."""
        wanted = OF_KIND[kind]
        found = likely_format(open_document(path).text)
        if found is None or found is wanted:
            return True
        facts = {"name": stated, "is": found.kind, "wanted": wanted.kind, "format": wanted.name}
        self._report("project_names_other", where, facts)
        return False

    def _report_nothing(self, kind: bundle.Kind, stated: str, where: Place) -> None:
        own = files_of(self._folder, kind)
        known = [*own, *bundle.names(kind)] if kind != "patterns" else own
        likely = only_word(stated, known)
        stems = {Path(name).stem: name for name in own}
        likely = likely or stems.get(only_word(Path(stated.replace("\\", "/")).stem, stems), "")
        facts = {"kind": OF_KIND[kind].kind, "name": stated, "likely": quoted(likely) if likely else "",
                 "expected": tr("There are: {known}.", known=listing(known))}  # fmt: skip
        self._report("project_names_nothing", where, facts)

    def _report(self, code: str, where: Place, facts: dict[str, str]) -> None:
        if not self._document.is_guessed(where):
            self._document.report(Diagnostic(code=code, file="project", path=where, facts=facts))


def _own(folder: Path, kind: bundle.Kind, name: str, named: tuple[str, ...]) -> str | None:
    """Return the project's own file of a kind by its stem: one that it names, or one in its folder of that kind."""
    by_stem = {Path(one).stem: one for one in reversed(named) if bundle.is_file_argument(one)}
    if name in by_stem:
        return by_stem[name]
    path = near(folder, f"{kind}/{name}.toml")
    return None if path is None else str(path)


def files_of(folder: Path, kind: bundle.Kind) -> list[str]:
    """Return the project's files in its folder of a kind, as the project file would name them."""
    return [f"{kind}/{path.name}" for path in sorted((folder / kind).glob("*.toml"))]


def shown_project(found: FoundProject) -> str:
    """Return what a project is called for people, with its file."""
    return tr("project {name} ({shown_name})", name=found.project.name, shown_name=shown_name(found.path))
