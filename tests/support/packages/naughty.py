"""A device package that does in its hooks what no package should. The folder that NAUGHTY names has a file for each
hook that is to misbehave, with what it does: ``raise`` once, or ``raise always``. Meanwhile it sends frames and shakes
to the boards of ROPE and BELT.
"""

import json
import os
import socket
import sys
import threading
import time
from pathlib import Path


def misbehave(hook):
    said = Path(os.environ["NAUGHTY"]) / hook
    if not said.exists():
        return
    how, *often = said.read_text("utf-8").split()
    if not often:
        said.unlink()
    if how == "raise":
        raise ZeroDivisionError("no end")
    if how == "exit":
        sys.exit("I am done")
    if how == "die":
        os._exit(7)
    if how == "hang":
        time.sleep(600)
    if how == "burn":
        while True:
            pass
    if how == "lose":
        raise OSError("the rope is cut")
    if how == "slow":
        time.sleep(0.12)
    if how == "stay":
        threading.Thread(target=time.sleep, args=(600,)).start()       # no daemon: Python waits for it at its end
    if how == "flood":
        threading.Thread(target=flood, daemon=True).start()
    if how == "shout":
        print('{"kind":"told"', end="", flush=True)
        os.write(1, b"\xff\x00 garbage\n[" * 20)
        sys.stdout.write("more\n" * 20)
        sys.stdin.read()


def flood():
    while True:
        os.write(1, b"still here\n" * 100)


def send(variable, data):
    host, _, port = os.environ[variable].rpartition(":")
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as board:
        board.sendto(data, (host, int(port)))


class Rope:
    def __init__(self):
        misbehave("make")

    def open(self, leds):
        misbehave("open")

    def booting(self):
        misbehave("booting")
        return False

    def feel(self):
        misbehave("feel")

    def write(self, frame):
        send("ROPE", frame)
        misbehave("write")
        if any(frame):
            misbehave("lit")

    def close(self):
        misbehave("close")


class Belt:
    def __init__(self):
        misbehave("make")

    def found(self):
        misbehave("found")
        return True

    def shake(self, strong, weak, ms):
        send("BELT", json.dumps({"strong": strong, "weak": weak, "ms": ms}).encode())
        misbehave("shake")

    def stop(self):
        send("BELT", json.dumps({"strong": 0, "weak": 0, "ms": 0}).encode())
        misbehave("stop")


misbehave("import")
