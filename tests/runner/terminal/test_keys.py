"""Keys from a terminal: their names, and the terminal as it was afterwards."""

import os
import subprocess
import sys

import pytest

from tests.support import PROJECT
from tocsin.config.schema.key_names import KEY_NAMES
from tocsin.runner.terminal.keys import key_names

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


@pytest.mark.devices
def test_without_a_terminal_there_are_no_keys():
    nobody = subprocess.DEVNULL
    done = subprocess.run(CHILD, cwd=PROJECT, stdin=nobody, capture_output=True, text=True, timeout=30, check=True)
    assert done.stdout.strip() == "none"
