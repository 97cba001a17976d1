"""Record the matches that an exported page kept: each becomes a run like any other, once."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Literal

import msgspec

from tocsin.config.load import Loaded
from tocsin.errors import BrokenRunError, JournalError
from tocsin.features.records.page.record import PageMatch, PageRecord
from tocsin.features.records.page.run import PAGE, PageRun
from tocsin.journal import records
from tocsin.journal.local_time import offset_at
from tocsin.journal.place import folder_name, run_folders
from tocsin.journal.reader import read
from tocsin.journal.short_name import short_name
from tocsin.journal.writer import JournalWriter
from tocsin.readable import readable_line
from tocsin.runner.match.record import versions
from tocsin.translation import tr

_AT_ONCE = 500                         # records that are handed to the disk together


class Taken(msgspec.Struct, frozen=True, kw_only=True):
    """What became of a match: the run's folder, and whether it is ``new``, was there already (``same``), or was there
    as an earlier or later save of the page had it (``other``). ``left_out`` says what of it fits no plan;
    ``cut_short``: its page was closed before its end."""

    number: int
    folder: Path
    known: Literal["new", "same", "other"]
    left_out: tuple[str, ...] = ()
    cut_short: bool = False


def log_page(
    runs: Path, record: PageRecord, plans: Sequence[Loaded], label: str, options: dict[str, Any]
) -> Iterator[Taken]:
    """Write a run from each match and yield what became of it; ``options`` stand in the headers beside their own.

    ``plans`` are those of the matches. Raises JournalError if a run cannot be written.
    """
    known = _KnownRuns(runs)
    for match, found in zip(record.matches, plans, strict=True):
        there = known.of(match)
        if there is not None:
            yield there
            continue
        run = PageRun(match, found.plans[0].timeline)
        folder = _write(runs, match, found, label, options, run)
        cut_short = match.end is None
        taken = Taken(
            number=match.number, folder=folder, known="new", left_out=tuple(run.left_out), cut_short=cut_short
        )  # fmt: skip
        known.add(match, folder)
        yield taken


def told_of(taken: Taken, matches: int) -> Iterator[str]:
    """Yield what people read of a match that was taken in, or was there."""
    which = tr("match {number}: ", number=taken.number) if matches > 1 else ""
    if taken.known == "same":
        yield tr(
            "{which}taken in before, not again: {short_name}", which=which, short_name=short_name(taken.folder),
        )
    elif taken.known == "other":
        yield tr(
            "{which}already taken in from another save of the page, and not changed: {folder}", which=which,
            folder=taken.folder,
        )
        yield tr("  to take this one instead, move that folder away and log the file again")
    else:
        yield tr(
            "{which}recorded {short_name} in {parent}", which=which, short_name=short_name(taken.folder),
            parent=taken.folder.parent,
        )
        yield from (tr("  left out: {what}", what=what) for what in taken.left_out)
        if taken.cut_short:
            yield tr("  no result: the page was closed before the end of this match")


class _KnownRuns:
    """The runs that pages' records were taken in as."""

    def __init__(self, runs: Path) -> None:
        try:
            self._folders = run_folders(runs)
        except OSError:                                # to write there says what is wrong
            self._folders = []

    def add(self, match: PageMatch, folder: Path) -> None:
        self._folders.append(folder)

    def of(self, match: PageMatch) -> Taken | None:
        """Return what was taken in of a match before, or None."""
        stamp = folder_name(match.header.wall, "")
        for folder in self._folders:
            if folder.name.startswith(stamp) and (found := _seen(folder, match)):
                return Taken(number=match.number, folder=folder, known=found)
        return None


def _seen(folder: Path, match: PageMatch) -> Literal["same", "other", ""]:
    """Return whether a run was taken from this match; one that was not written to its end is not the ``same``."""
    try:
        run = read(folder)
    except BrokenRunError:
        return ""
    facts = run.header.options.get(PAGE)
    if not isinstance(facts, dict) or any(facts.get(name) != value for name, value in _identity(match).items()):
        return ""
    return "same" if facts.get("sha256") == match.sha256 and run.end is not None else "other"


def _identity(match: PageMatch) -> dict[str, Any]:
    header = match.header
    return {"wall": header.wall, "at_ns": header.at_ns, "plan_sha256": header.plan_sha256}


def _write(
    runs: Path, match: PageMatch, found: Loaded, label: str, options: dict[str, Any], run: PageRun
) -> Path:
    told = match.header
    header = records.Header(
        at_ns=told.at_ns,
        wall=told.wall,
        utc_offset_s=offset_at(told.wall),
        boot=PAGE,
        versions={**versions(), PAGE: readable_line(told.made_by)},
        options={**options, "source": PAGE, "rate": told.rate, PAGE: {**_identity(match), "sha256": match.sha256}},
        label=label,
        files=tuple(records.FileRecord.of(file.name, file.text) for file in found.files),
        timeline=found.plans[0].timeline,
    )
    writer = JournalWriter.create(runs, header)
    for place in range(0, len(run.body), _AT_ONCE):
        writer.append(*run.body[place : place + _AT_ONCE])
    writer.append(run.end)
    if failed := writer.close():
        raise JournalError(f"{writer.folder}: {failed}")
    return writer.folder
