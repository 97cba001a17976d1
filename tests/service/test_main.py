"""What the process does where it cannot listen at once."""

import asyncio
import socket

from tests.support.runner.service_made import OPEN
from tocsin.service import main as service
from tocsin.service.address import Unusable
from tocsin.service.messages import Opened, decode_up


class Writer:
    """What would be written."""

    def __init__(self):
        self.said = []

    def send(self, line, *, droppable=False):
        self.said.append(decode_up(line))


def test_a_network_that_is_away_for_a_moment_is_listened_at_once_it_is_back(monkeypatch):
    """Started while the Wi-Fi is gone, boards would be away for the whole evening; why is said once."""
    tries = []

    def bound(host, port):
        tries.append((host, port))
        if len(tries) < 4:
            raise Unusable("no address of this laptop now")
        listening = socket.create_server(("127.0.0.1", 0))
        listening.setblocking(False)
        return [listening], "http://127.0.0.1:1/"

    monkeypatch.setattr(service, "bound", bound)
    monkeypatch.setattr(service, "TRY_AGAIN_S", 0.0)
    writer = Writer()

    async def opens():
        made = service.Service(writer)
        made._take(OPEN)
        async with asyncio.timeout(60):
            while not any(isinstance(message, Opened) and message.address for message in writer.said):
                await asyncio.sleep(0.01)

    loop = asyncio.new_event_loop()        # not ``run``: other tests' futures need the one that this thread has
    loop.run_until_complete(opens())
    loop.close()
    assert [message for message in writer.said if isinstance(message, Opened)] == [
        Opened("", "no address of this laptop now"), Opened("http://127.0.0.1:1/"),
    ]  # fmt: skip
    assert tries == [(OPEN.host, OPEN.port)] * 4
