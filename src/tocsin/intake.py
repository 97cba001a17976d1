"""Files that people give: read only if they are files, and only as far as anybody can make use of them.

A file may come from others. A pipe would be waited for without end, a device might never end or do something when it
is read, and a file of gigabytes would take the memory of a match.
"""

import errno
import os
import stat
from pathlib import Path


class TooLargeError(OSError):
    """A file holds more than is read of its kind; both in bytes."""

    def __init__(self, size: int, most: int) -> None:
        super().__init__(errno.EFBIG, f"it has {in_kb(size)}, and at most {in_kb(most)} are read")
        self.size = size
        self.most = most


def in_kb(size: int) -> str:
    """Return a number of bytes as people read it.

    >>> in_kb(262_144), in_kb(51_000_000)
    ('262 kB', '51,000 kB')
    """
    return f"{(size + 500) // 1000:,} kB"


def read_given(path: Path, most: int) -> bytes:
    """Return the bytes of a file of at most ``most`` bytes.

    Raises TooLargeError before anything of a larger one is read, and OSError for what is no file or cannot be read.
    """
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
