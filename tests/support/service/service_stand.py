"""The service as a process, and who talks to it: messages by hand, or a conductor that plays a match without devices.

    with service() as stand:
        stand.play()                       # a match of a bundled plan stands; wishes and marks are carried out
        stand.get("/api/1/state")          # an httpx.Response
"""

import contextlib
import subprocess
import sys
import threading
import time

import httpx
import msgspec

from tocsin.service import messages
from tocsin.service.messages import Open, Opened, Record, Tokens

WITHIN_S = 60.0                        # the machine may be busy; nothing waits so long where all is well
TOKENS = Tokens(watch="w" * 22, mark="m" * 22, steer="s" * 22)
PAGE = "<!doctype html><title>Board</title>"
POLICY = "default-src 'none'; frame-ancestors 'none'"
ONE, TWO = "1" * 32, "2" * 32          # ids by which boards name themselves


class ServiceStand:
    """The process. ``ups`` are the messages that came from it, ``raw`` all bytes of its stdout, ``spoken`` of its
    stderr."""

    def __init__(self, page=PAGE, policy=POLICY, tokens=TOKENS, boards=(), host="127.0.0.1", port=0, opens=True,
                 stdout=subprocess.PIPE, broker="", version="0.0"):  # fmt: skip
        self.tokens = tokens
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tocsin.service"],
            stdin=subprocess.PIPE, stdout=stdout, stderr=subprocess.PIPE,
        )  # fmt: skip
        self.ups = []
        self.raw = b""
        self.spoken = b""
        # A line each, as of so many peers: no two answers share one.
        self.http = httpx.Client(timeout=WITHIN_S, limits=httpx.Limits(max_keepalive_connections=0), trust_env=False)
        self.lines = []                    # of peers, closed at the end whatever a test came to
        self.answers = None                # called with each Wish and Marked; what it returns is sent down
        self._news = threading.Condition()
        self._down = threading.Lock()
        self._threads = [
            threading.Thread(target=self._read, daemon=True),
            threading.Thread(target=self._listen, daemon=True),
        ]
        for thread in self._threads:
            thread.start()
        self.address = ""
        if opens:
            self.down(
                Open(
                    host=host, port=port, hosts=(host,), tokens=tokens, page=page, policy=policy, version=version,
                    boards=tuple(boards), broker=broker,
                )
            )  # fmt: skip
            self.address = self.wait_for(Opened).address

    @property
    def port(self):
        return httpx.URL(self.address).port

    def down(self, message):
        """Send a message to the service."""
        with self._down, contextlib.suppress(BrokenPipeError, ValueError):
            self.process.stdin.write(messages.encode(message))
            self.process.stdin.flush()

    def records(self, run, *records):
        """Send records of a run, structs or bytes."""
        for record in records:
            data = record if isinstance(record, bytes) else msgspec.json.encode(record)
            self.down(Record(run=run, record=msgspec.Raw(data)))

    def wait_for_records(self, count):
        """Wait until the service knows so many records of its run."""
        self.wait_until(lambda: len(self.get("/api/1/run", "steer").json()["records"]) == count)

    def wait_for(self, kind, fits=lambda message: True, after=0):
        """Return the first message of a kind that fits, from the place ``after`` in ``ups``; wait until it is there."""
        end_s = time.monotonic() + WITHIN_S
        with self._news:
            while True:
                for message in self.ups[after:]:
                    if isinstance(message, kind) and fits(message):
                        return message
                assert self._news.wait(end_s - time.monotonic()), (kind, self.ups[-5:], self.spoken)

    def wait_until(self, holds):
        """Wait until something holds, looking after each message that comes up."""
        end_s = time.monotonic() + WITHIN_S
        while not holds():
            with self._news:
                self._news.wait(0.05)
            assert time.monotonic() < end_s, (self.ups[-5:], self.spoken)

    def headers(self, right="watch", board="", token=None):
        token = getattr(self.tokens, right) if token is None else token
        return {"Authorization": f"Bearer {token}"} | ({"Tocsin-Board": board} if board else {})

    def get(self, path, right="watch", board="", token=None, **headers):
        """Return the answer to a GET, with the standing token of a right, or another one."""
        return self.http.get(self.url(path), headers=self.headers(right, board, token) | headers)

    def post(self, path, body, right="steer", board="", token=None, **headers):
        """Return the answer to a POST of JSON."""
        return self.http.post(self.url(path), json=body, headers=self.headers(right, board, token) | headers)

    def url(self, path):
        return self.address.rstrip("/") + path

    def end(self):
        """Let the conductor's pipe end; return the exit code."""
        with self._down, contextlib.suppress(OSError):
            self.process.stdin.close()
        code = self.process.wait(WITHIN_S)
        for thread in self._threads:
            thread.join(WITHIN_S)
        self.http.close()
        if self.process.stdout is not None:
            self.process.stdout.close()
        self.process.stderr.close()
        return code

    def kill(self):
        self.process.kill()

    def _read(self):
        for line in self.process.stdout or ():
            message = messages.decode_up(line)
            with self._news:
                self.raw += line
                self.ups.append(message)
                self._news.notify_all()
            if self.answers is not None and isinstance(message, messages.Wish | messages.Marked):
                reply = self.answers(message)
                if reply is not None:
                    self.down(reply)

    def _listen(self):
        for line in self.process.stderr:
            self.spoken += line


@contextlib.contextmanager
def service(**kwargs):
    """Yield a service; whatever happens, it ends, and it has said nothing on stderr."""
    stand = ServiceStand(**kwargs)
    try:
        yield stand
        assert stand.end() == 0
        assert stand.spoken == b"", stand.spoken.decode()
    finally:
        for line in stand.lines:
            line.close()
        if stand.process.poll() is None:
            stand.kill()
            stand.end()
