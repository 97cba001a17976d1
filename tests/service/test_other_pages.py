"""Pages of others in a real browser: they may read with a token, and do nothing, token or not."""

import functools
import http.server
import threading

import pytest

from tests.support.export.page_stand import browser
from tests.support.service.service_stand import TOKENS, service
from tests.support.service.simulated_run import SimulatedRun
from tocsin.service.messages import Marked, Wish

pytestmark = pytest.mark.devices

BODY = '{"id": "%s", "run": 1, "action": "start", "at_ns": 0, "error_ns": 0}' % ("a" * 32)
#: All ways by which a page can let a browser send something elsewhere; each gives what the page itself came to know.
WAYS = {
    "fetch": "fetch(url, {method: 'POST', body, headers: {'Content-Type': 'application/json', ...own}})",
    "fetch without a token": "fetch(url, {method: 'POST', body, headers: {'Content-Type': 'application/json'}})",
    "no-cors": "fetch(url, {method: 'POST', body, mode: 'no-cors', headers: {'Content-Type': 'text/plain'}})",
    "beacon": "navigator.sendBeacon(url, new Blob([body], {type: 'text/plain'}))",
    "form": """new Promise((done) => {
        const frame = document.body.appendChild(Object.assign(document.createElement('iframe'), {name: 'f'}));
        const form = document.body.appendChild(document.createElement('form'));
        Object.assign(form, {method: 'POST', action: url, target: 'f', enctype: 'text/plain'});
        const input = form.appendChild(document.createElement('input'));
        Object.assign(input, {name: body.slice(0, -1), value: '}'});
        frame.onload = () => done('sent');
        form.submit();
    })""",
}  # fmt: skip
READS = "fetch(url, {headers: own}).then((answer) => answer.json())"
RUN = """async ([way, url, body, token]) => {
    const own = {'Authorization': `Bearer ${token}`};
    try { return String(JSON.stringify(await eval(way))); } catch (error) { return `refused: ${error.name}`; }
}"""


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """A browser, a service, and the addresses of a page from elsewhere: another port, and this laptop's disk."""
    folder = tmp_path_factory.mktemp("elsewhere")
    (folder / "page.html").write_text("<!doctype html><title>Elsewhere</title><body></body>")
    handler = functools.partial(http.server.SimpleHTTPRequestHandler, directory=str(folder))
    handler.func.log_message = lambda *_: None
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        with browser() as running, service() as stand, SimulatedRun(stand, tmp_path_factory.mktemp("runs")):
            stand.wait_until(lambda: stand.get("/api/1/state").status_code == 200)
            addresses = {
                "network": f"http://127.0.0.1:{server.server_port}/page.html",
                "disk": (folder / "page.html").as_uri(),
            }
            yield running, stand, addresses
    finally:
        server.shutdown()
        server.server_close()


@pytest.mark.parametrize("where", ["network", "disk"])
def test_a_page_from_elsewhere_reads_what_its_token_lets_it_read_and_wishes_nothing(pages, where):
    running, stand, addresses = pages
    tab = running.new_page()
    tab.goto(addresses[where])
    for name, way in WAYS.items():
        came = tab.evaluate(RUN, [way, stand.url("/api/1/wishes"), BODY, TOKENS.steer])
        # What is sent unasked (the last three) is answered, but the page may not read that; the rest is not sent.
        assert came == "refused: TypeError" if name.startswith("fetch") else "error" not in came, (name, came)
    assert '"run":1' in tab.evaluate(RUN, [READS, stand.url("/api/1/state"), "", TOKENS.watch])
    assert "Unauthorized" in tab.evaluate(RUN, [READS, stand.url("/api/1/state"), "", "x" * 22])
    tab.close()
    assert stand.get("/api/1/state").status_code == 200
    assert [one for one in stand.ups if isinstance(one, Wish | Marked)] == []


def test_the_board_stands_in_no_frame_of_another_page(pages):
    """Somebody who believes that they press a button of that page would press one of the board."""
    running, stand, addresses = pages
    tab = running.new_page()
    tab.goto(addresses["network"])
    tab.evaluate("(url) => { document.body.innerHTML = `<iframe src='${url}'></iframe>`; }", stand.address)
    tab.wait_for_function("frames.length === 1")
    frame = tab.frames[1]
    frame.wait_for_load_state()
    assert frame.url != stand.address
    assert "Board" not in frame.content()
    tab.close()
