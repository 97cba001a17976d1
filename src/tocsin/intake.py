"""Read files that people give: only regular files, and only up to a limit.

A file may come from a stranger. A pipe would block for ever, a device might never end or react to being read, and a
file of gigabytes would fill the memory during a match.
"""

import errno
import os
import stat
from collections.abc import Callable
from pathlib import Path

from tocsin.translation import tr


class TooLargeError(OSError):
    """A file is larger than the limit for its kind; both in bytes."""

    def __init__(self, size: int, most: int) -> None:
        super().__init__(
            errno.EFBIG, tr("it has {in_kb}, and at most {in_kb_2} are read", in_kb=in_kb(size), in_kb_2=in_kb(most)),
        )
        self.size = size
        self.most = most


def in_kb(size: int) -> str:
    """Return a number of bytes as text in kB.

    >>> in_kb(262_144), in_kb(51_000_000)
    ('262 kB', '51,000 kB')
    """
    return tr("{size:,} kB", size=(size + 500) // 1000)


def read_given(path: Path, most: int) -> bytes:
    """Return the bytes of a file of at most ``most`` bytes. Raises TooLargeError, before reading, for a larger one, and
    OSError for what is no file or cannot be read."""
    found = path.stat()
    if stat.S_ISDIR(found.st_mode):
        raise IsADirectoryError(errno.EISDIR, tr("it is a folder"))
    if not stat.S_ISREG(found.st_mode):
        raise OSError(errno.EINVAL, "it is no file, but a pipe or a device")
    if found.st_size > most:
        raise TooLargeError(found.st_size, most)
    with path.open("rb") as file:
        data = file.read(most + 1)                     # it may have grown, and some systems' own files state no size
        if len(data) > most:
            raise TooLargeError(max(os.fstat(file.fileno()).st_size, len(data)), most)
    return data


def read_plain(path: Path, most: int) -> bytes:
    """Return a file's bytes like ``read_given``, but follow no link: a stranger's folder may hold one to anywhere.

    What is no file is not even opened: some devices act by that.
    """
    if not is_plain(path, stat.S_ISREG):
        raise OSError(errno.EINVAL, "it is no ordinary file")
    # It may have been exchanged since: where the system can, it is opened without following and without waiting.
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(path, flags), "rb") as file:
        found = os.fstat(file.fileno())
        if not stat.S_ISREG(found.st_mode):
            raise OSError(errno.EINVAL, "it is no ordinary file")
        if found.st_size > most:
            raise TooLargeError(found.st_size, most)
        data = file.read(most + 1)
        if len(data) > most:
            raise TooLargeError(len(data), most)
        return data


def is_plain(path: Path, kind: Callable[[int], bool]) -> bool:
    """Return whether a path is of a kind, such as ``stat.S_ISDIR``, itself and not by a link. Raises OSError."""
    found = path.lstat()
    points_elsewhere = getattr(found, "st_file_attributes", 0) & stat.FILE_ATTRIBUTE_REPARSE_POINT     # Windows
    return kind(found.st_mode) and not points_elsewhere
