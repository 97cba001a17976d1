"""Load a plan from the command line as the source of exports and previews."""

from pathlib import PurePath

from tocsin import __version__
from tocsin.config.load import load
from tocsin.export.source import Source, SourceFile

NO_DEVICES = "nothing"                 # the bundled rig that asks for none


def source_of(plan: str, game: str | None) -> Source:
    """Return a plan compiled in its game, or in ``game``. Raises the errors of ``load``."""
    loaded = load(game, [plan], NO_DEVICES)
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
