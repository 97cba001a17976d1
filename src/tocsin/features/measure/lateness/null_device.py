"""Stand in for a strip: a port of our own, for a laptop that has no device to be timed."""

import contextlib
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from tocsin.model.rig import Light

_CHUNK = 4096


@contextmanager
def strip() -> Iterator[Light]:
    """Yield a strip whose bytes are read and thrown away; a worker can open it any number of times."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        threading.Thread(target=_serve, args=(server,), daemon=True).start()
        port: int = server.getsockname()[1]
        yield Light(port=f"socket://127.0.0.1:{port}", leds=8)


def _serve(server: socket.socket) -> None:
    with contextlib.suppress(OSError):         # closed: nobody needs the strip any more
        while True:
            taken, _ = server.accept()
            threading.Thread(target=_swallow, args=(taken,), daemon=True).start()


def _swallow(taken: socket.socket) -> None:
    with taken, contextlib.suppress(OSError):
        while taken.recv(_CHUNK):
            pass
