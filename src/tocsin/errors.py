"""Define Tocsin's errors: each has a sentence, the way to fix it and an exit code."""

import errno

from tocsin.translation import tr

OVER = 0
FIRING_FAILED = 1
USAGE = 2
MISTAKE = 20
DEVICE = 21
JOURNAL = 22
OUTPUT = 22
INTERRUPTED = 130
TERMINATED = 143

_FIXES = (
    ((errno.EEXIST, errno.ENOTDIR, errno.EISDIR), tr("a file is in the way: move it")),
    ((errno.EACCES, errno.EPERM), tr("you may not write there: ask whoever owns it")),
    ((errno.EROFS,), tr("it is read-only, as a locked card or stick is: unlock it")),
    ((errno.ENOSPC, errno.EDQUOT, errno.EFBIG), tr("it is full: make room")),
)


class TocsinError(Exception):
    """An error that a user reads: one sentence, a hint that fixes it, an exit code.

    >>> str(DeviceError("no pad for the role driver", hint="plug it in, or run `tocsin devices`"))
    'no pad for the role driver'
    """

    exit_code = FIRING_FAILED

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__(message)
        self.hint = hint

    @property
    def line(self) -> str:
        """The error and its fix as one line, for a list that continues after it."""
        return f"{self}: {self.hint}" if self.hint else str(self)


class UsageError(TocsinError):
    """The command line asks for something that does not exist or does not fit together."""

    exit_code = USAGE


class MistakeError(TocsinError):
    """A game, plan, rig or drill has mistakes; the message lists all of them, one block each."""

    exit_code = MISTAKE


class DeviceError(TocsinError):
    """A device that was asked for by name is not there, or this installation cannot open any."""

    exit_code = DEVICE


class JournalError(TocsinError):
    """The journal cannot be written, read or resumed."""

    exit_code = JOURNAL


class BrokenRunError(JournalError):
    """One run's journal cannot be used. A list of runs prints it as one line and continues."""


class OutputError(TocsinError):
    """The output cannot be written, for example into a file on a full disk."""

    exit_code = OUTPUT


def reason(error: OSError) -> str:
    """Return the system's reason for a failed file operation, as the middle of a sentence."""
    return (error.strerror or str(error)).lower()


def fix_of_writing(error: OSError, otherwise: str) -> str:
    """Return the hint for a file that cannot be written: the known fix, else ``otherwise``.

    >>> fix_of_writing(OSError(errno.ENOSPC, "No space left on device"), "choose another folder")
    'it is full: make room, or choose another folder'
    """
    fix = next((fix for numbers, fix in _FIXES if error.errno in numbers), "")
    return tr("{fix}, or {otherwise}", fix=fix, otherwise=otherwise) if fix else otherwise
