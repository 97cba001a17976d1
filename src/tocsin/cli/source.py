"""Load a plan from the command line as the source of exports and previews."""

from pathlib import PurePath

from tocsin import __version__
from tocsin.cli.project import Meant
from tocsin.config.file_cache import NOTHING_SHARED, FileCache, Shared
from tocsin.config.load import load
from tocsin.export.source import Source, SourceFile

NO_DEVICES = "nothing"                 # the bundled rig that asks for none


def meant_source(meant: Meant, plan: str | None, game: str | None) -> Source:
    """Return the plan that is meant as a source; say which project it is taken from. Raises the errors of ``load``."""
    name = meant.plan(plan)
    over = meant.game(game, [name])
    meant.tell()
    return source_of(name, over, meant.shared)


def source_of(plan: str, game: str | None, shared: Shared = NOTHING_SHARED) -> Source:
    """Return a plan compiled in its game, or in ``game``, above what is ``shared``. Raises the errors of ``load``."""
    loaded = load(game, [plan], NO_DEVICES, FileCache(shared))
    found = loaded.plans[0]
    # Without their folders: where a file lies on this laptop is nobody else's business.
    files = [
        SourceFile(kind=file.kind, name=PurePath(file.name).name, sha256=file.sha256, text=file.text)
        for file in loaded.files
        if file.kind != "rig"
    ]
    sums = {file.kind: file.sha256 for file in loaded.files if file.kind in ("game", "plan")}
    return Source(
        game=found.game,
        plan=found.plan,
        timeline=found.timeline,
        game_sha256=sums["game"],
        plan_sha256=sums["plan"],
        version=__version__,
        files=tuple(files),
    )
