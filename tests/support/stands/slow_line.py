"""A line between two laptops on loopback: delays of its own each way, and cut like a dead Wi-Fi, without a word.

A TCP proxy in a thread: what comes in goes on after its delay, in order. While ``cut`` nothing goes on and nothing is
closed; new connections are taken and hear nothing.
"""

import asyncio
import contextlib
import random
import threading
from collections.abc import Callable

Delay = Callable[[], float]


def steady(s: float) -> Delay:
    """Return a delay that is always the same."""
    return lambda: s


def jittery(least_s: float, mean_s: float, seed: int) -> Delay:
    """Return a delay of at least so much, and an exponential one beside it, as radio has it."""
    rng = random.Random(seed)
    return lambda: least_s + rng.expovariate(1 / mean_s)


class SlowLine:
    """Listens at ``port`` of 127.0.0.1 and goes on to a port there, with delays ``out`` and ``back`` in seconds."""

    def __init__(self, to_port: int, out: Delay | None = None, back: Delay | None = None) -> None:
        self.out, self.back = out or steady(0), back or steady(0)
        self._to_port = to_port
        self._loop = asyncio.new_event_loop()
        self._whole, self._closed = asyncio.Event(), asyncio.Event()
        self._ready = threading.Event()
        self._tasks: set[asyncio.Task[None]] = set()
        self._writers: set[asyncio.StreamWriter] = set()
        self.port = 0
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()
        assert self._ready.wait(10)

    def cut(self, *, is_cut: bool = True) -> None:
        """Cut the line, or mend it."""
        self._loop.call_soon_threadsafe(self._whole.clear if is_cut else self._whole.set)

    def close(self) -> None:
        """Close the line for good."""
        self._loop.call_soon_threadsafe(self._closed.set)
        self._thread.join(10)

    def _run(self) -> None:
        with asyncio.Runner(loop_factory=lambda: self._loop) as runner:
            runner.run(self._serve())

    async def _serve(self) -> None:
        self._whole.set()
        server = await asyncio.start_server(self._connected, "127.0.0.1", 0)
        self.port = server.sockets[0].getsockname()[1]
        self._ready.set()
        await self._closed.wait()
        server.close()
        for writer in list(self._writers):
            writer.close()

    async def _connected(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._writers.add(writer)
        await self._whole.wait()
        try:
            far_reader, far_writer = await asyncio.open_connection("127.0.0.1", self._to_port)
        except OSError:
            writer.close()
            return
        self._writers.add(far_writer)
        await asyncio.gather(
            self._carry(reader, far_writer, lambda: self.out()), self._carry(far_reader, writer, lambda: self.back())
        )

    async def _carry(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, delay: Delay) -> None:
        """Let bytes go on, each piece its delay after it came, none before the one ahead of it."""
        waiting: asyncio.Queue[tuple[float, bytes]] = asyncio.Queue()

        async def take() -> None:
            piece = b"-"
            while piece:
                with contextlib.suppress(OSError):
                    piece = b""
                    piece = await reader.read(1 << 16)
                await waiting.put((self._loop.time() + delay(), piece))

        taking = self._loop.create_task(take())
        self._tasks.add(taking)
        piece = b"-"
        while piece:
            due_s, piece = await waiting.get()
            await asyncio.sleep(due_s - self._loop.time())
            await self._whole.wait()
            if not writer.is_closing():        # else whoever hung up while the line was cut
                with contextlib.suppress(OSError):
                    writer.write(piece)
                    await writer.drain()
        self._tasks.discard(taking)
        self._writers.discard(writer)
        with contextlib.suppress(OSError):
            writer.close()
