"""Where boards are served: one address of this laptop that a phone could reach, and never beside a robot unasked."""

import socket
from collections import namedtuple

import msgspec
import psutil
import pytest

from tocsin.errors import UsageError
from tocsin.model.rig import BoardPlace, Rig
from tocsin.runner.boards.addresses import HERE, LAN, addresses, host_of, is_local, names_of, taken_note, wanted_of
from tocsin.runner.boards.opening import opening_of

Found = namedtuple("Found", "family address")
Is = namedtuple("Is", "isup")
NETWORKS = {
    "lo": ("127.0.0.1", True), "docker0": ("172.17.0.1", True), "wlan0": ("192.168.4.7", True),
    "eth0": ("10.0.0.5", True), "eth1": ("169.254.9.9", True), "usb0": ("100.64.0.9", True),
    "eth2": ("10.9.9.9", False),
}  # fmt: skip
BENCH = Rig(name="Bench", drives_robot=False)
ROBOT = Rig(name="Robot")


@pytest.fixture
def networks(monkeypatch):
    """Let the system have these networks; ``networks.pop`` takes one away."""
    found = dict(NETWORKS)

    def of(text):
        return [Found(socket.AF_INET, text), Found(socket.AF_INET6, "fe80::1%x")]

    monkeypatch.setattr(psutil, "net_if_addrs", lambda: {name: of(text) for name, (text, _) in found.items()})
    monkeypatch.setattr(psutil, "net_if_stats", lambda: {name: Is(up) for name, (_, up) in found.items()})
    return found


def test_those_of_real_private_networks_come_first_and_no_phone_is_in_the_others(networks):
    assert [one.text for one in addresses()] == ["10.0.0.5", "192.168.4.7", "100.64.0.9", "172.17.0.1"]


def test_alone_it_is_this_laptop_and_in_the_network_the_first(networks):
    assert host_of(HERE) == "127.0.0.1"
    assert host_of(LAN) == "10.0.0.5"
    assert host_of("192.168.4.7") == "192.168.4.7"
    assert "192.168.4.7 (wlan0)" in taken_note("10.0.0.5")


def test_without_a_network_there_is_no_address(networks):
    networks.clear()
    assert host_of(LAN) == ""
    assert taken_note("") == ""


@pytest.mark.parametrize(
    ("board", "why"),
    [("0.0.0.0", "every network at once"), ("::", "every network at once"), ("224.0.0.1", "every network at once"),
     ("10.0.0.77", "no such address"), ("robot", "is no address"), ("10.0.0", "is no address")],
)  # fmt: skip
def test_what_is_no_address_of_this_laptop_is_refused_with_those_that_are(networks, board, why):
    with pytest.raises(UsageError) as told:
        host_of(board)
    assert why in str(told.value)
    assert "10.0.0.5 (eth0)" in told.value.hint


@pytest.mark.parametrize(
    ("board", "why", "helps"),
    [
        ("wifi,lan", "'wifi' is no address", "10.0.0.5 (eth0)"),
        ("lan,10.0.0.5", "one place to listen at", "10.0.0.5 (eth0)"),
        ("127.0.0.1:8737", "an address has no port here", "`--board 127.0.0.1`; the port stands in your rig: [board]"),
        ("[::1]:9000,mqtt://10.0.0.9/blue", "an address has no port here", "port = 9000"),
    ],
)
def test_what_an_option_says_wrong_is_told_by_its_part(networks, board, why, helps):
    with pytest.raises(UsageError) as told:
        wanted_of(board)
    assert why in str(told.value)
    assert helps in told.value.hint


def test_browsers_call_it_by_few_names():
    assert names_of("127.0.0.1") == ("127.0.0.1", "localhost")
    assert names_of("10.0.0.5") == ("10.0.0.5",)
    assert is_local("::1")
    assert not is_local("10.0.0.5")


def opened(board, rig, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    said = []
    return opening_of(board, rig, said.append), said


def test_beside_a_robot_phones_are_let_in_only_where_somebody_made_sure(networks, tmp_path, monkeypatch):
    for board in (LAN, "192.168.4.7"):
        with pytest.raises(UsageError) as told:
            opened(board, ROBOT, tmp_path, monkeypatch)
        assert "robot" in str(told.value)
        assert "beside_robot = true" in told.value.hint
    with pytest.raises(UsageError, match="nothing is published"):
        opened("mqtt://10.0.0.9/blue", ROBOT, tmp_path, monkeypatch)
    assert opened(HERE, ROBOT, tmp_path, monkeypatch)[0].open.host == "127.0.0.1"
    sure = msgspec.structs.replace(ROBOT, board=BoardPlace(beside_robot=True))
    assert opened(LAN, sure, tmp_path, monkeypatch)[0].open.host == "10.0.0.5"


def test_without_a_robot_it_opens_and_says_which_address_it_took(networks, tmp_path, monkeypatch):
    opening, said = opened(LAN, BENCH, tmp_path, monkeypatch)
    assert opening.open.hosts == ("10.0.0.5",)
    assert opening.open.port == 8737
    assert "<html" in opening.open.page
    assert "default-src 'none'" in opening.open.policy
    assert len(said) == 1
    assert "--board ADDRESS" in said[0]


def test_a_port_of_the_rig_counts(networks, tmp_path, monkeypatch):
    rig = msgspec.structs.replace(BENCH, board=BoardPlace(port=9001))
    assert opened(HERE, rig, tmp_path, monkeypatch)[0].open.port == 9001


def test_without_a_network_nothing_is_served_and_it_is_said_why(networks, tmp_path, monkeypatch):
    networks.clear()
    opening, _ = opened(LAN, BENCH, tmp_path, monkeypatch)
    assert "hotspot" in opening.why_not
