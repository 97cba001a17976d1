"""Talk to a keeper by a broker (MQTT 5): what HTTP asks, by the standard's own request and response."""

import secrets
import sys
import threading
from collections import deque
from collections.abc import Callable
from typing import Any, cast

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from tocsin import monotime
from tocsin.features.follow.heard import NO_ANSWER, KeeperName, RecordLine, Refusal, RefusedError, as_kind, run_of
from tocsin.features.follow.line import ANSWER_S, FIRST, Line
from tocsin.model.clock.exchange import Exchange
from tocsin.service.bodies import ClockReading, State
from tocsin.service.broker import (
    CLOCK,
    KEEPALIVE_S,
    KEEPER,
    ONLINE,
    RECORD,
    RUN,
    STATE,
    PublishedRecord,
    client_of,
    refused_text,
)
from tocsin.service.broker_address import BrokerAddress
from tocsin.translation import tr

_MOST_NEWEST = 100
_LONGEST = 4 << 20                     # of one message; a run with a full timeline has some 100,000 bytes


class BrokerLine(Line):
    """The line to the keeper of a field. A state that the broker kept says nothing of whether the keeper is there."""

    def __init__(self, address: BrokerAddress, wake: Callable[[], None] = lambda: None) -> None:
        super().__init__(address.place, wake)
        self._address = address
        name = secrets.token_hex(8)
        self._answers = address.topic(f"answers/{name}")
        self._run: int | None = None               # the number of the newest run that was fetched
        self._newest: deque[RecordLine] = deque(maxlen=_MOST_NEWEST)
        self._asked = 0                            # the newest exchange; what answers an older one comes too late
        self._sent_ns = 0
        self._answered = threading.Event()
        self._client = client_of(address, f"tocsin-{name}")
        self._client.on_connect = self._on_connect
        self._client.on_connect_fail = self._on_connect_fail
        self._client.on_disconnect = self._on_disconnect
        self._client.on_message = self._on_message
        self._clock = threading.Thread(target=self._exchange, name="keeper's clock", daemon=True)

    def start(self) -> None:
        """Begin to talk."""
        self._client.connect_async(self._address.host, self._address.port, KEEPALIVE_S, clean_start=True)
        self._client.loop_start()
        self._clock.start()

    def close(self) -> None:
        """End."""
        super().close()
        self._client.disconnect()
        self._client.loop_stop()

    def fetch_run(self) -> None:
        """Have the whole run fetched: records are missing."""
        self._ask(RUN, b"run", qos=1)

    def _exchange(self) -> None:
        quick = FIRST
        while not self._closed.is_set():
            self._anew.clear()
            self._answered.clear()
            self._asked += 1
            self._sent_ns = monotime.now_ns()
            if self._ask(CLOCK, str(self._asked).encode(), qos=0):
                self._answered.wait(ANSWER_S)
            quick = self._pause(quick - 1)

    def _ask(self, what: str, told_apart: bytes, qos: int) -> bool:
        """Ask the keeper; return whether there is a line to do so."""
        if not self._client.is_connected():
            return False
        question = Properties(PacketTypes.PUBLISH)     # type: ignore[no-untyped-call]
        question.ResponseTopic = self._answers
        question.CorrelationData = told_apart
        self._client.publish(self._address.topic(what), b"", qos=qos, properties=question)
        return True

    # -- in the thread of the client

    def _on_connect(
        self, client: Client, data: Any, flags: ConnectFlags, code: ReasonCode, properties: Properties | None
    ) -> None:
        if code.is_failure:
            why = tr("the broker at {place}: {why}", place=self._address.place, why=refused_text(code))
            self._put(Refusal(why, tr("ask whoever runs the broker")))
            return
        self.connected, self.failure = True, None
        # First its stream, and the whole run then: so nothing falls between the two.
        topic = self._address.topic
        wanted = [topic(KEEPER), topic(RECORD), topic(STATE), topic(ONLINE), self._answers]
        client.subscribe([(one, 1) for one in wanted])
        self.fetch_run()
        self._anew.set()

    def _on_connect_fail(self, client: Client, data: Any) -> None:
        self.failure = cast(Exception, sys.exc_info()[1])      # it is called where that was caught

    def _on_disconnect(
        self, client: Client, data: Any, flags: DisconnectFlags, code: ReasonCode, properties: Properties | None
    ) -> None:
        self.connected = False
        self.wake()

    def _on_message(self, client: Client, data: Any, message: MQTTMessage) -> None:
        got_ns = monotime.now_ns()
        if len(message.payload) > _LONGEST:
            return
        try:
            self._hear(message, got_ns)
        except RefusedError as refused:
            self._put(Refusal(str(refused), refused.hint))
        except NO_ANSWER:
            return                                     # no keeper said that
        if not message.retain:
            self.heard_ns = got_ns

    def _hear(self, message: MQTTMessage, got_ns: int) -> None:
        payload = bytes(message.payload)
        if message.topic == self._address.topic(KEEPER):
            self._put(KeeperName(payload))
        elif message.topic == self._address.topic(RECORD):
            found = as_kind(payload, PublishedRecord)
            self._newest.append(RecordLine(found.run, bytes(found.record)))
            self._put(self._newest[-1])
        elif message.topic == self._address.topic(STATE):
            state = as_kind(payload, State)
            if state.run != self._run:
                self.fetch_run()
            self._put(state)
        elif message.topic == self._address.topic(ONLINE):
            if payload == b"true":                     # it may have written what nobody heard, while it was cut off
                self.fetch_run()
        elif (told_apart := getattr(message.properties, "CorrelationData", b"")) == b"run":
            run = run_of(payload)
            self._run = run.run
            self._put(run)
            for line in self._newest:          # what was written as the run was told may have come before it
                if line.run == run.run:
                    self._put(line)
        elif told_apart == str(self._asked).encode():
            reading = as_kind(payload, ClockReading)
            self._put(
                Exchange(
                    sent_ns=self._sent_ns, received_ns=reading.received_ns, answered_ns=reading.sent_ns, got_ns=got_ns
                )
            )
            self._answered.set()
