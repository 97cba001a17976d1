"""Peers of a service that do what no browser does: bytes by hand, from addresses of their own."""

import contextlib
import socket
import threading
import time

import httpx

from tests.support.service.service_stand import WITHIN_S


def connected(stand, receive_buffer=None):
    """Return a socket to the service."""
    line = socket.socket(socket.AF_INET)
    if receive_buffer is not None:
        line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, receive_buffer)
    line.settimeout(WITHIN_S)
    line.connect(("127.0.0.1", stand.port))
    stand.lines.append(line)
    return line


def request(method, path, *headers, body=b"", host="127.0.0.1", version="HTTP/1.1"):
    """Return the bytes of a request with exactly these headers, beside its Host."""
    lines = [f"{method} {path} {version}", *([f"Host: {host}"] if host else []), *headers, "", ""]
    return "\r\n".join(lines).encode() + body


def said(line):
    """Return all that comes until the service closes the line."""
    parts = []
    with contextlib.suppress(ConnectionError):
        while data := line.recv(65536):
            parts.append(data)
    return b"".join(parts)


def answer(stand, sent):
    """Send bytes that ask for the line to be closed; return the status and all that came."""
    with connected(stand) as line:
        with contextlib.suppress(ConnectionError):
            line.sendall(sent)
        came = said(line)
    return int(came.split(b" ", 2)[1]) if came else 0, came


def drip(line, data, each_s=0.3):
    """Send a byte now and then until the line is closed; return whether it was closed before the end."""
    for byte in data:
        try:
            line.sendall(bytes([byte]))
        except ConnectionError:
            return True
        with contextlib.suppress(TimeoutError):
            line.settimeout(each_s)
            try:
                if line.recv(4096) == b"":
                    return True
            except ConnectionError:
                return True
    return False


def from_address(address):
    """Return a client with an address of its own on this laptop."""
    return httpx.Client(timeout=WITHIN_S, transport=httpx.HTTPTransport(local_address=address), trust_env=False)


class Reader:
    """Somebody who listens to the events in a thread, and keeps all bytes."""

    def __init__(self, stand, **headers):
        self.data = b""
        self.ended = threading.Event()
        self._line = connected(stand)
        self._line.sendall(request("GET", "/api/1/events", *(f"{name}: {text}" for name, text in headers.items())))
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self):
        with contextlib.suppress(OSError):
            while data := self._line.recv(65536):
                self.data += data
        self.ended.set()

    def wait_until(self, holds):
        end_s = time.monotonic() + WITHIN_S
        while not holds(self.stream):
            assert time.monotonic() < end_s, self.data[-500:]
            time.sleep(0.02)

    @property
    def stream(self):
        """What came, without the chunks of HTTP (RFC 9112, 7.1)."""
        _, _, rest = self.data.partition(b"\r\n\r\n")
        parts = []
        while b"\r\n" in rest:
            size, _, rest = rest.partition(b"\r\n")
            length = int(size, 16)
            if len(rest) < length + 2:
                parts.append(rest[:length])
                break
            parts.append(rest[:length])
            rest = rest[length + 2 :]
        return b"".join(parts)

    def close(self):
        self._line.close()
