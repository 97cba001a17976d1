"""Remove a person's name: from the file of names, the runs' words, and the cached voices."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec

from tocsin.errors import DeviceError, JournalError, UsageError, reason
from tocsin.features.records.row_cache import drop_rows
from tocsin.journal.answers import forget_answers
from tocsin.journal.forget import NameUses, Trace, rewrite, traces
from tocsin.journal.name import Name
from tocsin.journal.people import People
from tocsin.journal.place import EVENING_PICTURES, REVIEW_PAGES
from tocsin.journal.tonight import forget_tonight
from tocsin.runner.run import alone
from tocsin.speech.cache import WordCache, words_folder
from tocsin.translation import tr

# What nobody can know from a folder of runs.
ELSEWHERE = tr(
    "Not checked, look yourself: exports and pictures, plans and rigs of your own, videos, copies, backups, other "
    "laptops, and old parts of replaced files on the disk.",
)


class Sought(msgspec.Struct, frozen=True, kw_only=True):
    """Where a name occurs in a folder of runs. ``key`` is the person's key in the file of names, or empty."""

    runs: Path
    text: str
    name: Name
    key: str
    found: NameUses

    @property
    def whole(self) -> tuple[Trace, ...]:
        """The texts that hold the name as a word."""
        return tuple(trace for trace in self.found.traces if not trace.part)

    @property
    def parts(self) -> tuple[str, ...]:
        """The different texts that hold the name as part of a longer word."""
        return tuple(dict.fromkeys(trace.text for trace in self.found.traces if trace.part))


@contextmanager
def sought(runs: Path, text: str) -> Iterator[Sought]:
    """Yield where a name occurs, while no run is on: a running one would go on writing into a replaced journal.

    Raises UsageError for no name, DeviceError while a run is on, JournalError if runs cannot be read.
    """
    try:
        name = Name(text)
    except ValueError as error:
        raise UsageError(tr("there is no name to forget"), hint=tr("write --forget NAME")) from error
    try:
        with alone():
            drop_rows(runs)                    # made of journals that may be gone, and made again of what is left
            yield Sought(runs=runs, text=text, name=name, key=People(runs).key_of(text), found=traces(runs, name))
    except DeviceError as error:
        raise DeviceError(str(error), hint=tr("names are forgotten once its run is over")) from error
    except OSError as error:
        raise JournalError(f"{runs}: {error}") from error


def forget(what: Sought, parts: frozenset[str]) -> tuple[int, int]:
    """Remove the name, and the given texts that hold it as a part; return the number of rewritten files and folders,
    and of deleted spoken words. Raises JournalError."""
    changed = rewrite(what.runs, what.name, parts)
    drop_rows(what.runs)                       # another program may have written it meanwhile
    dropped = WordCache(words_folder()).clear()        # a kept voice does not tell what it says
    try:
        changed += _dropped(what.runs.glob(REVIEW_PAGES))          # no names, but a plan may be called by one
        if what.key:
            changed += forget_answers(what.runs, what.key) + forget_tonight(what.runs, what.key)
            changed += _drop_pictures(what.runs, what.key)
    except OSError as error:
        raise JournalError(tr(
            "{runs}: what was answered cannot be rewritten: {reason}", runs=what.runs, reason=reason(error),
        )) from error
    People(what.runs).forget(what.text)            # last: without it nobody could ask again after a crash
    return changed, dropped


def _drop_pictures(runs: Path, key: str) -> int:
    """Delete the pictures of evenings that may show a person's name, which say so by the key; return how many."""
    return _dropped(path for path in runs.glob(EVENING_PICTURES) if key.encode() in path.read_bytes())


def _dropped(paths: Iterable[Path]) -> int:
    found = list(paths)
    for path in found:
        path.unlink()
    return len(found)
