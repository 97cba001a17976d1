"""Keep the boards' tokens for twelve hours, in the user's state folder, closed to others: boards that were here come
back after a restart. No name stands there."""

import secrets
import threading
from collections.abc import Sequence
from pathlib import Path

import msgspec

from tocsin import files
from tocsin.errors import UsageError, fix_of_writing, reason
from tocsin.journal.answers import wall_s
from tocsin.service.messages import Board, Tokens
from tocsin.translation import tr

NAME = "boards.json"
FORMAT = "tocsin-boards/1"
KEPT_S = 12 * 3600
PORT = 8737                            # own choice, no source
_BYTES = 16                            # 128 bits: 22 characters of base64url


class Kept(msgspec.Struct, frozen=True, kw_only=True):
    """The standing tokens, when they were made (RFC 3339 in UTC), the boards that were here, the port they know, and
    the address at which they were served last (``http://10.0.0.5:8737/``)."""

    format: str = FORMAT
    made: str
    tokens: Tokens
    boards: tuple[Board, ...] = ()
    port: int = PORT
    address: str = ""


class TokenFile:
    """The file in a folder; what it holds is at hand also where it cannot be written, or without a folder is not
    kept."""

    def __init__(self, folder: Path | None, now: str) -> None:
        """Read it at the wall clock's time ``now``; make new tokens if there are none, or old ones."""
        self._path = folder / NAME if folder is not None else None
        self._writing = threading.Lock()
        self._waits = False                        # whether a thread will write what is kept then
        self.kept = (_read(self._path, now) if self._path else None) or Kept(made=now, tokens=_fresh())
        self.trouble = ""                          # why it could not be written
        self._write()

    def keep(self, boards: Sequence[Board], port: int, address: str = "") -> None:
        """Keep the boards that are known now, the port and the address. A disk that hangs holds nobody up."""
        gone = tuple(msgspec.structs.replace(board, here=False) for board in boards)
        kept = msgspec.structs.replace(
            self.kept, boards=gone, port=port or self.kept.port, address=address or self.kept.address
        )
        if kept != self.kept:
            self.kept = kept
            if not self._waits:                    # of a disk that hangs no more than one waits
                self._waits = True
                threading.Thread(target=self._write, name="boards-file", daemon=True).start()

    def _write(self) -> None:
        if self._path is None:
            return
        try:
            with self._writing:
                self._waits = False        # before the newest is looked at: what comes later waits anew
                data = msgspec.json.format(msgspec.json.encode(self.kept), indent=1) + b"\n"
                files.write_whole(self._path, data, private=True)
            self.trouble = ""
        except OSError as error:
            self.trouble = tr(
                "{path} cannot be written: {reason}. After a restart boards scan the code again.", path=self._path,
                reason=reason(error),
            )


def kept_tokens(folder: Path, now: str) -> Kept:
    """Return what is kept at the wall clock's time ``now``; new tokens are made if there are none, or old ones. Raises
    UsageError if these cannot be kept."""
    found = _read(folder / NAME, now)          # written by a run that is on, it must not be written here
    if found is not None:
        return found
    made = TokenFile(folder, now)
    if made.trouble:
        raise UsageError(made.trouble)
    return made.kept


def forget_tokens(folder: Path) -> None:
    """Let new tokens be made at the next start. Raises UsageError if the old ones cannot be taken away."""
    try:
        (folder / NAME).unlink(missing_ok=True)
    except OSError as error:
        raise UsageError(
            tr("{path} cannot be removed: {reason}", path=folder / NAME, reason=reason(error)),
            hint=fix_of_writing(error, tr("remove it by hand")),
        ) from error


def _fresh() -> Tokens:
    watch, mark, steer = (secrets.token_urlsafe(_BYTES) for _ in range(3))
    return Tokens(watch=watch, mark=mark, steer=steer)


def _read(path: Path, now: str) -> Kept | None:
    """Return what the file holds, None if it is gone, old, or no such file."""
    try:
        kept = msgspec.json.decode(path.read_bytes(), type=Kept)
        age_s = wall_s(now) - wall_s(kept.made)
    except (OSError, ValueError, RecursionError):      # msgspec's own errors are ValueErrors
        return None
    whole = all(len(token) >= _BYTES for token in msgspec.structs.astuple(kept.tokens))
    return kept if whole and 0 <= age_s < KEPT_S and kept.format == FORMAT else None
