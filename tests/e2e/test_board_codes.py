"""A match whose codes are scanned off the real window: by the first a phone watches, by the second it may steer.

The laptop's network is a namespace of the test's own, and the phone is a program in it: nothing leaves this machine.
"""

import contextlib
import json
import os
import shutil
import subprocess
import sys
import time

import pytest

from tests.support.channels.codes import ZBAR, scanned
from tests.support.channels.screen_stand import MISSING, Server
from tests.support.stands.stand import TOCSIN, wait_for
from tocsin.runner.phones.rights import REPEATS_NS
from tocsin.units import NS_PER_S

ADDRESS = "192.0.2.5"                  # kept for examples by RFC 5737
NETWORK = f"ip link set lo up && ip addr add {ADDRESS}/32 dev lo"
PHONE = """
import json, sys, urllib.error, urllib.request
address, body, token = sys.argv[1:]
headers = {"Content-Type": "application/json", "Tocsin-Board": 32 * "a"} | (
    {"Authorization": f"Bearer {token}"} if token else {})
try:
    with urllib.request.urlopen(urllib.request.Request(address, body.encode() or None, headers), timeout=30) as answer:
        print(json.dumps([answer.status, json.load(answer)]))
except urllib.error.HTTPError as error:
    print(json.dumps([error.code, json.load(error)]))
"""


def namespaces():
    """Return whether this machine lets us make a network of our own."""
    if any(shutil.which(name) is None for name in ("unshare", "nsenter", "ip")):
        return False
    return subprocess.run(["unshare", "-rn", "sh", "-c", NETWORK], capture_output=True, check=False).returncode == 0


pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(bool(MISSING) or ZBAR is None, reason="no window, or zbarimg is not installed"),
    pytest.mark.skipif(sys.platform != "linux" or not namespaces(), reason="no network namespace of our own"),
]


class Laptop:
    """A match in a window, in a network of its own."""

    def __init__(self, folder, *arguments):
        self.server = Server((1280, 720))
        env = {
            **os.environ, "DISPLAY": self.server.name, "SDL_AUDIODRIVER": "dummy", "XDG_STATE_HOME": str(folder),
            "XDG_DATA_HOME": str(folder),
        }  # fmt: skip
        words = ["unshare", "-rn", "sh", "-c", f'{NETWORK} && exec "$@"', "sh", *TOCSIN, "run", "--board", "lan"]
        self.process = subprocess.Popen(
            [*words, "--from", "driver.end-30s", *arguments], env=env, stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, start_new_session=True,
        )  # fmt: skip

    def code(self, kind):
        """Return the text of the only code that stands there, once it is one that watches (``t``) or gives (``g``)."""
        return wait_for(lambda: self._code(kind))

    def press_until(self, key, fits):
        """Press a key, each time after longer than a key that is held down repeats, until a code that gives fits;
        return that."""
        pressed_s = 0.0

        def fitting():
            nonlocal pressed_s
            code = self._code("g")
            if fits(code):
                return code
            if time.monotonic() - pressed_s > 1.5 * REPEATS_NS / NS_PER_S:
                self.server.press(key)
                pressed_s = time.monotonic()
            return None

        return wait_for(fitting)

    def _code(self, kind):
        return next((one for one in scanned(self.server.pixels()) if f"/#{kind}=" in one), None)

    def ask(self, path, body="", token=""):
        """Return status and JSON of what a phone in this network is answered."""
        enters = ["nsenter", "-t", str(self.process.pid), "-U", "-n", "--preserve-credentials"]
        command = [*enters, sys.executable, "-c", PHONE, f"http://{ADDRESS}:8737/{path}", body, token]
        return json.loads(subprocess.run(command, capture_output=True, check=True, timeout=60).stdout)

    def close(self):
        self.process.kill()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.communicate(timeout=20)
        self.server.close()


@pytest.fixture
def laptop(tmp_path):
    laptop = Laptop(tmp_path)
    yield laptop
    laptop.close()


def test_a_phone_watches_by_the_first_code_and_steers_by_the_second_until_that_is_taken_back(laptop):
    first = laptop.code("t")
    assert first.startswith(f"http://{ADDRESS}:8737/#t=")
    watch = first.partition("#t=")[2]
    status, state = laptop.ask("api/1/state", token=watch)
    assert (status, state["you"]["right"]) == (200, "watch")
    assert laptop.ask("api/1/wishes", "{}", watch)[0] == 403

    laptop.server.focus()
    laptop.server.press("u")               # the bundled rig's h is for the call home
    marks = laptop.code("g")
    steers = laptop.press_until("u", lambda code: code not in (None, marks))
    assert laptop.ask("api/1/rights", json.dumps({"secret": marks.partition("#g=")[2]}))[0] >= 400, "closed"
    secret = json.dumps({"secret": steers.partition("#g=")[2]})
    status, given = laptop.ask("api/1/rights", secret, watch)
    assert (status, given["right"]) == (200, "steer")
    assert laptop.ask("api/1/rights", secret, watch)[0] >= 400, "a secret works once"
    assert laptop.code("t") == first, "a code that was used is gone"

    laptop.server.press("s")
    wait_for(lambda: scanned(laptop.server.pixels()) == [])
    laptop.server.press("u")
    status, state = laptop.ask("api/1/state", token=given["token"])
    assert (status, state["you"]["right"]) == (200, "steer")
    laptop.server.press("l")
    wait_for(lambda: _right(laptop, given["token"]) != "steer")
    assert scanned(laptop.server.pixels()) == [], "in a match no code covers the plate"
    laptop.server.press("x", "x")
    assert laptop.code("t") == first
    laptop.server.press("q")
    out, _ = laptop.process.communicate(timeout=60)
    assert laptop.process.returncode == 0, out
    assert not {watch, given["token"]} & set(out.split()), "no token is printed"


def _right(laptop, token):
    status, state = laptop.ask("api/1/state", token=token)
    return state["you"]["right"] if status == 200 else ""
