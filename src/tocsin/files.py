"""A file written whole or not at all: whoever reads it, and whatever a crash or a power cut leaves, finds the old one
or the new one.

The data goes into a file of its own in the same folder, is flushed and synced, and then takes the other's place; the
folder is synced too, where the system can do that. What a killed process leaves behind is such a file of its own,
``.tocsin-PID-RANDOM.part``, never half of another.

- A link is followed, so that it stays a link: what it points to is replaced. A link to nothing, a folder, a pipe or a
  device is refused: replacing it would do something else than write it.
- A file that its owner made read-only is refused, on every system alike.
- The mode of a file that is there is kept, and its owner as far as the system lets us. Hard links are not: the new
  file is another one than what they share.
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
    """Write a file, in place of one that is there; folders are made for it.

    ``private`` keeps other users of this machine out of it and of the folders made for it, also where the file was
    open to them before (POSIX; on Windows a user's own folders are closed to others as they are). Raises OSError, and
    then what was there is as it was, unless only the folder's sync has failed.
    """
    place = _behind_links(path)
    make_folder(place.parent, private=private)
    old = _demand_replaceable(place)
    with _half(place.parent, private=private) as half:
        _fill(half, data, old, private=private)
        patiently(lambda: half.replace(place))
    sync_folder(place.parent)


def create_whole(path: Path, data: bytes, *, private: bool = False) -> bool:
    """Write a file where nothing is; return whether it was written. Of two at once one is written, and whole.

    Raises OSError. Where the file system has no hard links a file that comes at the very same moment is replaced.
    """
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
    """Make sure that a file of some size can be written at ``path`` later; only folders that are made for it stay.

    Raises OSError.
    """
    place = _behind_links(path)
    make_folder(place.parent)
    _demand_replaceable(place)
    with _half(place.parent, private=True) as half, half.open("wb") as file:
        file.write(bytes(_PROBE_BYTES))


@contextlib.contextmanager
def new_folder(folder: Path) -> Iterator[Path]:
    """Give a folder to fill, which takes its place as ``folder`` at the end, whole: of two at once only one does.

    What a killed process leaves is a folder of its own beside it. Raises FileExistsError if something is there by
    then, OSError; nothing of what was filled in stays in either case, nor if the context is left by an error.
    """
    make_folder(folder.parent)
    half = folder.with_name(f".tocsin-{os.getpid()}-{secrets.token_hex(4)}.part")
    half.mkdir(_ORDINARY_FOLDER)
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
    """Make a folder and those above it where they are missing, so that they outlive a power cut. Raises OSError."""
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
    """Keep other users of this machine out of a file or folder that is there, if it is ours (POSIX only).

    Never raises: a place that cannot be closed, such as a stick without owners, is used as it is.
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
    """Do what a virus scanner or an indexer on Windows may refuse for a moment. Raises what the last try raised."""
    for _ in range(_TRIES - 1):
        try:
            act()
            return
        except PermissionError:
            sleep_ns(pause_ns)
    act()


def leftovers(folder: Path) -> Iterator[tuple[Path, int]]:
    """Yield what killed processes left of their writing in a folder, and the process each file is from.

    Files of processes that are still writing are among them. Raises OSError.
    """
    for path in sorted(folder.iterdir()):
        if found := _HALF.fullmatch(path.name):
            yield path, int(found["pid"])


def _behind_links(path: Path) -> Path:
    """Return what a link points to, the path itself if it is none. Raises FileNotFoundError for a link to nothing."""
    if not path.is_symlink():
        return path
    try:
        return path.resolve(strict=True)
    except RuntimeError as error:              # a link to itself, before Python 3.13
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP), str(path)) from error


def _demand_replaceable(place: Path) -> os.stat_result | None:
    """Return what is known of the file that is there, None for none. Raises OSError for what must not be replaced."""
    try:
        old = place.stat()
    except FileNotFoundError:
        return None
    if stat.S_ISDIR(old.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(place))
    if not stat.S_ISREG(old.st_mode):
        raise FileExistsError(errno.EEXIST, "it is no ordinary file", str(place))
    if not os.access(place, os.W_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(place))
    return old


@contextlib.contextmanager
def _half(folder: Path, *, private: bool) -> Iterator[Path]:
    """Give a new, empty file of our own in ``folder``; what is still there at the end goes."""
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
    """Give a written file its name, if nobody else has it; return whether it got it."""
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
