"""Find the files that come with Tocsin, by kind and name."""

from functools import cache
from pathlib import Path
from typing import Literal

import tocsin
from tocsin.config.older_names import bundled_meant
from tocsin.config.toml.phrases import listing, nearest
from tocsin.errors import UsageError
from tocsin.translation import tr

Kind = Literal["games", "plans", "patterns", "rigs", "drills"]
KINDS: tuple[Kind, ...] = ("games", "plans", "patterns", "rigs", "drills")


@cache
def root() -> Path:
    """Return the folder of the bundled files, resolved: in the package when installed, in the repository when editable.
    """
    package = Path(tocsin.__file__).resolve().parent
    installed = package / "configs"
    return (installed if installed.is_dir() else package.parents[1] / "configs").resolve()


def names(kind: Kind) -> tuple[str, ...]:
    """Return the names of the bundled files of a kind, sorted."""
    return tuple(sorted(path.stem for path in (root() / kind).glob("*.toml")))


def file_of(kind: Kind, name: str) -> Path | None:
    """Return the bundled file of a kind that a name means, by its older name too; None for one that does not exist."""
    known = names(kind)
    name = bundled_meant(kind, name, known)
    return root() / kind / f"{name}.toml" if name in known else None


def holds(path: Path) -> bool:
    """Return whether a path is one of the bundled files."""
    return path.resolve().is_relative_to(root())


def is_file_argument(argument: str) -> bool:
    """Return whether an argument means a file (it has a separator or ends in ``.toml``) and not a bundled name."""
    return "/" in argument or "\\" in argument or argument.lower().endswith(".toml")


def find(kind: Kind, argument: str) -> Path:
    """Return the path that an argument means. Raises UsageError for a bundled name that does not exist, and for a file
    that is not there."""
    if is_file_argument(argument):
        path = Path(argument)
        if not path.exists():
            raise UsageError(tr("there is no file {argument}", argument=argument), hint=_beside(path, kind))
        return path
    if found := file_of(kind, argument):
        return found
    raise UsageError(
        tr("there is no bundled {kind} '{argument}'", kind=kind[:-1], argument=argument),
        hint=_hint(kind, argument, names(kind)),
    )


def _hint(kind: Kind, argument: str, known: tuple[str, ...]) -> str:
    if Path(f"{argument}.toml").exists():
        return tr("for the file in this folder write {argument}.toml", argument=argument)
    if likely := nearest(argument, known):
        return tr("did you mean {likely}? Bundled {kind}: {known}", likely=likely, kind=kind, known=listing(known))
    return tr("bundled {kind}: {known}; a file is named with its ending .toml", kind=kind, known=listing(known))


def _beside(path: Path, kind: Kind) -> str:
    folder = path.parent
    if not folder.is_dir():
        return tr("there is no folder {folder}", folder=folder)
    others = [found.name for found in sorted(folder.glob("*.toml"))]
    if path.suffix != ".toml" and path.with_suffix(".toml").name in others:
        return tr("did you mean {with_suffix}?", with_suffix=path.with_suffix(".toml"))
    likely = {Path(name).stem: name for name in others}.get(nearest(path.stem, [Path(name).stem for name in others]))
    if likely:
        return tr("did you mean {folder}?", folder=folder / likely)
    return tr("`tocsin init DIR` writes {kind} of your own to begin with", kind=kind)
