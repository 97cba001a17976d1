"""Whom a laptop may follow where, and what it says while nobody is heard."""

import socket
import ssl
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer

import msgspec
import pytest

from tests.support.service.broker_stand import mosquitto
from tests.support.stands.stand import wait_for
from tocsin.errors import UsageError
from tocsin.features.follow.address import address_of
from tocsin.features.follow.broker_line import BrokerLine
from tocsin.features.follow.http_line import HttpLine
from tocsin.features.follow.run import demand_no_robot, follow
from tocsin.features.follow.unheard import lines_of
from tocsin.model.rig import BoardPlace, Rig
from tocsin.runner.options import RunOptions
from tocsin.service.broker_address import broker_of

ROBOT = Rig(name="Robot")
KEEPER = address_of("10.0.0.5#t=abc")


# No name has a label longer than 63 characters (RFC 1035, 2.3.4): nobody is asked for it, and nobody is reached.
UNKNOWN = f"{'x' * 64}.invalid"


@pytest.mark.parametrize("address", [address_of(f"{UNKNOWN}#t=abc"), broker_of(f"mqtt://{UNKNOWN}/blue")])
def test_beside_a_robot_nobody_is_followed_over_its_network(address, tmp_path):
    rig = tmp_path / "rig.toml"
    rig.write_text('format = "tocsin-rig/1"\nname = "Robot"\n', "utf-8")
    with pytest.raises(UsageError, match="drives a robot, or may: it follows nobody") as told:
        follow(address, RunOptions(rig=str(rig)), print, json_output=False)
    assert "beside_robot = true" in told.value.hint


@pytest.mark.parametrize("host", ["10.0.0.5", "fe80::1", "their_laptop"])
def test_beside_a_robot_no_other_laptop_is_reached(host):
    with pytest.raises(UsageError, match="drives a robot"):
        demand_no_robot(host, ROBOT)


@pytest.mark.parametrize("host", ["127.0.0.1", "::1", "localhost"])
def test_on_this_laptop_a_keeper_is_followed_beside_a_robot_too(host):
    demand_no_robot(host, ROBOT)


def test_a_rig_may_say_that_no_robot_is_in_this_network():
    demand_no_robot("10.0.0.5", msgspec.structs.replace(ROBOT, board=BoardPlace(beside_robot=True)))
    demand_no_robot("10.0.0.5", msgspec.structs.replace(ROBOT, drives_robot=False))


def told(address, line):
    return "\n".join(lines_of(address, line))


def tried(line):
    """Return a line once its first try has come to nothing."""
    line.start()
    wait_for(lambda: line.failure is not None, 60)
    line.close()
    return line


def test_a_name_that_does_not_exist_is_told_apart_from_nobody_answering():
    unknown = address_of(f"http://{UNKNOWN}/#t=abc")
    assert "no such name" in told(unknown, tried(HttpLine(unknown)))
    nobody = address_of(f"127.0.0.1:{_closed_port()}#t=abc")
    said = told(nobody, tried(HttpLine(nobody)))
    assert "Nobody answers at 127.0.0.1" in said
    assert "--board lan" in said
    line = HttpLine(KEEPER)
    line.failure = socket.gaierror(socket.EAI_NONAME, "Name or service not known")
    for address in (KEEPER, broker_of("mqtt://club/blue")):
        assert f"knows no '{address.host}': no such name" in told(address, line)


class Other(BaseHTTPRequestHandler):
    """A web server that is none of ours: it knows nothing of what is asked (404), and says so to nobody."""

    def do_GET(self):
        self.send_error(404)

    do_POST = do_GET

    def log_message(self, *what):
        pass


def test_a_web_server_of_another_kind_is_told_from_nobody():
    with HTTPServer(("127.0.0.1", 0), Other) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        address = address_of(f"127.0.0.1:{server.server_address[1]}#t=abc")
        said = told(address, tried(HttpLine(address)))
        server.shutdown()
    assert said.startswith(f"Something answers at {address.place}, but it is no match of Tocsin.")
    assert "Nobody" not in said


@pytest.mark.devices
def test_a_broker_behind_http_is_told_from_nobody(tmp_path):
    with mosquitto(tmp_path) as broker:
        address = address_of(f"127.0.0.1:{broker.port}#t=abc")
        said = told(address, tried(HttpLine(address)))
    assert said.startswith(f"Something answers at {address.place}, but it is no match of Tocsin.")
    assert "mqtt://" in said


@pytest.mark.parametrize("typed", ["their_laptop#t=abc", "mqtt://their_laptop/blue"])
def test_a_name_that_is_still_looked_for_may_be_misspelt(typed):
    address = broker_of(typed) if typed.startswith("mqtt") else address_of(typed)
    assert "'their_laptop' is not found yet" in told(address, HttpLine(KEEPER))
    assert "not found yet" not in told(KEEPER, HttpLine(KEEPER))


def test_without_a_broker_it_is_said_which_and_for_which_field():
    address = broker_of(f"mqtt://127.0.0.1:{_closed_port()}/blue")
    said = told(address, tried(BrokerLine(address)))
    assert f"No broker answers at {address.server}, for the field blue" in said
    assert f"`--board {address.text}`" in said
    assert "--board lan" not in said
    line = HttpLine(KEEPER)
    line.failure = ssl.SSLCertVerificationError()
    assert "certificate" in told(broker_of("mqtts://10.0.0.9/blue"), line)


@pytest.mark.devices
def test_a_broker_without_a_keeper_in_that_field_is_told_from_none_and_from_one_that_does_not_encrypt(tmp_path):
    with mosquitto(tmp_path) as broker:
        address = broker_of(broker.url("blue"))
        line = BrokerLine(address)
        line.start()
        wait_for(lambda: line.connected, 60)
        said = told(address, line)
        line.close()
        assert f"The broker at {address.server} answers, but no keeper is heard in the field blue" in said
        assert f"`--board {address.text}`" in said
        assert "spelt alike" in said
        line = HttpLine(KEEPER)                    # as its library leaves a socket open then, which no test may
        line.failure = ssl.SSLEOFError()
        assert "Is that its encrypted port?" in told(broker_of(broker.url("blue").replace("mqtt:", "mqtts:")), line)


def _closed_port():
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]
