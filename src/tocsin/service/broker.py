"""Publish the run to a broker (MQTT 5, an OASIS standard) for whoever follows it there; only questions flow back.

``state`` and ``online`` are retained, so that who comes later knows them; ``online`` is also the last will. ``keeper``
is a random word of whose field it is. Who comes asks first whether the keeper before is still heard, as a follower asks
for the clock: the field is taken only if it is not; one that was merely cut off then gives way, and waits in its turn.
Who asks for ``clock`` or ``run`` names a topic for the answer and what tells answers apart, as the standard's own
request and response do (4.10). Who may read all that, the broker says: it is given nothing that people wrote.
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
GONE_NS = 2 * NS_PER_S                 # so long a keeper that is said to have gone has to answer all the same
PAUSE_S = (1, 2)                       # before the next try, shortest and longest
_KEEPERS = "answers/keeper_"           # below it keepers are answered whether somebody is there
_LOOKED, _THERE = b"looked", b"there"
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
        self._holds = False                        # whether the field is this keeper's
        self._claims = False                       # whether it has said so, and not heard itself yet
        self._online = False                       # what is kept of the field: whether a keeper is there,
        self._others = b""                         # and which, if it is another one
        self._heard_ns = 0                         # when that one was heard last, or began to be asked,
        self._waits_ns = LISTENS_NS                # and how long it has to answer
        self._answers = address.topic(f"{_KEEPERS}{self._name.decode()}")
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

    def turn(self, now_ns: int) -> None:
        """Ask whether the keeper whose field this is is still there, and take the field once it is not."""
        if not self._let_in or self._holds:
            return
        if now_ns - self._heard_ns > self._waits_ns:
            self._claim()
        else:
            self._ask_whether_there()

    def state(self, state: bytes) -> None:
        """Publish the newest state."""
        self._state = state
        if self._holds:
            self._client.publish(self._address.topic(STATE), state, qos=1, retain=True)

    def record(self, run: int, record: bytes) -> None:
        """Publish a record of a run."""
        if self._holds:
            published = PublishedRecord(run=run, record=msgspec.Raw(record))
            self._client.publish(self._address.topic(RECORD), utf8_json(published), qos=1)

    def end(self) -> None:
        """Say that nobody is here any more, and leave."""
        if self._holds:
            self._holds = False
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
        self._online, self._others = False, b""
        self._heard_ns, self._waits_ns = monotime.now_ns(), LISTENS_NS
        topic = self._address.topic
        client.subscribe([(topic(KEEPER), 1), (topic(ONLINE), 1), (self._answers, 1)])
        client.subscribe([(topic(CLOCK), 0), (topic(RUN), 1)])
        client.publish(self._answers, _LOOKED, qos=1)  # comes back behind what is kept

    def _on_disconnect(
        self, client: Client, data: Any, flags: DisconnectFlags, code: ReasonCode, properties: Properties | None
    ) -> None:
        was_in, self._let_in = self._let_in, False
        self._holds = self._claims = False
        if was_in and code.is_failure:     # who is not let in has no line that could be cut
            self._say(Published(why=tr("the line to it is cut")))

    def _on_message(self, client: Client, data: Any, message: MQTTMessage) -> None:
        received_ns = monotime.now_ns()
        if message.topic == self._address.topic(KEEPER):
            self._take_keeper(bytes(message.payload))
            return
        if message.topic == self._address.topic(ONLINE):
            self._take_online(message.payload == b"true")
            return
        if message.topic == self._answers:
            self._take_answer(message.payload == _LOOKED, received_ns)
            return
        if not self._holds:
            return
        asked = message.properties
        topic = getattr(asked, "ResponseTopic", "")
        if not topic or not str(topic).startswith(self._address.topic("")):
            return                         # an answer elsewhere is a letter in a stranger's name
        answer = answer_to(getattr(asked, "CorrelationData", None))
        if message.topic == self._address.topic(CLOCK):
            if not str(topic).startswith(self._address.topic(_KEEPERS)):
                self._note_listener(str(topic), received_ns)
            body = utf8_json(ClockReading(received_ns=received_ns, sent_ns=monotime.now_ns()))
            client.publish(topic, body, qos=0, properties=answer)
        elif (run := self._run_so_far()) is not None:
            client.publish(topic, utf8_json(run), qos=1, properties=answer)

    def _take_keeper(self, name: bytes) -> None:
        if name == self._name:
            self._others = b""
            if self._claims:
                self._hold()
        elif not self._claims:                     # who claimed before is told by this keeper's own claim
            self._others, self._heard_ns = name, monotime.now_ns()
            if self._holds:                        # two that tell of one field confuse everybody
                self._holds = False
                self._say(Published(why=tr("another keeper has taken this field: give each match a field of its own")))

    def _take_online(self, online: bool) -> None:
        if self._holds and not online:             # the will of a keeper that was here before
            self._client.publish(self._address.topic(ONLINE), b"true", qos=1, retain=True)
        elif not online and self._online:
            self._heard_ns, self._waits_ns = monotime.now_ns(), GONE_NS    # perhaps it was another one's will
            self._ask_whether_there()
        elif online:
            self._waits_ns = LISTENS_NS
        self._online = online

    def _take_answer(self, is_looked: bool, now_ns: int) -> None:
        """Take what is kept as known, or the word of the keeper whose field this is."""
        if self._holds or self._claims:
            return
        if not is_looked:
            self._heard_ns = now_ns
            self._say(
                Published(
                    why=tr(
                        "another keeper is heard in this field: nothing is published from here until it has gone. Give "
                        "each match a field of its own"
                    )
                )
            )
        elif self._online and self._others:
            self._ask_whether_there()
        else:
            self._claim()

    def _ask_whether_there(self) -> None:
        question = Properties(PacketTypes.PUBLISH)     # type: ignore[no-untyped-call]
        question.ResponseTopic, question.CorrelationData = self._answers, _THERE
        self._client.publish(self._address.topic(CLOCK), b"", qos=0, properties=question)

    def _claim(self) -> None:
        """Say whose field it is from now on; it is so once that is heard."""
        self._claims = True
        self._client.publish(self._address.topic(KEEPER), self._name, qos=1, retain=True)

    def _hold(self) -> None:
        self._claims, self._holds = False, True
        self._client.publish(self._address.topic(ONLINE), b"true", qos=1, retain=True)
        if self._state:
            self._client.publish(self._address.topic(STATE), self._state, qos=1, retain=True)
        self._say(Published(place=self._address.place))

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
