"""Reads a journal back: records in order, and what of the file is broken."""

from pathlib import Path

import msgspec

from tocsin.errors import JournalError, reason
from tocsin.journal.place import JOURNAL_NAME, run_folders
from tocsin.journal.records import End, Header, Mark, Record, decode, is_whole, kind_of
from tocsin.model.mark import standing


class Flaw(msgspec.Struct, frozen=True, kw_only=True):
    """A line, from 1, that is no record, and why."""

    line: int
    why: str


class Journal(msgspec.Struct, frozen=True, kw_only=True):
    """A run as its journal tells it.

    ``torn`` is what a crash left of the last line (empty bytes if nothing); ``flaws`` are broken lines elsewhere.
    """

    path: Path
    records: tuple[Record, ...]
    flaws: tuple[Flaw, ...] = ()
    torn: bytes = b""

    @property
    def header(self) -> Header:
        """Return the first record of kind header; ``read`` has made sure that there is one."""
        return next(record for record in self.records if isinstance(record, Header))

    @property
    def end(self) -> End | None:
        """Return the last record of kind end, or None for a run that was cut short."""
        return next((record for record in reversed(self.records) if isinstance(record, End)), None)

    @property
    def marks(self) -> tuple[Mark, ...]:
        """Return the marks that stand: those taken back, and what took them back, are left out."""
        return standing([record for record in self.records if isinstance(record, Mark)])

    def troubles(self) -> tuple[str, ...]:
        """Return a sentence for each broken place, for people."""
        sentences = [f"{self.path}:{flaw.line}: this line is no record: {flaw.why}" for flaw in self.flaws]
        if self.torn:
            sentences.append(f"{self.path}: the last line is torn ({len(self.torn)} bytes) and was left out")
        return tuple(sentences)


def read(path: Path) -> Journal:
    """Return the journal of a run; ``path`` is its folder or the file itself.

    Kinds and keys of later versions are passed over. Raises JournalError where there is none, it cannot be read, or
    it has no header.
    """
    file = path / JOURNAL_NAME if path.is_dir() else path
    *lines, last = _bytes_of(file).split(b"\n")
    torn = b""
    if is_whole(last):
        lines.append(last)
    else:
        torn = last
    records, flaws = _records(lines)
    if not any(isinstance(record, Header) for record in records):
        raise JournalError(f"{file}: this is no journal: it has no header", hint="name the folder of a run")
    return Journal(path=file, records=tuple(records), flaws=tuple(flaws), torn=torn)


def newest_unfinished(runs: Path) -> Path | None:
    """Return the folder of the newest run without an ``end``, or None. Raises JournalError where it cannot be read.

    A journal whose header itself is torn holds nothing to go on with and is passed over.
    """
    try:
        folders = run_folders(runs)
    except OSError as error:
        raise _cannot_read(runs, error) from error
    for folder in folders:
        kinds = _kinds(_bytes_of(folder / JOURNAL_NAME))
        if "header" in kinds and "end" not in kinds:
            return folder
    return None


def _records(lines: list[bytes]) -> tuple[list[Record], list[Flaw]]:
    records: list[Record] = []
    flaws = []
    for number, line in enumerate(lines, 1):
        try:
            record = decode(line)
        except (msgspec.DecodeError, UnicodeDecodeError) as error:
            flaws.append(Flaw(line=number, why=str(error)))
            continue
        if record is not None:
            records.append(record)
    return records, flaws


def _kinds(data: bytes) -> set[str]:
    """Return the kinds that occur, without building the records: many runs may have to be looked through."""
    return {kind_of(line) for line in data.split(b"\n") if is_whole(line)}


def _bytes_of(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except FileNotFoundError as error:
        raise JournalError(f"{file}: there is no journal", hint="`tocsin runs` lists the runs") from error
    except OSError as error:
        raise _cannot_read(file, error) from error


def _cannot_read(path: Path, error: OSError) -> JournalError:
    return JournalError(f"{path}: the journal cannot be read: {reason(error)}")
