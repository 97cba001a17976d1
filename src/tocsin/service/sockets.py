"""Serve HTTP within limits: few sockets, small requests, short waits. Who is slow, silent or stuck is closed."""

import socket
import sys

from tornado import gen, iostream
from tornado.http1connection import HTTP1ServerConnection
from tornado.httpserver import HTTPServer
from tornado.web import Application

MOST_SOCKETS = 100
HEADER_WITHIN_S = 10.0                 # also how long a line may lie idle between two requests
BODY_WITHIN_S = 5.0
MOST_HEADER = 8 << 10
MOST_BODY = 16 << 10
READ_AT_ONCE = 16 << 10
SEND_BUFFER = 64 << 10                 # who reads nothing is noticed by it, and costs no more than that
LOOK_S = 1.0
STUCK_AFTER = 20                       # looks at which a line was never free: its peer reads nothing
UNHEARD_MS = 10_000                    # a phone that fell asleep sends no end


class Sockets(HTTPServer):
    """The listening sockets, and all that are open. A full house lets somebody in by closing the oldest line on which
    no right token was shown, or else the oldest of those who only watch."""

    def initialize(self, application: Application) -> None:  # type: ignore[override]
        """Set the limits; tornado's own ``__init__`` takes no notice of its arguments."""
        super().initialize(
            application, idle_connection_timeout=HEADER_WITHIN_S, body_timeout=BODY_WITHIN_S,
            max_header_size=MOST_HEADER, max_body_size=MOST_BODY, chunk_size=READ_AT_ONCE,
            max_buffer_size=MOST_HEADER + MOST_BODY + 2 * READ_AT_ONCE,
        )  # fmt: skip
        self._busy: dict[iostream.IOStream, int] = {}      # all open ones, and at how many looks each was not free
        self._trusted: dict[iostream.IOStream, bool] = {}      # and whether they may do more than watch

    def trust(self, stream: iostream.IOStream, *, acts: bool) -> None:
        """Keep a line whose peer has shown a right token, whoever else comes; ``acts``: one for more than watching."""
        if stream in self._busy:
            self._trusted[stream] = acts

    def handle_stream(self, stream: iostream.IOStream, address: tuple[object, ...]) -> None:
        """Take a new line, if there is room."""
        if len(self._busy) >= MOST_SOCKETS and not self._make_room():
            stream.close()
            return
        self._busy[stream] = 0
        _tune(stream.socket)
        super().handle_stream(stream, address)

    def on_close(self, server_conn: object) -> None:
        """Forget a line that is gone."""
        super().on_close(server_conn)
        if isinstance(server_conn, HTTP1ServerConnection):
            self._forget(server_conn.stream)

    async def watch(self) -> None:
        """Close lines whose peers read nothing, for ever. Linux does so by itself, before (``UNHEARD_MS``)."""
        while True:
            await gen.sleep(LOOK_S)
            for stream, looks in list(self._busy.items()):
                self._busy[stream] = looks + 1 if stream.writing() else 0
                if looks >= STUCK_AFTER:
                    stream.close()

    def _make_room(self) -> bool:
        strangers = (stream for stream in self._busy if stream not in self._trusted)
        watchers = (stream for stream, acts in self._trusted.items() if not acts)
        oldest = next(strangers, None) or next(watchers, None)
        if oldest is not None:
            oldest.close()
            self._forget(oldest)
        return oldest is not None

    def _forget(self, stream: iostream.IOStream) -> None:
        self._busy.pop(stream, None)
        self._trusted.pop(stream, None)


def _tune(line: socket.socket) -> None:
    line.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, SEND_BUFFER)
    line.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    if sys.platform == "linux":            # elsewhere the system's own patience counts, minutes
        line.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, UNHEARD_MS)
