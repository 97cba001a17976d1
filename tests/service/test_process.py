"""The service as a process: how it begins, where it listens, what it loads, how it ends, what it says to no log."""

import contextlib
import os
import socket
import sys

import httpx
import psutil
import pytest

from tests.support.service.service_stand import ONE, PAGE, TOKENS, TWO, ServiceStand, service
from tests.support.service.simulated_run import SimulatedRun
from tests.test_layers import HEAVY, run_child
from tocsin.service.messages import Alive, Board, Connected, Grant, Open, Opened

pytestmark = pytest.mark.devices


def opened_at(host, port=0):
    """Return what a service says that is to listen there."""
    with service(opens=False) as stand:
        stand.down(
            Open(host=host, port=port, hosts=(host,), tokens=TOKENS, page=PAGE, policy="", version="0")
        )
        return stand.wait_for(Opened)


def test_it_loads_nothing_heavy_that_it_does_not_use():
    run_child(
        "import sys, tocsin.service.main\n"
        f"found = ({HEAVY - {'asyncio', 'logging'}!r} | {{'pygame', 'serial', 'segno'}}) & set(sys.modules)\n"
        "sys.exit(f'imported: {found}' if found else 0)"
    )


@pytest.mark.skipif(sys.platform != "linux", reason="the system tells what a process has loaded")
def test_what_libraries_can_do_without_takes_no_memory():
    with service() as stand:
        loaded = [one.path for one in psutil.Process(stand.process.pid).memory_maps()]
        assert any("_ssl" in path for path in loaded), "libraries are told at all"
        assert [path for path in loaded if "curses" in path] == []


def test_it_ends_with_the_conductors_pipe_and_gives_way_to_all_others(tmp_path):
    with service() as stand, SimulatedRun(stand, tmp_path):
        stand.wait_for(Alive)
        if sys.platform != "win32":
            assert psutil.Process(stand.process.pid).nice() == psutil.Process().nice() + 5
        with stand.http.stream("GET", stand.url("/api/1/events"), headers=stand.headers()) as response:
            assert next(response.iter_bytes())
            assert stand.end() == 0, "also while somebody listens"


def test_a_taken_port_makes_it_take_another():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = other.getsockname()[1]
        found = opened_at("127.0.0.1", taken)
    assert found.why == ""
    assert httpx.URL(found.address).port != taken


def test_a_free_port_is_the_one_that_was_asked_for():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        free = other.getsockname()[1]
    assert opened_at("127.0.0.1", free).address == f"http://127.0.0.1:{free}/"


def test_after_a_kill_the_next_one_listens_at_the_same_port():
    stand = ServiceStand()
    port = stand.port
    with stand.http.stream("GET", stand.url("/api/1/events"), headers=stand.headers()) as response:
        assert next(response.iter_bytes())
        stand.kill()
        stand.end()
    assert opened_at("127.0.0.1", port).address.endswith(f":{port}/")


@pytest.mark.parametrize(
    ("host", "why"),
    [
        ("0.0.0.0", "not one address"), ("::", "not one address"), ("", "no address"), ("localhost", "no address"),
        ("192.0.2.7", "no address of this laptop"), ("evil example", "no address"), ("224.0.0.1", "not one address"),
    ],
)  # fmt: skip
def test_where_it_cannot_listen_it_says_why_in_words_and_lives_on(host, why):
    """192.0.2.0/24 is for documentation (RFC 5737): no laptop has it."""
    found = opened_at(host)
    assert found.address == ""
    assert why in found.why


def test_it_listens_at_one_address_only():
    with service() as stand:
        listening = [one for one in psutil.Process(stand.process.pid).net_connections() if one.status == "LISTEN"]
        assert [one.laddr.ip for one in listening] == ["127.0.0.1"]
        if sys.platform == "linux":
            with pytest.raises(OSError, match="refused"), socket.create_connection(("127.0.0.2", stand.port), 5):
                pass


@pytest.mark.skipif(not socket.has_ipv6, reason="needs IPv6")
def test_an_ipv6_address_is_typed_with_brackets():
    with socket.socket(socket.AF_INET6) as trial:
        try:
            trial.bind(("::1", 0))
        except OSError:
            pytest.skip("this machine has no ::1")
    with service(host="::1") as stand:
        assert stand.address.startswith("http://[::1]:")
        assert stand.get("/").text == PAGE


def test_lines_that_are_no_messages_are_told_and_the_service_goes_on():
    stand = ServiceStand()
    for line in (b"\n", b"{}\n", b"\xff\n", b"[" * 5000 + b"\n", b'{"type":"show"}\n'):
        stand.process.stdin.write(line)
    stand.process.stdin.flush()
    assert stand.get("/").status_code == 200
    assert stand.end() == 0
    assert stand.spoken.count(b"MessageError") == 5


def test_a_stdout_that_nobody_reads_holds_nobody_up():
    """The prototype printed from a handler, and stood still when its reader paused."""
    out, into = os.pipe()
    with contextlib.ExitStack() as stack:
        stack.callback(os.close, out)
        stand = ServiceStand(opens=False, stdout=into)
        os.close(into)
        with socket.socket() as other:
            other.bind(("127.0.0.1", 0))
            port = other.getsockname()[1]
        hosts = ("127.0.0.1",)
        stand.down(Open(host="127.0.0.1", port=port, hosts=hosts, tokens=TOKENS, page=PAGE, policy="", version="0"))
        while b"opened" not in os.read(out, 4096):
            pass
        stand.address = f"http://127.0.0.1:{port}/"
        for no in range(60):               # each that comes or goes is told with all others: more than a pipe holds
            headers = stand.headers(board=f"{no:032x}")
            with stand.http.stream("GET", stand.url("/api/1/events"), headers=headers) as response:
                assert next(response.iter_bytes())
        assert stand.get("/").status_code == 200
        stand.kill()
        stand.end()


def test_no_standing_token_and_no_address_of_a_request_is_ever_said(tmp_path):
    """What a service says ends in a journal; who reads that must not be able to steer. A board's own token goes up, to
    be kept for a successor."""
    with service() as stand, SimulatedRun(stand, tmp_path) as run:
        run.do("start")
        for right in ("watch", "mark", "steer"):
            stand.get(f"/api/1/state?t={getattr(TOKENS, right)}", right, board=ONE)
            stand.get("/nothing-here", right)
            stand.post("/api/1/wishes", {"id": "x"}, right)
        stand.get("/", token="\x7f")
        stand.down(Grant(secret="g" * 22, right="mark", until_ns=1 << 60))
        stand.wait_until(lambda: stand.post("/api/1/rights", {"secret": "g" * 22}, "watch", TWO).status_code == 200)
    everything = stand.raw + stand.spoken
    assert len(stand.raw) > 100
    for secret in (TOKENS.watch, TOKENS.mark, TOKENS.steer, "g" * 22, "nothing-here"):
        assert secret.encode() not in everything


def test_boards_that_are_known_keep_number_right_and_token_in_a_successor():
    board = Board(number=7, right="mark", token="t" * 22, id=ONE)
    with service(boards=[board]) as stand:
        with stand.http.stream("GET", stand.url("/api/1/events"), headers=stand.headers(token="t" * 22)) as response:
            assert next(response.iter_bytes())
            told = stand.wait_for(Connected, lambda one: one.boards and one.boards[0].here)
            assert told.boards == (Board(number=7, right="mark", token="t" * 22, here=True, id=ONE),)
        stand.wait_for(Connected, lambda one: one.boards and not one.boards[0].here)

