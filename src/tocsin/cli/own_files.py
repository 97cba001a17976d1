"""Write a command's output file: check its suffix, and never overwrite a file that is not ours."""

from collections.abc import Sequence
from pathlib import Path

from tocsin.config.writing import write_new
from tocsin.errors import UsageError, reason
from tocsin.export.source import MADE_BY
from tocsin.translation import tr


def demand_suffix(path: Path, what: str, suffixes: Sequence[str], stem: str) -> None:
    """Refuse a file name whose suffix does not fit ``what`` is written; ``stem`` is for the hint. Raises UsageError."""
    if path.is_dir():
        inside = path / f"{stem}{suffixes[0]}"
        raise UsageError(
            tr("{path} is a folder", path=path), hint=tr("name a file in it, e.g. {inside}", inside=inside),
        )
    if path.suffix.lower() not in suffixes:
        likely = path.with_suffix(suffixes[0])
        raise UsageError(
            tr("a {what} ends in {suffixes}", what=what, suffixes=" or ".join(suffixes)),
            hint=tr("did you mean {likely}?", likely=likely),
        )


def write_own(path: Path, data: bytes) -> None:
    """Write a file whole, in place of an earlier one of ours. Raises UsageError if somebody else's is there."""
    refuse_strange(path)
    write_new(path, data, overwrite=True)


def refuse_strange(path: Path) -> None:
    """Refuse to replace anything but an earlier export. Raises UsageError."""
    try:
        old = path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        return
    except OSError as error:
        raise UsageError(
            tr("{path} cannot be read: {reason}", path=path, reason=reason(error)), hint=tr("choose another name"),
        ) from error
    if old and MADE_BY.encode() not in old:
        raise UsageError(
            tr("{path} is there, and Tocsin did not make it", path=path),
            hint=tr("choose another name, or move it away"),
        )
