"""Keys from a terminal: their names, and the terminal as it was afterwards."""

import os
import subprocess
import sys

import pytest

from tests.support import PROJECT
from tocsin.config.schema.key_names import KEY_NAMES
from tocsin.runner.terminal.keys import KeyDecoder, key_names, windows_key_name

CHILD = [sys.executable, "-m", "tests.support.runner.terminal_keys_child"]


# What terminals send: ECMA-48 and common practice (from memory).
@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("h", ["h"]),
        ("H7", ["h", "7"]),
        ("\x1b[6~", ["page_down"]),
        ("\x1b[5~\x1b[D\x1b[C", ["page_up", "left", "right"]),
        ("\x1bOA\x1b[B", ["up", "down"]),
        ("\x1b", ["escape"]),
        ("\x1b\x1b[6~", ["escape", "page_down"]),
        ("+- \r", ["plus", "minus", "space", "enter"]),
        ("\x1b[15~", ["f5"]),
        ("\x1b[1;5C", []),                   # with control: not to be read as the keys 1, 5, c
        ("\x1b[200~", []),
        ("\x1bc", []),                       # c with alt
        ("ä", []),
        ("", []),
    ],
)
def test_text_of_a_terminal_is_named_as_in_a_rig(text, names):
    assert key_names(text) == names
    assert set(names) <= KEY_NAMES


@pytest.mark.parametrize(
    ("pieces", "names"),
    [
        ([b"\x1b[", b"6~"], ["page_down"]),
        ([b"\x1b", b"[D"], ["left"]),
        ([b"h\x1b[1", b"5", b"~j"], ["h", "f5", "j"]),
        ([b"\x1bO", b"P"], ["f1"]),
        ([b"\x1b[1;", b"5C"], []),
        ([b"\x1b\x1b", b"[6~"], ["escape", "page_down"]),
        ([b"\xc3", b"\xa4h"], ["h"]),
        ([b"\xc3h"], ["h"]),
    ],
)
def test_a_key_that_comes_in_pieces_is_one_key(pieces, names):
    decoder = KeyDecoder()
    assert [name for piece in pieces for name in decoder.feed(piece)] == names
    assert not decoder.waits
    assert decoder.give_up() == []


@pytest.mark.parametrize(
    ("begun", "names"), [(b"\x1b", ["escape"]), (b"\x1b[", []), (b"\x1b[1;5", []), (b"\x1bO", []), (b"\xc3", [])]
)
def test_of_a_key_whose_rest_does_not_come_nothing_is_made_up(begun, names):
    decoder = KeyDecoder()
    assert decoder.feed(begun) == []
    assert decoder.give_up() == names
    assert decoder.feed(b"h") == ["h"]


# What Windows' console gives: arrows to delete as Wine's C library does (seen), F keys from memory.
@pytest.mark.parametrize(
    ("characters", "name"),
    [
        ("h", "h"), ("H", "h"), (" ", "space"), ("\r", "enter"), ("\t", "tab"), ("\x08", "backspace"),
        ("\x1b", "escape"), ("\xe0H", "up"), ("\xe0P", "down"), ("\xe0M", "right"), ("\xe0K", "left"),
        ("\xe0I", "page_up"), ("\xe0Q", "page_down"), ("\xe0G", "home"), ("\xe0O", "end"), ("\xe0R", "insert"),
        ("\xe0S", "delete"), ("\x00;", "f1"), ("\x00?", "f5"), ("\x00D", "f10"), ("\xe0\x85", "f11"),
        ("\xe0\x86", "f12"),
        ("\xe0t", ""),                       # right with control
        ("ä", ""),
    ],
)  # fmt: skip
def test_a_key_of_windows_console_is_named_as_in_a_rig(characters, name):
    left = list(characters)
    assert windows_key_name(lambda: left.pop(0)) == name
    assert left == []
    assert not name or name in KEY_NAMES


posix = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")


class Terminal:
    """A pseudo-terminal with the child on it."""

    def __init__(self):
        self.master, self.slave = os.openpty()
        self.before = self.attributes()
        self.child = subprocess.Popen(
            CHILD, cwd=PROJECT, stdin=self.slave, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )

    def attributes(self):
        import termios

        return termios.tcgetattr(self.slave)

    def line(self):
        return self.child.stdout.readline().strip()

    def type(self, text):
        os.write(self.master, text.encode())

    def end(self):
        self.child.communicate(timeout=20)
        os.close(self.master)
        os.close(self.slave)


@posix
@pytest.mark.devices
@pytest.mark.parametrize("last", ["q", "x"], ids=["stopped", "ended by an exception"])
def test_keys_come_at_once_and_the_terminal_is_given_back(last):
    terminal = Terminal()
    assert terminal.line() == "terminal"
    assert terminal.attributes() != terminal.before
    terminal.type("h")                       # no enter
    assert terminal.line() == "h"
    terminal.type("\x1b[6~")
    assert terminal.line() == "page_down"
    terminal.type(last)
    assert terminal.line() == last
    terminal.child.wait(20)
    assert terminal.attributes() == terminal.before
    terminal.end()


@posix
@pytest.mark.devices
def test_keys_that_come_faster_than_they_are_read_stay_whole():
    terminal = Terminal()
    assert terminal.line() == "terminal"
    terminal.type("h" + "\x1b[6~" * 40 + "\x1b[15~" * 20)
    assert [terminal.line() for _ in range(61)] == ["h"] + ["page_down"] * 40 + ["f5"] * 20
    terminal.type("\x1b")                     # nothing behind it: the key itself
    assert terminal.line() == "escape"
    terminal.type("q")
    assert terminal.line() == "q"
    terminal.end()


@pytest.mark.devices
def test_without_a_terminal_there_are_no_keys():
    nobody = subprocess.DEVNULL
    done = subprocess.run(CHILD, cwd=PROJECT, stdin=nobody, capture_output=True, text=True, timeout=30, check=True)
    assert done.stdout.strip() == "none"
