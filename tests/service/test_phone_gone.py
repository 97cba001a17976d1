"""A phone that is gone without a word: asleep, out of reach, its battery empty. Nothing is sent that ends its line."""

import subprocess
import sys

import pytest

from tests.support import PROJECT

ADDRESS, PHONE = "192.0.2.5", "192.0.2.9"          # kept for examples by RFC 5737
NETWORK = f"ip link set lo up && ip addr add {ADDRESS}/32 dev lo && ip addr add {PHONE}/32 dev lo"
SCRIPT = f"""
import socket, subprocess
from tests.support.service.peers import request
from tests.support.service.service_stand import ONE, TOKENS, service
from tocsin.service.messages import Connected
with service(host="{ADDRESS}") as stand:
    phone = socket.create_connection(("{ADDRESS}", stand.port), 30, source_address=("{PHONE}", 0))
    headers = (f"Authorization: Bearer {{TOKENS.watch}}", f"Tocsin-Board: {{ONE}}")
    phone.sendall(request("GET", "/api/1/events", *headers, host="{ADDRESS}"))
    stand.wait_for(Connected, lambda one: one.boards and one.boards[0].here)
    subprocess.run("ip addr del {PHONE}/32 dev lo && ip route add blackhole {PHONE}/32", shell=True, check=True)
    stand.wait_for(Connected, lambda one: one.boards and not one.boards[0].here)
    phone.close()
    print("gone")
"""


def own_network(*command):
    """Run a command in a network of its own."""
    return subprocess.run(
        ["unshare", "-rn", "sh", "-c", f'{NETWORK} && exec "$@"', "sh", *command],
        cwd=PROJECT, capture_output=True, text=True, timeout=200, check=False,
    )  # fmt: skip


def namespaces():
    try:
        return sys.platform == "linux" and own_network("true").returncode == 0
    except OSError:
        return False


@pytest.mark.devices
@pytest.mark.skipif(not namespaces(), reason="no network namespace of our own")
def test_its_board_is_away_before_its_line_would_end_by_itself():
    """Without a limit of ours Linux tries a quarter of an hour (tcp(7), tcp_retries2)."""
    done = own_network(sys.executable, "-c", SCRIPT)
    assert (done.stdout, done.stderr) == ("gone\n", "")
