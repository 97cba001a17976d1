"""Publish the run to a broker (MQTT 5, an OASIS standard) for whoever follows it there; only questions flow back.

``state`` and ``online`` are retained, so that who comes later knows them; ``online`` is also the last will. ``keeper``
is a random word of whose field it is: the keeper that came last, and one that came before then leaves. Who asks
for ``clock`` or ``run`` names a topic for the answer and what tells answers apart, as the standard's own request and
response do (4.10). Who may read all that, the broker says: it is given nothing that people wrote.
"""

import os
import secrets
from collections.abc import Callable
from typing import Any

import msgspec
from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from tocsin import monotime
from tocsin.readable import utf8_json
from tocsin.service.bodies import ClockReading, RunSoFar
from tocsin.service.broker_address import PASSWORD, BrokerAddress
from tocsin.service.messages import Published
from tocsin.translation import tr
from tocsin.units import NS_PER_S

KEEPALIVE_S = 5                        # the will is published after half as long again (MQTT 5, 3.1.2.10)
MOST_UNSENT = 500                      # while the broker is away; who comes back asks for the whole run
LISTENS_NS = 5 * NS_PER_S              # who follows asks for the clock each second: silent for so long, it is gone
MOST_LISTENERS = 1000                  # whoever invents followers must not fill the memory
PAUSE_S = (1, 2)                       # before the next try, shortest and longest
STATE, RECORD, ONLINE, KEEPER, CLOCK, RUN = "state", "record", "online", "keeper", "clock", "run"


class PublishedRecord(msgspec.Struct, frozen=True, kw_only=True):
    """A record of a run as it was written, as everybody may read it."""

    run: int
    record: msgspec.Raw


class Broker:
    """The line to a broker. ``run_so_far`` is called in a thread of its own; ``tell`` whenever the line begins or ends.
    """

    def __init__(
        self, address: BrokerAddress, run_so_far: Callable[[], RunSoFar | None], tell: Callable[[Published], None]
    ) -> None:
        self._address = address
        self._run_so_far = run_so_far
        self._tell = tell
        self._state = b""
        self._told: Published | None = None
        self._let_in = False                       # whether the broker has let this laptop in, and the line stands
        self._listeners: dict[str, int] = {}       # when a follower, by its topic for answers, asked last
        self._name = secrets.token_hex(8).encode()
        self._client = client_of(address, f"tocsin-{self._name.decode()}")
        self._client.will_set(address.topic(ONLINE), b"false", qos=1, retain=True)
        self._client.on_connect = self._on_connect
        self._client.on_connect_fail = lambda client, data: self._say(Published(why=tr("nobody answers there")))
        self._client.on_disconnect = self._on_disconnect
        self._client.on_message = self._on_message

    def start(self) -> None:
        """Begin to connect, and go on with that until the end."""
        self._client.connect_async(self._address.host, self._address.port, KEEPALIVE_S, clean_start=True)
        self._client.loop_start()

    def listeners(self, now_ns: int) -> int:
        """Return how many follow by the broker: those who asked for the clock within the last seconds."""
        return sum(now_ns - at_ns < LISTENS_NS for at_ns in list(self._listeners.values()))

    def state(self, state: bytes) -> None:
        """Publish the newest state."""
        self._state = state
        if self._client.is_connected():
            self._client.publish(self._address.topic(STATE), state, qos=1, retain=True)

    def record(self, run: int, record: bytes) -> None:
        """Publish a record of a run."""
        if self._client.is_connected():
            published = PublishedRecord(run=run, record=msgspec.Raw(record))
            self._client.publish(self._address.topic(RECORD), utf8_json(published), qos=1)

    def end(self) -> None:
        """Say that nobody is here any more, and leave."""
        if self._client.is_connected():
            self._client.publish(self._address.topic(ONLINE), b"false", qos=1, retain=True).wait_for_publish(0.5)
        self._client.disconnect()
        self._client.loop_stop()

    # -- in the thread of the client

    def _on_connect(
        self, client: Client, data: Any, flags: ConnectFlags, code: ReasonCode, properties: Properties | None
    ) -> None:
        if code.is_failure:
            self._say(Published(why=refused_text(code)))
            return
        self._let_in = True
        # First the word, then to listen: what is heard of it then is one's own, or of somebody who came later.
        client.publish(self._address.topic(KEEPER), self._name, qos=1, retain=True)
        topic = self._address.topic
        client.subscribe([(topic(CLOCK), 0), (topic(RUN), 1), (topic(KEEPER), 1)])
        client.publish(self._address.topic(ONLINE), b"true", qos=1, retain=True)
        if self._state:
            client.publish(self._address.topic(STATE), self._state, qos=1, retain=True)
        self._say(Published(place=self._address.place))

    def _on_disconnect(
        self, client: Client, data: Any, flags: DisconnectFlags, code: ReasonCode, properties: Properties | None
    ) -> None:
        was_in, self._let_in = self._let_in, False
        if was_in and code.is_failure:     # who is not let in has no line that could be cut
            self._say(Published(why=tr("the line to it is cut")))

    def _on_message(self, client: Client, data: Any, message: MQTTMessage) -> None:
        received_ns = monotime.now_ns()
        if message.topic == self._address.topic(KEEPER):
            if message.payload != self._name:
                self._say(Published(why=tr("another keeper has taken this field: give each match a field of its own")))
                client.disconnect()        # two that tell of one field confuse everybody
            return
        asked = message.properties
        topic = getattr(asked, "ResponseTopic", "")
        if not topic or not str(topic).startswith(self._address.topic("")):
            return                         # an answer elsewhere is a letter in a stranger's name
        answer = answer_to(getattr(asked, "CorrelationData", None))
        if message.topic == self._address.topic(CLOCK):
            self._note_listener(str(topic), received_ns)
            body = utf8_json(ClockReading(received_ns=received_ns, sent_ns=monotime.now_ns()))
            client.publish(topic, body, qos=0, properties=answer)
        elif (run := self._run_so_far()) is not None:
            client.publish(topic, utf8_json(run), qos=1, properties=answer)

    def _note_listener(self, topic: str, now_ns: int) -> None:
        if topic not in self._listeners and len(self._listeners) >= MOST_LISTENERS:
            kept = [(one, at_ns) for one, at_ns in self._listeners.items() if now_ns - at_ns < LISTENS_NS]
            self._listeners = dict(kept[1:])
        self._listeners[topic] = now_ns

    def _say(self, published: Published) -> None:
        if published != self._told:
            self._told = published
            self._tell(published)


def client_of(address: BrokerAddress, client_id: str) -> Client:
    """Return a client that talks to a broker as the address says; it is not connected."""
    client = Client(CallbackAPIVersion.VERSION2, client_id=client_id, protocol=MQTTProtocolVersion.MQTTv5)
    client.max_queued_messages_set(MOST_UNSENT)
    client.reconnect_delay_set(*PAUSE_S)
    client.suppress_exceptions = True  # what a stranger publishes must not end the line
    if address.user:
        client.username_pw_set(address.user, os.environ.get(PASSWORD))
    if address.encrypted:
        client.tls_set()                   # the system's own certificates
    return client


def answer_to(told_apart: bytes | None) -> Properties:
    """Return the properties of a message that answers another one."""
    found = Properties(PacketTypes.PUBLISH)            # type: ignore[no-untyped-call]
    if told_apart is not None:
        found.CorrelationData = told_apart
    return found


def refused_text(code: ReasonCode) -> str:
    """Return why a broker lets nobody in, in words."""
    if "password" in str(code).lower() or "authorized" in str(code).lower():
        return tr("it does not let this laptop in: user in the address, password in {name}", name=PASSWORD)
    return tr("it refuses this laptop: {reason}", reason=str(code))
