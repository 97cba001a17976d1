"""Allow one Tocsin at a time: two would fight for pads, strip and journal."""

import contextlib
import os
import stat
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from tocsin import files
from tocsin.errors import DeviceError, JournalError, fix_of_writing, reason
from tocsin.translation import tr


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Hold the lock of ``folder`` inside the context; the system releases it if this process dies. Raises DeviceError
    while another process holds it, JournalError if the folder cannot be written."""
    try:
        files.make_folder(folder, private=True)
        lock = FileLock(folder / "tocsin.lock")
        lock.acquire(timeout=0)
    except Timeout:
        raise DeviceError(
            tr("another Tocsin is running{owner}", owner=_owner(folder)), hint=tr("end that one first"),
        ) from None
    except OSError as error:
        hint = fix_of_writing(error, tr("check who may write there"))
        raise JournalError(
            tr("{folder}: the lock cannot be written: {reason}", folder=folder, reason=reason(error)), hint=hint,
        ) from error
    # Beside the lock, since Windows lets nobody read a locked file. Without it only the message says less. It stays
    # behind: it says something only while the lock is held, and a disk that hangs by then must not hold the end up.
    pid_file = folder / "tocsin.pid"
    with contextlib.suppress(OSError):
        pid_file.write_text(str(os.getpid()), encoding="ascii")
    try:
        yield
    finally:
        lock.release()


@contextmanager
def held_somewhere(folders: Sequence[Path]) -> Iterator[str]:
    """Hold the lock of the first writable folder, since a home may be read-only; yield a sentence for people if that is
    not the first of all.

    Raises DeviceError while another process holds it, JournalError of the first folder if none can be written.
    """
    first = _held_or_refused(folders[0])
    with contextlib.ExitStack() as stack:
        if not isinstance(first, JournalError):
            stack.enter_context(first)
            yield ""
            return
        for folder in folders[1:]:
            found = _held_or_refused(folder)
            if not isinstance(found, JournalError):
                stack.enter_context(found)
                yield tr("{first}; it is in {folder} for now", first=first, folder=folder)
                return
    raise first


def _held_or_refused(folder: Path) -> contextlib.ExitStack | JournalError:
    """Return what lets the lock of a folder go at its end, or why it could not be held for want of a place."""
    stack = contextlib.ExitStack()
    try:
        if not _is_ours(folder):
            return JournalError(tr(
                "{folder}: the lock cannot be written: the folder is somebody else's", folder=folder,
            ))
        stack.enter_context(held(folder))
    except JournalError as error:
        return error
    return stack


def _is_ours(folder: Path) -> bool:
    """Return whether nobody else has put a folder of this name where all may write (POSIX only)."""
    if os.name != "posix":
        return True
    try:
        found = folder.lstat()
    except OSError:
        return True                        # not there yet
    return stat.S_ISDIR(found.st_mode) and found.st_uid == os.geteuid()


def _owner(folder: Path) -> str:
    try:
        return tr(" (process {read})", read=int((folder / "tocsin.pid").read_text(encoding="ascii")))
    except (OSError, ValueError):
        return ""
