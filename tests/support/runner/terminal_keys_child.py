"""Reads keys from the terminal on stdin and prints their names, until `q`; ends by an exception on `x`."""

import queue
import sys

from tocsin.runner.terminal.keys import TerminalKeys

names = queue.SimpleQueue()
keys = TerminalKeys(lambda name, at_ns: names.put(name))
print("terminal" if keys.start() else "none", flush=True)
while sys.stdin.isatty():
    name = names.get(timeout=20)
    print(name, flush=True)
    if name == "x":
        raise SystemExit("an end without stop")
    if name == "q":
        break
keys.stop()
