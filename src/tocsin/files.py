"""Write a file whole or not at all.

A reader always finds the old file or the new one, also after a crash or a power cut. The data goes into a temporary
file in the same folder, ``.tocsin-PID-RANDOM.part``, is flushed and synced, and then renamed over the old file; the
folder is synced too, where the system can do that. A killed process leaves at most such a temporary file.

- A link stays a link: the file that it points to is replaced. A link to nothing, a folder, a pipe or a device is
  refused.
- A file that its owner made read-only is refused, on every system alike.
- The new file keeps the old one's mode, and its owner as far as the system allows. Hard links are not kept.
"""

import contextlib
import errno
import os
import re
import secrets
import shutil
import stat
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

from tocsin.monotime import sleep_ns
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

PRIVATE_FILE = 0o600
PRIVATE_FOLDER = 0o700
_ORDINARY_FILE = 0o666                 # less what the user's mask takes away
_ORDINARY_FOLDER = 0o777
_TRIES = 5
_PAUSE_NS = 50 * NS_PER_MS
_PROBE_BYTES = 65536                   # pictures, tables and a match's journal are mostly smaller
_HALF = re.compile(r"\.tocsin-(?P<pid>\d+)-[0-9a-f]+\.part")
# What a file system without hard links says to one (from memory: FAT says EPERM, some phones EACCES).
_NO_LINKS = (errno.EPERM, errno.EACCES, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK)
# What is said where a folder cannot be synced: one that may be written but not read, and most network shares.
_NO_FOLDER_SYNC = (errno.EACCES, errno.EPERM, errno.EINVAL, errno.EBADF, errno.ENOTSUP, errno.ENOSYS)


def write_whole(path: Path, data: bytes, *, private: bool = False) -> None:
    """Write ``data`` to ``path`` in place of any file there; missing folders are made.

    ``private`` closes the file and the new folders to other users of this machine, also if the old file was open to
    them (POSIX; on Windows a user's own folders are closed to others anyway). Raises OSError; the old file is then
    unchanged, unless only the sync of the folder failed.
    """
    place = _behind_links(path)
    make_folder(place.parent, private=private)
    old = _demand_replaceable(place)
    with _half(place.parent, private=private) as half:
        _fill(half, data, old, private=private)
        patiently(lambda: half.replace(place))
    sync_folder(place.parent)


def create_whole(path: Path, data: bytes, *, private: bool = False) -> bool:
    """Write a file where there is none; return whether it was written. Of two processes at once exactly one succeeds.
    Raises OSError. Where the file system has no hard links, a file that appears at the same moment is replaced."""
    make_folder(path.parent, private=private)
    if os.path.lexists(path):
        return False
    with _half(path.parent, private=private) as half:
        _fill(half, data, None, private=private)
        if not _put_new(half, path):
            return False
    sync_folder(path.parent)
    return True


def demand_writable(path: Path) -> None:
    """Check that a file of some size can be written at ``path`` later; only new folders remain. Raises OSError."""
    place = _behind_links(path)
    make_folder(place.parent)
    _demand_replaceable(place)
    with _half(place.parent, private=True) as half, half.open("wb") as file:
        file.write(bytes(_PROBE_BYTES))


@contextlib.contextmanager
def new_folder(folder: Path, *, private: bool = False) -> Iterator[Path]:
    """Yield a temporary folder to fill, and rename it to ``folder`` at the end. Of two processes at once one succeeds.

    ``private`` closes it to other users. A killed process leaves its temporary folder beside it. Raises OSError, and
    FileExistsError if ``folder`` exists by then; the temporary folder is removed then, and also if the block inside
    raises.
    """
    make_folder(folder.parent, private=private)
    half = folder.with_name(f".tocsin-{os.getpid()}-{secrets.token_hex(4)}.part")
    half.mkdir(PRIVATE_FOLDER if private else _ORDINARY_FOLDER)
    try:
        yield half
        if os.path.lexists(folder):            # an empty folder would be replaced
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(folder))
        patiently(lambda: half.rename(folder))
    except OSError as error:
        if error.errno in (errno.ENOTEMPTY, errno.EEXIST):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(folder)) from error
        raise
    finally:
        shutil.rmtree(half, ignore_errors=True)
    sync_folder(folder.parent)


def make_folder(folder: Path, *, private: bool = False) -> None:
    """Make a folder and its missing parents, synced so that they survive a power cut. Raises OSError."""
    missing = [folder]
    while not missing[-1].exists() and missing[-1] != missing[-1].parent:
        missing.append(missing[-1].parent)
    for one in reversed(missing[:-1]):
        with contextlib.suppress(FileExistsError):         # made by another process meanwhile
            one.mkdir(PRIVATE_FOLDER if private else _ORDINARY_FOLDER)
        sync_folder(one.parent)
    if not folder.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(folder))


def close_to_others(path: Path, *, folder: bool = False) -> None:
    """Remove other users' access to an existing file or folder of ours (POSIX only).

    Never raises: where the file system has no owners (a USB stick), nothing changes.
    """
    wanted = PRIVATE_FOLDER if folder else PRIVATE_FILE
    if os.name == "posix":
        with contextlib.suppress(OSError):
            found = path.stat()
            if found.st_uid == os.geteuid() and stat.S_IMODE(found.st_mode) & ~wanted:
                path.chmod(stat.S_IMODE(found.st_mode) & wanted)


def sync(descriptor: int) -> None:
    """Return once an open file's data is on the disk. Raises OSError."""
    if sys.platform == "darwin":
        # fsync leaves the data in the drive's own memory there (from memory, not tested).
        import fcntl  # there is none on Windows

        with contextlib.suppress(OSError):
            fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
            return
    os.fsync(descriptor)


def sync_folder(folder: Path) -> None:
    """Sync a folder's own entries, or a power cut could take a new file along. Raises OSError.

    Windows has no such call and needs none; a folder that the system cannot sync is passed over.
    """
    if os.name != "posix":
        return
    try:
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            sync(descriptor)
        finally:
            os.close(descriptor)
    except OSError as error:
        if error.errno not in _NO_FOLDER_SYNC:
            raise


def patiently(act: Callable[[], object], pause_ns: int = _PAUSE_NS) -> None:
    """Repeat a call that a virus scanner or an indexer on Windows may block for a moment. Raises the last try's
    error."""
    for _ in range(_TRIES - 1):
        try:
            act()
            return
        except PermissionError:
            sleep_ns(pause_ns)
    act()


def leftovers(folder: Path) -> Iterator[tuple[Path, int]]:
    """Yield each temporary file of ours in a folder, and the id of the process that wrote it.

    Processes that are still writing are among them. Raises OSError.
    """
    for path in sorted(folder.iterdir()):
        if found := _HALF.fullmatch(path.name):
            yield path, int(found["pid"])


def _behind_links(path: Path) -> Path:
    """Return the path that a link points to, or the path itself. Raises FileNotFoundError for a link to nothing."""
    if not path.is_symlink():
        return path
    try:
        return path.resolve(strict=True)
    except RuntimeError as error:              # a link to itself, before Python 3.13
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP), str(path)) from error


def _demand_replaceable(place: Path) -> os.stat_result | None:
    """Return the stat result of the file at a path, None for none. Raises OSError if it must not be replaced."""
    try:
        old = place.stat()
    except FileNotFoundError:
        return None
    if stat.S_ISDIR(old.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(place))
    if not stat.S_ISREG(old.st_mode):
        raise FileExistsError(errno.EEXIST, tr("it is not an ordinary file"), str(place))
    if not os.access(place, os.W_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(place))
    return old


@contextlib.contextmanager
def _half(folder: Path, *, private: bool) -> Iterator[Path]:
    """Yield a new, empty temporary file in ``folder``; if it is still there at the end, it is deleted."""
    while True:
        half = folder / f".tocsin-{os.getpid()}-{secrets.token_hex(4)}.part"
        with contextlib.suppress(FileExistsError):
            os.close(os.open(half, os.O_CREAT | os.O_EXCL | os.O_WRONLY, PRIVATE_FILE if private else _ORDINARY_FILE))
            break
    try:
        yield half
    finally:
        with contextlib.suppress(OSError):
            half.unlink(missing_ok=True)


def _fill(half: Path, data: bytes, old: os.stat_result | None, *, private: bool) -> None:
    with half.open("wb") as file:
        if old is not None and os.name == "posix":
            with contextlib.suppress(OSError):             # only root gives a file to somebody else
                os.fchown(file.fileno(), old.st_uid, old.st_gid)
            with contextlib.suppress(OSError):             # a stick without modes
                os.fchmod(file.fileno(), PRIVATE_FILE if private else stat.S_IMODE(old.st_mode))
        file.write(data)
        file.flush()
        sync(file.fileno())


def _put_new(half: Path, path: Path) -> bool:
    """Give a written file its name unless that is taken; return whether it got the name."""
    try:
        if os.name == "posix":
            os.link(half, path)                # unlike a rename it never replaces
        else:
            patiently(lambda: half.rename(path))           # on Windows this never replaces either
    except FileExistsError:
        return False
    except OSError as error:
        if os.name != "posix" or error.errno not in _NO_LINKS:
            raise
        if os.path.lexists(path):
            return False
        half.replace(path)
    return True
