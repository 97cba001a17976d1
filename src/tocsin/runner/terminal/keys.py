"""Keys from a terminal, by the names that a rig uses. The terminal is given back as it was on every way out.

No library: those that know a lone Esc cost a match a tenth of a second of start, take no keys once the output goes
elsewhere or take Ctrl-C for a key, and let sequences they do not know fall apart into letters that call or mark.
"""

import atexit
import codecs
import contextlib
import os
import re
import sys
import threading
from collections.abc import Callable
from typing import Any

from tocsin import monotime
from tocsin.translation import tr

WAIT_S = 0.1                           # how soon the thread sees that it is to end
# How long the rest of a key may be on its way, as over a network; later Esc was pressed alone (common practice, no
# source).
REST_S = 0.05
_NAMED = {
    " ": "space", "\r": "enter", "\n": "enter", "\t": "tab", "\x7f": "backspace", "\x08": "backspace",
    "\x1b": "escape", "+": "plus", "-": "minus", ",": "comma", ".": "period", "/": "slash", ";": "semicolon",
    "'": "quote", "=": "equals", "[": "left_bracket", "]": "right_bracket", "\\": "backslash", "`": "backquote",
}  # fmt: skip
# What terminals send for other keys (ECMA-48 and common practice, from memory).
_SEQUENCES = {
    "\x1b[A": "up", "\x1b[B": "down", "\x1b[C": "right", "\x1b[D": "left", "\x1bOA": "up", "\x1bOB": "down",
    "\x1bOC": "right", "\x1bOD": "left", "\x1b[5~": "page_up", "\x1b[6~": "page_down", "\x1b[H": "home",
    "\x1b[F": "end", "\x1b[2~": "insert", "\x1b[3~": "delete",
    "\x1bOP": "f1", "\x1bOQ": "f2", "\x1bOR": "f3", "\x1bOS": "f4", "\x1b[15~": "f5", "\x1b[17~": "f6",
    "\x1b[18~": "f7", "\x1b[19~": "f8", "\x1b[20~": "f9", "\x1b[21~": "f10", "\x1b[23~": "f11",
    "\x1b[24~": "f12",
}  # fmt: skip
# The second character that Windows' console gives for other keys (those of the first two lines as Wine's C library
# gives them, the F keys from memory; never run on Windows itself).
_WINDOWS = {
    "H": "up", "P": "down", "M": "right", "K": "left", "I": "page_up", "Q": "page_down", "G": "home", "O": "end",
    "R": "insert", "S": "delete",
    ";": "f1", "<": "f2", "=": "f3", ">": "f4", "?": "f5", "@": "f6", "A": "f7", "B": "f8", "C": "f9", "D": "f10",
    "\x85": "f11", "\x86": "f12",
}  # fmt: skip


# One key: a control sequence, a key with alt, or a character. A sequence that is not known must not fall apart into
# letters, which may be keys that call or mark.
_ONE_KEY = re.compile(r"\x1b\[[0-?]*[ -/]*[@-~]|\x1bO[@-~]|\x1b[^\x1b]|.", re.DOTALL)
_BEGUN = re.compile(r"\x1b(\[[0-?]*[ -/]*|O)?\Z")         # the end of a text that may be the begin of a key


def key_names(text: str) -> list[str]:
    """Return the names of the keys that a terminal's text stands for; what stands for none is left out.

    >>> key_names("h\\x1b[6~\\x1b[1;5C")
    ['h', 'page_down']
    """
    return [name for code in _ONE_KEY.findall(text) if (name := _key_name(code))]


def _key_name(code: str) -> str:
    if len(code) == 1 and code.isascii() and code.isalnum():
        return code.lower()
    return _SEQUENCES.get(code) or _NAMED.get(code, "")


class KeyDecoder:
    """Turns what a terminal sends into names of keys, in whatever pieces it comes."""

    def __init__(self) -> None:
        self._decoder = codecs.getincrementaldecoder("utf-8")("ignore")
        self._begun = ""

    @property
    def waits(self) -> bool:
        """Whether a key has begun whose rest may be on its way."""
        return bool(self._begun)

    def feed(self, data: bytes) -> list[str]:
        """Return the names of the keys that are complete with this piece."""
        text = self._begun + self._decoder.decode(data)
        begun = _BEGUN.search(text)
        end = begun.start() if begun else len(text)
        self._begun = text[end:]
        return key_names(text[:end])

    def give_up(self) -> list[str]:
        """Return the names of what has begun, since no rest of it came: Esc, or nothing."""
        begun, self._begun = self._begun, ""
        return key_names(begun) if begun == "\x1b" else []


def windows_key_name(read: Callable[[], str]) -> str:
    """Return the name of the key whose first character ``read`` gives next, empty for one that no rig uses.

    The letter à looks like the begin of an arrow: where a keyboard has a key for it, the key pressed next is lost.
    """
    first = read()
    return _WINDOWS.get(read(), "") if first in ("\x00", "\xe0") else _key_name(first)


def _in_background() -> bool:
    """Return whether reading the terminal would suspend the whole process (POSIX job control)."""
    try:
        return os.tcgetpgrp(0) != os.getpgrp()
    except OSError:
        return False                           # a terminal that controls nobody


class TerminalKeys:
    """Reads keys in a thread and hands each to ``on_key`` with the time at which it was read."""

    def __init__(self, on_key: Callable[[str, int], None]) -> None:
        self._on_key = on_key
        self._leave = threading.Event()
        self._thread: threading.Thread | None = None
        self._saved: Any = None
        self._decoder = KeyDecoder()
        self._read_ns = 0

    def start(self) -> bool:
        """Begin to read; return whether there is a terminal to read from."""
        if sys.stdin is None or not sys.stdin.isatty():
            return False
        if sys.platform != "win32":
            import termios  # POSIX only
            import tty

            if _in_background():
                return False
            self._saved = termios.tcgetattr(0)
            tty.setcbreak(0)
            atexit.register(self._restore)
        self._thread = threading.Thread(target=self._read, name=tr("terminal keys"), daemon=True)
        self._thread.start()
        return True

    def stop(self) -> None:
        """End reading and give the terminal back."""
        self._leave.set()
        if self._thread is not None:
            self._thread.join(2 * WAIT_S)
        self._restore()

    def _restore(self) -> None:
        saved, self._saved = self._saved, None
        if saved is not None and not _in_background():         # else the shell has given it its own ways already
            import termios  # POSIX only

            with contextlib.suppress(termios.error):
                termios.tcsetattr(0, termios.TCSADRAIN, saved)

    def _read(self) -> None:
        read = self._read_windows if sys.platform == "win32" else self._read_posix
        while not self._leave.is_set():
            for name in read():
                self._on_key(name, self._read_ns)

    def _read_posix(self) -> list[str]:
        import select  # not for terminals on Windows

        if _in_background():                   # since Ctrl-Z and bg: what is typed is for others
            self._leave.wait(WAIT_S)
            return []
        self._take_keys_again()
        readable, _, _ = select.select([0], [], [], REST_S if self._decoder.waits else WAIT_S)
        if not readable:
            return self._decoder.give_up()
        if _in_background():
            return []
        try:
            data = os.read(0, 64)
        except OSError:
            data = b""
        if not data:
            self._leave.set()              # the terminal is gone
        self._read_ns = monotime.now_ns()
        return self._decoder.feed(data)

    def _take_keys_again(self) -> None:
        """Ask the terminal for single keys once more where a shell has taken them back, as behind Ctrl-Z and fg."""
        import termios  # POSIX only
        import tty

        with contextlib.suppress(termios.error):
            if termios.tcgetattr(0)[3] & termios.ICANON and not self._leave.is_set():
                tty.setcbreak(0)

    def _read_windows(self) -> list[str]:
        import msvcrt  # Windows only

        kbhit, getwch = msvcrt.kbhit, msvcrt.getwch  # type: ignore[attr-defined,unused-ignore]
        if not kbhit():
            self._leave.wait(0.02)
            return []
        self._read_ns = monotime.now_ns()
        name = windows_key_name(getwch)
        return [name] if name else []
