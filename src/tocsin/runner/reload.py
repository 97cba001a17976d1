"""Reload a plan or game that is saved while a run waits in standby, or report its mistakes."""

from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from tocsin.config import bundle
from tocsin.config.file_cache import FileCache
from tocsin.config.load import DiagnosticsError, Loaded, load
from tocsin.config.toml.diagnostic import FileDiagnostic
from tocsin.errors import TocsinError, UsageError
from tocsin.model.plan import Cue
from tocsin.model.timeline.timeline import Timeline
from tocsin.runner.match.start_point import start_point
from tocsin.runner.options import RunOptions
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

LOOK_NS = 300 * NS_PER_MS              # a saved file is loaded within a second
_MOST_TOLD = 3


class Reloaded(NamedTuple):
    """The result of a saved file: the new files (None: they have mistakes, the last good ones stay), a sentence, and a
    line for every mistake."""

    files: Loaded | None
    notice: str
    mistakes: tuple[str, ...] = ()


class PlanWatch:
    """Checks whether plan or game files were saved, bundled ones too."""

    def __init__(self, options: RunOptions, files: Loaded) -> None:
        self._options = options
        self._files = files
        self._paths = _paths(options)
        self._stamps = _stamps(self._paths)
        self._look_ns = 0

    def look(self, now_ns: int) -> Reloaded | None:
        """Return the result of files saved since the last call, or None."""
        if now_ns < self._look_ns:
            return None
        self._look_ns = now_ns + LOOK_NS
        stamps = _stamps(self._paths)
        if stamps == self._stamps:
            return None
        self._stamps = stamps
        try:
            options = self._options
            found = load(options.game, options.plans, options.rig, FileCache(options.shared))
            for new in found.plans:        # the moment at which the run begins may be none of the match any more
                start_point(self._options.from_moment, new.timeline)
        except DiagnosticsError as error:
            return Reloaded(None, tr("not loaded: the old plan stays"), tuple(map(_line, error.problems)))
        except TocsinError as error:           # also: gone for the moment that an editor takes to save it
            return Reloaded(None, tr("{error}; the old plan stays", error=error))
        before, self._files = self._files, found
        self._paths = _paths(self._options)
        self._stamps = _stamps(self._paths)
        changes = list(_changes(before, found))
        if not changes:
            return None
        return Reloaded(found, tr("reloaded: {changes}", changes=", ".join(changes)))


def _paths(options: RunOptions) -> tuple[Path, ...]:
    """Return the files of plans, games and shared patterns that a run stands on; the rig's devices are open, so it is
    not watched."""
    try:
        paths = [bundle.find("plans", plan) for plan in options.plans]
        paths += [bundle.find("games", options.game)] if options.game else []
        paths += options.shared.patterns
    except UsageError:                     # a run that was gone on with from its journal may outlive its files
        return ()
    for path in list(paths):
        folder = path.parent
        paths += [folder / "../games", folder] if folder.exists() else []
    files: list[Path] = []
    for path in paths:
        files += sorted(path.glob("*.toml")) if path.is_dir() else [path]
    return tuple(dict.fromkeys(path.resolve() for path in files))


def _stamps(paths: Iterable[Path]) -> dict[Path, tuple[int, int]]:
    stamps = {}
    for path in paths:
        try:
            found = path.stat()
        except OSError:
            continue
        stamps[path] = (found.st_mtime_ns, found.st_size)
    return stamps


def _line(problem: FileDiagnostic) -> str:
    where = (
        tr("{name}, line {line}", name=Path(problem.file).name, line=problem.line) if problem.line
        else Path(problem.file).name
    )
    return f"{where}: {problem.message} {problem.hint}".rstrip()


def _changes(before: Loaded, after: Loaded) -> Iterable[str]:
    """Yield in a few words what is another now, plan by plan."""
    for old, new in zip(before.plans, after.plans, strict=True):
        if old.timeline == new.timeline and old.plan == new.plan:
            continue
        told = [*_cues(old.plan.cues, new.plan.cues, old.timeline, new.timeline)]
        shown = (
            told[:_MOST_TOLD]
            + ([tr("{count} more", count=len(told) - _MOST_TOLD)] if len(told) > _MOST_TOLD else [])
        )
        what = "; ".join(shown) or tr("patterns, periods or language")
        yield f"{new.plan.name} ({what})"


def _cues(old: tuple[Cue, ...], new: tuple[Cue, ...], was: Timeline, now: Timeline) -> Iterable[str]:
    before, after = {cue.id: cue for cue in old}, {cue.id: cue for cue in new}
    for name in sorted(after.keys() - before.keys()):
        yield tr("{name} is new", name=name)
    for name in sorted(before.keys() - after.keys()):
        yield tr("{name} is gone", name=name)
    for name in sorted(before.keys() & after.keys()):
        times = _times(was, name), _times(now, name)
        if times[0] != times[1] and times[0] and times[1]:
            by_s = (times[1][0] - times[0][0]) / NS_PER_S
            yield (
                f"{name} {abs(by_s):g} s {'later' if by_s > 0 else 'earlier'}" if by_s
                else tr("{name} changed", name=name)
            )
        elif before[name] != after[name]:
            yield tr("{name} changed", name=name)


def _times(timeline: Timeline, cue: str) -> list[int]:
    return [f.match_ns for f in timeline.firings if f.cue == cue and f.match_ns is not None]
