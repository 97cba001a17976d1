"""Read files that people give: only regular files, and only up to a limit.

A file may come from a stranger. A pipe would block for ever, a device might never end or react to being read, and a
file of gigabytes would fill the memory during a match.
"""

import errno
import os
import stat
from pathlib import Path


class TooLargeError(OSError):
    """A file is larger than the limit for its kind; both in bytes."""

    def __init__(self, size: int, most: int) -> None:
        super().__init__(errno.EFBIG, f"it has {in_kb(size)}, and at most {in_kb(most)} are read")
        self.size = size
        self.most = most


def in_kb(size: int) -> str:
    """Return a number of bytes as text in kB.

    >>> in_kb(262_144), in_kb(51_000_000)
    ('262 kB', '51,000 kB')
    """
    return f"{(size + 500) // 1000:,} kB"


def read_given(path: Path, most: int) -> bytes:
    """Return the bytes of a file of at most ``most`` bytes. Raises TooLargeError, before reading, for a larger one, and
    OSError for what is no file or cannot be read."""
    found = path.stat()
    if stat.S_ISDIR(found.st_mode):
        raise IsADirectoryError(errno.EISDIR, "it is a folder")
    if not stat.S_ISREG(found.st_mode):
        raise OSError(errno.EINVAL, "it is no file, but a pipe or a device")
    if found.st_size > most:
        raise TooLargeError(found.st_size, most)
    with path.open("rb") as file:
        data = file.read(most + 1)                     # it may have grown, and some systems' own files state no size
        if len(data) > most:
            raise TooLargeError(max(os.fstat(file.fileno()).st_size, len(data)), most)
    return data
