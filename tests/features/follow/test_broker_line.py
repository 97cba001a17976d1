"""A follower by a broker that is not ours: the same things are heard as over HTTP, and cut lines come back."""

import threading
import time

import pytest

from tests.support.service.broker_stand import mosquitto
from tests.support.service.service_stand import WITHIN_S, ServiceStand, service
from tests.support.service.simulated_run import SimulatedRun
from tocsin import __version__, monotime
from tocsin.features.follow.broker_line import BrokerLine
from tocsin.features.follow.keeper import Keeper
from tocsin.service.broker_address import broker_of
from tocsin.service.messages import Published

pytestmark = pytest.mark.devices
FIELDS, FOLLOWERS = 4, 20


class Heard:
    """A line, and the keeper as it is known by it."""

    def __init__(self, url):
        self.bell = threading.Event()
        address = broker_of(url)
        self.line, self.keeper = BrokerLine(address, self.bell.set), Keeper(address.place)
        self.line.start()

    def until(self, holds):
        end_s = time.monotonic() + WITHIN_S
        while not holds(self.keeper):
            self.bell.wait(0.1)
            self.bell.clear()
            now_ns = monotime.now_ns()
            self.keeper.take(self.line.take(), now_ns)
            if self.keeper.wants_run(now_ns):
                self.line.fetch_run()
            assert time.monotonic() < end_s, (self.keeper.run, self.keeper.refusal)
        return self.keeper

    def offset(self):
        return self.until(lambda keeper: keeper.settled and keeper.offset(monotime.now_ns())).offset(monotime.now_ns())


def begun(keeper):
    return keeper.run is not None and keeper.run.begun


def test_a_run_is_heard_from_its_begin_and_its_clock_is_known_within_its_bound(tmp_path):
    with (
        mosquitto(tmp_path) as broker,
        service(broker=broker.url("blue"), version=__version__) as stand, SimulatedRun(stand, tmp_path) as run,
    ):
        follower = Heard(broker.url("blue"))
        assert follower.until(lambda keeper: keeper.run and keeper.state).state.view.title == "Standby"
        run.do("start")
        keeper = follower.until(begun)
        found = follower.offset()
        assert abs(found.offset_ns) <= found.error_ns          # one machine has one clock: the truth is 0
        match = next(origin for origin in keeper.past(found).origins if origin.anchor == "match")
        truth = next(origin for origin in run.stage.match.lifecycle.origins if origin.anchor == "match")
        assert abs(match.origin_ns - truth.origin_ns) <= found.error_ns
        follower.line.close()


def test_a_broker_that_dies_and_comes_back_brings_what_was_missed(tmp_path):
    with (
        mosquitto(tmp_path) as broker,
        service(broker=broker.url("blue"), version=__version__) as stand, SimulatedRun(stand, tmp_path) as run,
    ):
        follower = Heard(broker.url("blue"))
        follower.until(lambda keeper: keeper.run and keeper.state)
        broker.kill()
        run.do("start")                    # nobody hears it
        assert not follower.keeper.run.begun
        broker.start()
        assert follower.until(begun)
        follower.line.close()


def test_another_version_is_refused_with_both(tmp_path):
    with (
        mosquitto(tmp_path) as broker,
        service(broker=broker.url("blue"), version="9.9") as stand, SimulatedRun(stand, tmp_path),
    ):
        stand.wait_for(Published)
        follower = Heard(broker.url("blue"))
        refusal = follower.until(lambda keeper: keeper.refusal).refusal
        assert refusal.why == f"the keeper has Tocsin 9.9, this laptop has {__version__}"
        follower.line.close()


def test_what_strangers_publish_is_no_keepers_word(tmp_path):
    with (
        mosquitto(tmp_path) as broker,
        service(broker=broker.url("blue"), version=__version__) as stand, SimulatedRun(stand, tmp_path),
    ):
        follower = Heard(broker.url("blue"))
        follower.until(lambda keeper: keeper.run and keeper.state)
        for topic in ("record", "state"):
            for text in ("", "{}", "[" * 5000, '{"run":1}', "\x00", "9" * 4000):
                broker.say(f"tocsin/1/blue/{topic}", text)
        assert follower.offset()
        assert follower.keeper.refusal is None
        follower.line.close()


def test_fields_and_followers_by_the_dozen(tmp_path):
    """Four fields with twenty followers each, on one broker: everybody hears the own field's match, and no other."""
    with mosquitto(tmp_path) as broker:
        fields = [f"field_{no}" for no in range(FIELDS)]
        stands = [ServiceStand(broker=broker.url(field), version=__version__) for field in fields]
        runs = [
            SimulatedRun(stand, tmp_path / field, run=100 + no)
            for no, (stand, field) in enumerate(zip(stands, fields, strict=True))
        ]
        for run in runs:
            run.__enter__()
        followers = [(no, Heard(broker.url(field))) for no, field in enumerate(fields) for _ in range(FOLLOWERS)]
        for _, follower in followers:
            follower.until(lambda keeper: keeper.run and keeper.state)
        for run in runs:
            run.do("start")
        for no, follower in followers:
            assert follower.until(begun).run.number == 100 + no
            found = follower.offset()
            assert abs(found.offset_ns) <= found.error_ns
        for _, follower in followers:
            follower.line.close()
        for run, stand in zip(runs, stands, strict=True):
            run.__exit__()
            assert stand.end() == 0
