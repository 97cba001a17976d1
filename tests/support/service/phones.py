"""Phones that follow a run: each reads its stream, asks the clock every two seconds, comes back when the line breaks.

    python -m tests.support.service.phones STATE_FOLDER COUNT

reads the token from the state folder of a Tocsin that serves boards on this machine, and goes on until its stdin ends.
It prints a line when all are there, and at the end how many events came to all of them.
"""

import asyncio
import contextlib
import json
import os
import sys
from pathlib import Path

from tocsin.runner.boards.tokens import NAME

CLOCK_S = 2.0
PAUSE_S = 0.25


class Phones:
    """All of them in one process. ``events`` counts what came."""

    def __init__(self, state: Path, count: int) -> None:
        self.events = 0
        self._state = state
        self._count = count
        self._here = 0

    async def run(self) -> None:
        tasks = [asyncio.create_task(self._follow(no)) for no in range(self._count)]
        await asyncio.to_thread(sys.stdin.read)
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        print(self.events, flush=True)

    async def _follow(self, no: int) -> None:
        while True:
            with contextlib.suppress(OSError, ValueError, asyncio.IncompleteReadError):
                kept = json.loads((self._state / "tocsin" / NAME).read_text("utf-8"))
                await self._hear(kept["port"], kept["tokens"]["watch"], f"{no:032x}")
            await asyncio.sleep(PAUSE_S)

    async def _hear(self, port: int, token: str, board: str) -> None:
        head = f"Host: 127.0.0.1:{port}\r\nAuthorization: Bearer {token}\r\nTocsin-Board: {board}\r\n"
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        clock = asyncio.create_task(self._ask(port, head))
        try:
            writer.write(f"GET /api/1/events HTTP/1.1\r\n{head}\r\n".encode())
            if b" 200 " not in await reader.readline():
                return
            self._here += 1
            if self._here == self._count:
                print("here", flush=True)
            while line := await reader.readline():
                self.events += line.startswith(b"data:")
        finally:
            clock.cancel()
            writer.close()

    async def _ask(self, port: int, head: str) -> None:
        """Exchange clocks over a connection of its own, as a page does."""
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        try:
            while True:
                body = "Content-Type: application/json\r\nContent-Length: 2\r\n\r\n{}"
                writer.write(f"POST /api/1/clock HTTP/1.1\r\n{head}{body}".encode())
                length = 0
                while (line := await reader.readline()).strip():
                    name, _, value = line.partition(b":")
                    length = int(value) if name.lower() == b"content-length" else length
                if not line:
                    return
                await reader.readexactly(length)
                await asyncio.sleep(CLOCK_S)
        finally:
            writer.close()


if __name__ == "__main__":
    if hasattr(os, "nice"):
        os.nice(10)                        # on a real field they are other people's processors
    asyncio.run(Phones(Path(sys.argv[1]), int(sys.argv[2])).run())
