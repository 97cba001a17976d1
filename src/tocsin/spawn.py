"""Starts child processes: out of the reach of Ctrl-C, Ctrl-Z and a closed terminal, on Windows without a console."""

import os
import subprocess
import sys
import threading
from collections.abc import Mapping, Sequence
from typing import NoReturn

_NO_WINDOW: int = getattr(subprocess, "CREATE_NO_WINDOW", 0)       # Windows only

Process = subprocess.Popen[bytes]


def start(
    command: Sequence[str],
    *,
    stdin: int = subprocess.PIPE,
    stdout: int = subprocess.PIPE,
    stderr: int = subprocess.PIPE,
    bufsize: int = -1,
    env: Mapping[str, str] | None = None,
) -> Process:
    """Start a program; its streams are pipes unless others are given. Raises OSError."""
    return subprocess.Popen(
        command, stdin=stdin, stdout=stdout, stderr=stderr, bufsize=bufsize, env=env,
        start_new_session=sys.platform != "win32", creationflags=_NO_WINDOW,
    )  # fmt: skip


def start_module(module: str, *words: str, stdin: int = subprocess.PIPE, bufsize: int = -1) -> Process:
    """Start a module of ours in a Python of its own. Raises OSError."""
    # -P: a file of the user's folder that is named like a library must not be imported instead of it.
    return start([sys.executable, "-P", "-m", module, *words], stdin=stdin, bufsize=bufsize)


def leave(code: int) -> NoReturn:
    """End this process with an exit code, also where a package has left a thread behind: Python would wait for it."""
    if any(not thread.daemon for thread in threading.enumerate() if thread is not threading.main_thread()):
        sys.stdout.flush()
        os._exit(code)
    sys.exit(code)
