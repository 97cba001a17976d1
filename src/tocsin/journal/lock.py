"""One Tocsin at a time: two would fight for pads, strip and journal."""

import contextlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from tocsin.errors import DeviceError, JournalError, mend_of_writing, reason


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Hold the lock of ``folder`` inside the context; the system lets it go if this process dies.

    Raises DeviceError while another process holds it, JournalError where the folder cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock = FileLock(folder / "tocsin.lock")
        lock.acquire(timeout=0)
    except Timeout:
        raise DeviceError(f"another Tocsin is running{_owner(folder)}", hint="end that one first") from None
    except OSError as error:
        hint = mend_of_writing(error, "check who may write there")
        raise JournalError(f"{folder}: the lock cannot be written: {reason(error)}", hint=hint) from error
    # Beside the lock, since Windows lets nobody read a locked file. Without it only the message says less. It stays
    # behind: it says something only while the lock is held, and a disk that hangs by then must not hold the end up.
    pid_file = folder / "tocsin.pid"
    with contextlib.suppress(OSError):
        pid_file.write_text(str(os.getpid()), encoding="ascii")
    try:
        yield
    finally:
        lock.release()


def _owner(folder: Path) -> str:
    try:
        return f" (process {int((folder / 'tocsin.pid').read_text(encoding='ascii'))})"
    except (OSError, ValueError):
        return ""
