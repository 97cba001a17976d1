"""Write a command's output file: check its suffix, and never overwrite a file that is not ours, or a page of another
kind."""

import re
from collections.abc import Sequence
from pathlib import Path

from tocsin.config.writing import write_new
from tocsin.errors import UsageError, reason
from tocsin.export.box.image import flash_of
from tocsin.export.drawing.printing import KIND_MARK, PageKind
from tocsin.export.source import MADE_BY
from tocsin.translation import tr

_KIND = re.compile(re.escape(KIND_MARK).encode() + rb"([a-z]+)")
_FORMAT = re.compile(rb'"format":\s*"(tocsin-[a-z]+)/')
_MADE_WITH: dict[PageKind, str] = {
    "card": "tocsin export --to card", "picture": "tocsin preview", "poster": "tocsin preview --poster",
    "lateness": "tocsin measure lateness", "review": "tocsin review", "advice": "tocsin advise",
}  # fmt: skip


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
    """Write a file whole, in place of an earlier one of ours and of its kind. Raises UsageError if another one is
    there."""
    refuse_strange(path, _kind_of(data))
    write_new(path, data, overwrite=True)


def refuse_strange(path: Path, kind: str) -> None:
    """Refuse to replace anything but an earlier file of ours, and of the same ``kind``; empty is neither page nor JSON.
    Raises UsageError."""
    try:
        old = path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        return
    except OSError as error:
        raise UsageError(
            tr("{path} cannot be read: {reason}", path=path, reason=reason(error)), hint=tr("choose another name"),
        ) from error
    if old and MADE_BY.encode() not in (flash_of(old) or old):
        raise UsageError(
            tr("{path} is there, and Tocsin did not make it", path=path),
            hint=tr("choose another name, or move it away"),
        )
    if old and (found := _kind_of(old)) != kind:
        raise UsageError(_another_kind(path, found), hint=tr("choose another name, or move it away"))


def _kind_of(data: bytes) -> str:
    """Return which kind of page, or of JSON, a file says it is; empty if it is neither."""
    found = _FORMAT.search(data) if data.startswith(b"{") else _KIND.search(data)
    return found[1].decode() if found else ""


def _another_kind(path: Path, kind: str) -> str:
    command = next((command for one, command in _MADE_WITH.items() if one == kind), None)
    if command is None:
        return tr("{path} is there, and another kind of file that Tocsin made", path=path)
    return tr("{path} is there, and `{command}` made it", path=path, command=command)
