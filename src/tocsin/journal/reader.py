"""Read a journal back: its records in order, and which parts of the file are broken.

A journal may come from anywhere and hold anything. A line that does not fit its record type is one flaw. A fault that
makes the whole run useless is a BrokenRunError, here and wherever the records are used.
"""

import io
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec

from tocsin.errors import BrokenRunError, JournalError, TocsinError, UsageError, reason
from tocsin.journal.place import JOURNAL_NAME, run_folders
from tocsin.journal.records import FORMAT, End, Header, MarkRecord, Record, decode, is_whole, marks_of
from tocsin.journal.short_name import called, short_names
from tocsin.model.compiler.contradiction import contradiction
from tocsin.model.mark import standing
from tocsin.translation import tr

# A match writes some 50 kB, a plan with 20,000 firings 12 MB: what is larger is no run, and is not even begun.
MOST_BYTES = 24 << 20
MOST_FLAWS = 1000                      # more broken lines than that, and the file is something else
_MOST_NAMED = 4                        # of the runs that a text may mean
_FIX = tr("move its folder away, or name another run")

OnBroken = Callable[[BrokenRunError], None]
"""Told of each run that cannot be read, or cannot be reckoned with, by whoever goes on without it."""


class BrokenLine(msgspec.Struct, frozen=True, kw_only=True):
    """A line, from 1, that is no record, and why."""

    line: int
    why: str


class Journal(msgspec.Struct, frozen=True, kw_only=True):
    """A run as its journal records it.

    ``torn`` is the rest of the last line after a crash (empty bytes if none); ``flaws`` are broken lines elsewhere.
    """

    path: Path
    records: tuple[Record, ...]
    flaws: tuple[BrokenLine, ...] = ()
    torn: bytes = b""

    @property
    def header(self) -> Header:
        """Return the first record of kind header; ``read`` has checked that there is one."""
        return next(record for record in self.records if isinstance(record, Header))

    @property
    def end(self) -> End | None:
        """Return the last record of kind end, or None for a run that was cut short."""
        return next((record for record in reversed(self.records) if isinstance(record, End)), None)

    @property
    def marks(self) -> tuple[MarkRecord, ...]:
        """Return the valid marks: withdrawn marks and the marks that withdraw them are left out."""
        return standing(marks_of(self.records))

    def troubles(self) -> tuple[str, ...]:
        """Return a sentence for each broken place, for people."""
        sentences = [
            tr("{path}:{line}: this line is not a record: {why}", path=self.path, line=flaw.line, why=flaw.why)
            for flaw in self.flaws
        ]
        if self.torn:
            sentences.append(tr(
                "{path}: the last line is torn ({count} bytes) and was left out", path=self.path, count=len(self.torn),
            ))
        return tuple(sentences)


def read(path: Path) -> Journal:
    """Return the journal of a run; ``path`` is its folder or the file itself.

    Kinds and keys of later versions are skipped. Raises BrokenRunError if there is none, it cannot be read, it has no
    header, its timeline contradicts itself, or it is larger than any run.
    """
    return journal_of(*_file_and_bytes(path))


def journal_of(file: Path, data: bytes) -> Journal:
    """Return the journal of a file's bytes. Raises BrokenRunError like ``read``."""
    records: list[Record] = []
    flaws: list[BrokenLine] = []
    torn = b""
    for number, line in enumerate(io.BytesIO(data), 1):
        is_last = not line.endswith(b"\n")
        line = line.removesuffix(b"\n")
        if is_last and not is_whole(line):
            torn = line
            break
        try:
            record = decode(line)
        except msgspec.DecodeError as error:
            flaws.append(BrokenLine(line=number, why=str(error)))
            if len(flaws) > MOST_FLAWS:
                raise _broken(
                    file, tr("more than {most_flaws} of its lines are not records", most_flaws=MOST_FLAWS),
                ) from error
            continue
        if record is not None:
            records.append(record)
    journal = Journal(path=file, records=tuple(records), flaws=tuple(flaws), torn=torn)
    _demand_header(journal)
    return journal


def newest_unfinished(runs: Path, on_broken: OnBroken) -> Journal | None:
    """Return the newest run without an ``end``, or None. Raises JournalError if the folder cannot be read.

    An unreadable run cannot be continued: it is skipped, and ``on_broken`` gets it.
    """
    return next((journal for journal in all_runs(runs, on_broken) if journal.end is None), None)


@contextmanager
def reckoning(journal: Journal) -> Iterator[None]:
    """Turn any exception from evaluating a run's records into BrokenRunError: records may contradict each other in ways
    that no type forbids, and one run must not block the others."""
    try:
        yield
    except TocsinError:
        raise
    except Exception as error:
        what = tr("its records contradict each other ({name}: {error})", name=type(error).__name__, error=error)
        raise _broken(journal.path, what) from error


def _demand_header(journal: Journal) -> None:
    """Raise BrokenRunError for a journal whose header is missing, of another format, or contradicts itself."""
    header = next((record for record in journal.records if isinstance(record, Header)), None)
    if header is None:
        why = tr("; line {line}: {why}", line=journal.flaws[0].line, why=journal.flaws[0].why) if journal.flaws else ""
        raise _broken(journal.path, tr("this is not a journal: it has no header{why}", why=why))
    if header.format != FORMAT:
        raise _broken(
            journal.path,
            tr(
                "its format is '{format}', and this version reads {format_2}", format=header.format[:40],
                format_2=FORMAT,
            ),
        )
    if header.timeline is not None and (found := contradiction(header.timeline)):
        raise _broken(journal.path, tr("it has no timeline: {found}", found=found))


def _file_and_bytes(path: Path) -> tuple[Path, bytes]:
    file = path
    try:
        file = path / JOURNAL_NAME if path.is_dir() else path
        found = file.stat()
        if not stat.S_ISREG(found.st_mode):
            raise _broken(file, tr("this is not a journal file"))
        if found.st_size > MOST_BYTES:
            raise _broken(
                file,
                tr(
                    "it has {st_size:.0f} MB, the limit is {most_bytes:.0f}", st_size=found.st_size / 1e6,
                    most_bytes=MOST_BYTES / 1e6,
                ),
            )
        with file.open("rb") as stream:
            return file, stream.read(MOST_BYTES)             # it may grow meanwhile
    except FileNotFoundError as error:
        raise BrokenRunError(
            tr("{file}: there is no journal", file=file), hint=tr("`tocsin runs` lists the runs"),
        ) from error
    except (OSError, ValueError) as error:             # also a name that no file can have
        why = reason(error) if isinstance(error, OSError) else str(error)
        raise _broken(file, tr("the journal cannot be read: {why}", why=why)) from error


def _broken(file: Path, what: str) -> BrokenRunError:
    return BrokenRunError(f"{file}: {what}", hint=_FIX)


def find_run(runs: Path, name: str) -> Journal:
    """Return a run by its folder, its short name, or the begin of its folder's name; an empty text means the newest.

    Raises UsageError if no run, or more than one, fits, and BrokenRunError if it cannot be read: no other run ever
    replaces it.
    """
    if name and _is_folder(name):
        return read(Path(name))
    folders = all_folders(runs)
    if not folders:
        hint = tr("record one with `tocsin run`, or name its place with --runs")
        raise UsageError(tr("there is no run in {runs}", runs=runs), hint=hint)
    whole = [folder for folder in folders if folder.name == name]      # which may be the begin of a namesake's
    fitting = whole or [folder for folder in folders if folder.name.startswith(name)] or called(folders, name)
    if not fitting:
        raise UsageError(tr("there is no run '{name}'", name=name), hint=tr("`tocsin runs` lists them"))
    if name and len(fitting) > 1:
        longer = " or ".join(short_names(folders)[folder] for folder in fitting[:_MOST_NAMED])
        raise UsageError(
            tr("{count} runs begin with '{name}'", name=name, count=len(fitting)),
            hint=tr("`tocsin runs` lists them: {longer}", longer=longer),
        )
    return read(fitting[0])


def all_runs(runs: Path, on_broken: OnBroken) -> Iterator[Journal]:
    """Yield every readable run, the newest first; ``on_broken`` gets the reason for each other one. Raises JournalError
    for the folder itself."""
    for folder in all_folders(runs):
        try:
            found = read(folder)
        except BrokenRunError as error:
            on_broken(error)
        else:
            yield found


def _is_folder(name: str) -> bool:
    try:
        return Path(name).is_dir()
    except OSError:                                    # too long for a file's name, for one
        return False


def all_folders(runs: Path) -> list[Path]:
    """Return the folders that are named like runs, the newest first. Raises JournalError if that cannot be read."""
    try:
        return run_folders(runs)
    except OSError as error:
        raise JournalError(tr("{runs}: the runs cannot be read: {reason}", runs=runs, reason=reason(error))) from error
