"""``tocsin board --try`` as a person in a terminal sees it, with a browser that is a program of the test's own."""

import json
import sys
import urllib.error
import urllib.request

import pytest

from tests.support.stands.stand import wait_for

pytestmark = [pytest.mark.devices, pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")]

BROWSER = "import pathlib, sys; pathlib.Path(sys.argv[1]).write_text(sys.argv[2])"


@pytest.fixture
def tried(tmp_path):
    """Return what begins ``tocsin board --try`` and returns its terminal and the address that its browser was given."""
    from tests.support.stands.terminal import Terminal  # pseudo-terminals are POSIX only

    seats = []
    (tmp_path / "browser.py").write_text(BROWSER)
    at = tmp_path / "address"

    def begin(*arguments):
        opens = f"{sys.executable} {tmp_path / 'browser.py'} {at} %s"
        env = {"BROWSER": opens, "XDG_DATA_HOME": str(tmp_path / "data")}
        seats.append(Terminal(tmp_path, "board", "--try", *arguments, columns=100, env=env))
        wait_for(lambda: at.exists() and at.read_text().startswith("http"), 60)
        return seats[-1], at.read_text()

    yield begin
    for seat in seats:
        seat.kill()


def ask(address, path, body=None, token=""):
    """Return status and JSON of an answer."""
    base, _, _ = address.partition("#")
    assert base.startswith("http://127.0.0.1:"), "nobody in the network sees it"
    headers = {"Content-Type": "application/json"} | ({"Authorization": f"Bearer {token}"} if token else {})
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(base + path, data, headers)
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status, json.load(answer)
    except urllib.error.HTTPError as error:
        return error.code, json.load(error)


@pytest.mark.parametrize(("arguments", "what"), [((), "Full"), (("break_off",), "Break off")])
def test_the_board_of_the_bundled_example_opens_in_the_browser_and_may_steer(tried, tmp_path, arguments, what):
    seat, address = tried(*arguments)
    wait_for(lambda: "on this laptop only" in seat.shown, 60)
    secret = address.partition("#g=")[2]
    status, given = ask(address, "api/1/rights", {"secret": secret})
    assert (status, given["right"]) == (200, "steer")
    assert ask(address, "api/1/rights", {"secret": secret})[0] >= 400, "a secret works once"
    status, state = ask(address, "api/1/state", token=given["token"])
    assert status == 200
    assert state["view"]["phase"] == "standby"
    assert state["status"].get("boards") is None, "no code reaches a board"
    assert what in json.dumps(state["view"]), "the bundled example"
    seat.type("q")
    assert seat.end(60) == 0
    assert not list((tmp_path / "data").rglob("*.jsonl")), "nothing of it is kept among runs"
