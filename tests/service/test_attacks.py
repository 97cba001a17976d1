"""Whoever is not asked in: each threat to the service as an attack on the real process. No load is without bound."""

import threading
import time

import psutil
import pytest

from tests.support.service.peers import answer, connected, drip, from_address, request, said
from tests.support.service.service_stand import ONE, PAGE, TOKENS, service
from tests.support.service.simulated_run import SimulatedRun
from tocsin import monotime
from tocsin.service.description import OPERATIONS
from tocsin.service.desk import MOST_STREAMS
from tocsin.service.handlers import WRONG_TOKENS
from tocsin.service.messages import Grant, Granted
from tocsin.service.sockets import MOST_BODY, MOST_HEADER, MOST_SOCKETS
from tocsin.units import NS_PER_S

pytestmark = pytest.mark.devices
FOREIGN = ("http://evil.example", "null", "http://127.0.0.1:1", "https://127.0.0.1", "file://")
JSON = "Content-Type: application/json"
POSTS = [address.path for address in OPERATIONS if address.method == "post"]
GETS = [address.path for address in OPERATIONS if address.method == "get" and address.path != "/api/1/events"]
PATHS = [(address.method, address.path) for address in OPERATIONS]
LOCKED = [(address.method, address.path) for address in OPERATIONS if address.needs]


@pytest.fixture(scope="module")
def stand(tmp_path_factory):
    with service(page=PAGE + "x" * 100_000) as stand, SimulatedRun(stand, tmp_path_factory.mktemp("runs")):
        stand.wait_until(lambda: stand.get("/api/1/state").status_code == 200)
        yield stand


@pytest.fixture
def peer(request):
    """A client with an address of its own, so that what one test tries wrong does not shut others out."""
    peer.newest = getattr(peer, "newest", 1) + 1
    with from_address(f"127.0.0.{peer.newest}") as client:
        yield client


def ask(stand, method, path, *headers, token=TOKENS.steer, body=b"{}", **more):
    """Send a request by hand; return its status and all that came."""
    own = [f"Authorization: Bearer {token}"] if token else []
    if method.upper() == "POST" and not any(header.startswith("Content-Length") for header in headers):
        own.append(f"Content-Length: {len(body)}")
        own += [] if any(header.startswith("Content-Type") for header in headers) else [JSON]
    else:
        body = b"" if method.upper() != "POST" else body
    return answer(stand, request(method.upper(), path, *own, *headers, "Connection: close", body=body, **more))


# -- tokens -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("method", "path"), LOCKED)
def test_nobody_comes_in_without_a_token_or_with_an_old_one(stand, peer, method, path):
    for headers in ({}, {"Authorization": "Bearer " + "o" * 22}, {"Authorization": f"Basic {TOKENS.steer}"},
                    {"Authorization": f"Bearer {TOKENS.watch[:-1]}"}, {"Authorization": "Bearer"}):  # fmt: skip
        found = peer.request(method, stand.url(path), headers=headers, json={} if method == "post" else None)
        assert (found.status_code, found.headers["WWW-Authenticate"]) == (401, "Bearer"), headers
        assert found.json()["status"] == 401


@pytest.mark.parametrize("way", ["?t={}", "?token={}", "?access_token={}"])
def test_a_token_in_an_address_opens_nothing(stand, way):
    assert ask(stand, "get", "/api/1/state" + way.format(TOKENS.steer), token="")[0] in (400, 401)


def test_the_watch_token_of_the_screen_opens_nothing_else(stand):
    codes = {path: ask(stand, method, path, token=TOKENS.watch)[0]
             for method, path in LOCKED if path != "/api/1/events"}  # fmt: skip
    assert codes == {
        "/api/1/clock": 200, "/api/1/plan": 200, "/api/1/state": 200, "/api/1/marks": 403, "/api/1/wishes": 403,
        "/api/1/run": 403,
    }  # fmt: skip
    assert ask(stand, "get", "/api/1/run", token=TOKENS.mark)[0] == 403


def test_whoever_guesses_is_shut_out_but_a_right_token_of_the_same_address_is_not(stand, peer):
    """A phone whose token is old asks again and again; scanning the code anew must help at once."""
    wrong = {"Authorization": "Bearer " + "x" * 22}
    codes = [peer.get(stand.url("/api/1/state"), headers=wrong) for _ in range(WRONG_TOKENS + 2)]
    assert [found.status_code for found in codes[: WRONG_TOKENS + 1]] == [401] * WRONG_TOKENS + [429]
    assert 1 <= int(codes[WRONG_TOKENS].headers["Retry-After"]) <= 60
    assert peer.get(stand.url("/api/1/state"), headers=stand.headers()).status_code == 200
    assert stand.get("/api/1/state", token="x" * 22).status_code == 401, "another address"


def test_whoever_guesses_the_second_code_is_shut_out_even_with_the_right_one(stand, peer):
    secret = "g" * 22
    stand.down(Grant(secret=secret, right="steer", until_ns=monotime.now_ns() + 600 * NS_PER_S))
    url = stand.url("/api/1/rights")
    codes = [peer.post(url, json={"secret": "x" * 22}).status_code for _ in range(WRONG_TOKENS + 1)]
    assert codes == [403] * WRONG_TOKENS + [429]
    assert peer.post(url, json={"secret": secret}).status_code == 429
    given = stand.post("/api/1/rights", {"secret": secret}, "watch", board=ONE)
    assert (given.status_code, given.json()["right"]) == (200, "steer")
    assert stand.post("/api/1/rights", {"secret": secret}, "watch", board=ONE).status_code == 403, "once"
    assert stand.wait_for(Granted).board.token == given.json()["token"]


# -- other names, other pages -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("method", "path"), [*PATHS, ("get", "/nothing"), ("options", "/api/1/state")])
def test_under_another_name_there_is_nothing(stand, method, path):
    """DNS rebinding: a page of theirs under a name of theirs that leads to this laptop."""
    for host in ("evil.example", "evil.example:8737", "127.0.0.1.evil.example", "0.0.0.0", "127.0.0.2"):
        code, came = ask(stand, method, path, host=host)
        assert code == 421, (host, came)
        assert b"Access-Control-Allow-Origin: *\r\n" not in came or method == "get"


def test_a_request_without_a_name_is_refused(stand):
    assert ask(stand, "get", "/", host="")[0] == 400
    twice = ask(stand, "get", "/", "Host: evil.example")
    assert twice[0] in (400, 421), "two of them (RFC 9112, 3.2)"


@pytest.mark.parametrize("origin", FOREIGN)
def test_pages_from_elsewhere_read_and_do_nothing(stand, origin):
    for path in POSTS:
        code, came = ask(stand, "post", path, f"Origin: {origin}")
        assert code == 403, path
        assert b"Access-Control" not in came
    for path in GETS:
        code, came = ask(stand, "get", path, f"Origin: {origin}")
        assert code == 200, path
        assert (b"Access-Control-Allow-Origin: *\r\n" in came) == path.startswith("/api/1/")
    asks = ("Access-Control-Request-Method: {}", "Access-Control-Request-Headers: authorization", f"Origin: {origin}")
    code, came = ask(stand, "options", "/api/1/state", *(one.format("GET") for one in asks))
    assert code == 204
    assert b"Access-Control-Allow-Methods: GET\r\n" in came
    assert b"authorization" in came, "`*` does not stand for it (Fetch standard, 3.2.3)"
    for path in POSTS:
        assert b"Access-Control" not in ask(stand, "options", path, *(one.format("POST") for one in asks))[1]


def test_the_boards_own_page_may_do_what_its_token_allows(stand):
    own = f"http://127.0.0.1:{stand.port}"
    code, _ = ask(stand, "post", "/api/1/clock", f"Origin: {own}", host=f"127.0.0.1:{stand.port}")
    assert code == 200


@pytest.mark.parametrize(
    "kind",
    ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=a", "", "application/jsonp"],
)
def test_what_a_form_can_send_is_not_taken(stand, kind):
    """Fetch standard: only these three kinds go out to other origins without being asked for first."""
    for path in POSTS:
        assert ask(stand, "post", path, f"Content-Type: {kind}", body=b'{"a":"b"}')[0] in (400, 415), path


def test_no_answer_may_be_framed_sniffed_kept_or_pass_its_address_on(stand):
    for path in ("/", "/api/1/state", "/nothing"):
        came = stand.get(path)
        assert came.headers["X-Content-Type-Options"] == "nosniff"
        assert came.headers["Referrer-Policy"] == "no-referrer"
        assert "frame-ancestors 'none'" in came.headers["Content-Security-Policy"]
        assert came.headers["Cache-Control"] in ("no-store", "no-cache")
        assert "Server" not in came.headers
        assert "Set-Cookie" not in came.headers


# -- sizes and shapes -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("headers", "body"),
    [
        ([f"Content-Length: {MOST_BODY + 1}"], b"x" * 100),
        (["Content-Length: 99999999999999999999"], b""),
        (["Content-Length: -5"], b""),
        (["Content-Length: 5", "Content-Length: 6"], b"{}   "),
        (["Content-Length: 2, 3"], b"{} "),
        (["Content-Length: +2"], b"{}"),
        (["Content-Length: 2", "Transfer-Encoding: chunked"], b"2\r\n{}\r\n0\r\n\r\n"),
        (["Content-Length: 0", "Transfer-Encoding: gzip"], b""),
        (["Content-Length: 0", "X-Long: " + "x" * (MOST_HEADER + 1)], b""),
        (["Content-Length: 0", "X Y: 1"], b""),
        (["Content-Length: 0", "X: a\x00b"], b""),
    ],
)  # fmt: skip
def test_what_two_readers_could_read_in_two_ways_or_is_too_large_is_refused(stand, headers, body):
    code, came = ask(stand, "post", "/api/1/clock", JSON, *headers, body=body)
    assert code in (0, 400, 413, 431), came
    assert came.count(b"HTTP/1.1 ") <= 1, "and nothing behind it is taken for a request"


@pytest.mark.parametrize(
    "body",
    [
        b"4001\r\n" + b"x" * 0x4001 + b"\r\n0\r\n\r\n",
        b"1\r\nx\r\n" * (MOST_BODY + 1) + b"0\r\n\r\n",
        b"-1\r\n\r\n",
        b"0x2\r\n{}\r\n0\r\n\r\n",
        b"2;" + b"e" * 100 + b"\r\n{}\r\n0\r\n\r\n",
        b"fffffffffffffffff\r\n",
        b"2\r\n{}XX0\r\n\r\n",
    ],
    ids=["large", "many", "negative", "hex", "extension", "huge", "no end"],
)
def test_chunks_go_no_further_than_other_bodies(stand, body):
    headers = (JSON, "Transfer-Encoding: chunked", f"Authorization: Bearer {TOKENS.watch}")
    code, came = answer(stand, request("POST", "/api/1/clock", *headers, body=body))
    assert code in (0, 400, 413), came


def test_a_chunked_body_that_is_well_formed_is_taken(stand):
    sent = request("POST", "/api/1/clock", f"Authorization: Bearer {TOKENS.watch}", JSON, "Transfer-Encoding: chunked",
                   "Connection: close", body=b"1\r\n{\r\n1\r\n}\r\n0\r\n\r\n")  # fmt: skip
    assert answer(stand, sent)[0] == 200


@pytest.mark.parametrize(
    ("body", "code"),
    [
        (b"", 400), (b"{", 400), (b"\xff\xfe", 400), (b"[" * 8000, 400), (b'{"id":1e999}', 422), (b"null", 422),
        (b"[]", 422), (b"1", 422), (b'"x"', 422), (b'{"secret":"\\ud800"}', 400), (b'{"a":' * 3000 + b"1", 400),
    ],
)  # fmt: skip
def test_what_is_no_json_of_ours_is_said_and_nothing_falls_over(stand, body, code):
    assert ask(stand, "post", "/api/1/wishes", JSON, body=body)[0] == code


@pytest.mark.parametrize(
    "sent", [b"\r\n\r\n", b"GET\r\n\r\n", b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + b"\0" * 200,
             b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", b"GET / HTTP/9.9\r\nHost: 127.0.0.1\r\n\r\n", b"\0" * 9000],
)  # fmt: skip
def test_what_is_no_request_of_http_1_is_closed(stand, sent):
    """Among them a TLS hello: a browser that turns http into https by itself."""
    with connected(stand) as line:
        line.sendall(sent)
        if sent == b"\r\n\r\n":
            line.sendall(b"GET\r\n\r\n")
        assert said(line)[:12] in (b"", b"HTTP/1.1 400", b"HTTP/1.1 505", b"HTTP/1.1 431")


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "TRACE", "CONNECT", "BREW", "get", "POST", "HEAD"])
@pytest.mark.parametrize("path", ["/api/1/state", "/api/1/wishes"])
def test_another_method_is_told_which_there_are(stand, method, path):
    code, came = ask(stand, "get", path, f"X: {method}")
    sent = request(method, path, f"Authorization: Bearer {TOKENS.steer}", JSON, "Content-Length: 0",
                   "Connection: close")  # fmt: skip
    code, came = answer(stand, sent)
    if (method, path) == ("HEAD", "/api/1/state"):
        assert code == 200
        assert came.endswith(b"\r\n\r\n")
    elif (method, path) == ("POST", "/api/1/wishes"):
        assert code == 400
    else:
        assert code == 405, came
        methods = b"GET, HEAD, OPTIONS" if path.endswith("state") else b"POST, OPTIONS"
        assert b"Allow: " + methods + b"\r\n" in came, "RFC 9110, 15.5.6"


# -- slow ones, silent ones, many -------------------------------------------------------------------------------------


def test_the_slow_and_the_silent_are_closed_and_hold_nobody_up(stand):
    closed = {}

    def silent(line):
        return said(line) == b""

    def slow_header(line):
        return drip(line, b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: " + b"x" * 1000)

    def slow_body(line):
        line.sendall(request("POST", "/api/1/clock", JSON, "Content-Length: 5000"))
        return drip(line, b"x" * 5000)

    def half_a_body(line):
        line.sendall(request("POST", "/api/1/clock", JSON, "Content-Length: 5000", body=b"{"))
        return said(line) == b""

    def slow_chunks(line):
        line.sendall(request("POST", "/api/1/clock", JSON, "Transfer-Encoding: chunked"))
        return drip(line, b"1\r\nx\r\n" * 1000)

    def idle_after_an_answer(line):
        line.sendall(request("GET", "/"))
        return said(line).startswith(b"HTTP/1.1 200")

    def attack(how):
        with connected(stand, receive_buffer=4096) as line:
            closed[how.__name__] = how(line)

    def reads_nothing(line):
        """Of more than kernels keep: the page, asked for without compression again and again."""
        line.sendall(request("GET", "/") * 30)
        line.settimeout(90)
        try:
            while True:
                time.sleep(0.5)
                line.sendall(request("GET", "/"))
        except ConnectionError:
            return True

    attacks = (silent, slow_header, slow_body, half_a_body, slow_chunks, idle_after_an_answer, reads_nothing)
    threads = [threading.Thread(target=attack, args=(how,)) for how in attacks]
    for thread in threads:
        thread.start()
    while any(thread.is_alive() for thread in threads):
        assert stand.get("/api/1/state").status_code == 200
        threads[0].join(0.5)
        threads[1].join(0.5)
    assert closed == {how.__name__: True for how in attacks}


def test_a_full_house_keeps_nobody_out_who_has_a_token_and_takes_no_line_of_who_steers(stand):
    ours = connected(stand)
    ours.sendall(request("GET", "/api/1/events", f"Authorization: Bearer {TOKENS.steer}"))
    assert ours.recv(15) == b"HTTP/1.1 200 OK"
    for first in (b"", request("GET", "/api/1/state", f"Authorization: Bearer {TOKENS.watch}")):
        for _ in range(2 * MOST_SOCKETS):
            connected(stand).sendall(first)
        assert stand.get("/api/1/state", "steer").status_code == 200, first
    came = b""
    while came.count(b"\r\n:\n\r\n") < 3:
        came += ours.recv(65536)
    while stand.lines:
        stand.lines.pop().close()


def test_no_more_listen_than_forty_but_a_crowd_that_watches_keeps_the_coach_out_of_nothing(stand):
    def listens(no, token):
        line = connected(stand)
        headers = (f"Authorization: Bearer {token}", f"Tocsin-Board: {no:032x}")
        line.sendall(request("GET", "/api/1/events", *headers))
        assert line.recv(15) == b"HTTP/1.1 200 OK"
        return line

    def here():
        return stand.get("/api/1/state").json()["boards"]

    lines = [listens(no, TOKENS.watch) for no in range(MOST_STREAMS)]
    late = stand.get("/api/1/events")
    assert (late.status_code, late.headers["Retry-After"]) == (503, "5")
    assert "Too many" in late.json()["detail"]
    coach = [listens(100 + no, TOKENS.steer) for no in range(2)]
    stand.wait_until(lambda: here() == {"watching": MOST_STREAMS - 2, "marking": 0, "steering": 2})
    assert said(lines[0]) + said(lines[1]), "the oldest made room"
    for line in lines + coach:
        line.close()
    stand.wait_until(lambda: here() == {"watching": 0, "marking": 0, "steering": 0})


def test_whoever_talks_into_a_stream_fills_no_memory(stand):
    """What is sent there is never read: the kernel keeps some of it, and then the peer waits."""
    process = psutil.Process(stand.process.pid)
    before = process.memory_info().rss
    with connected(stand) as line:
        line.sendall(request("GET", "/api/1/events", f"Authorization: Bearer {TOKENS.watch}"))
        line.settimeout(3)
        with pytest.raises((ConnectionError, TimeoutError)):
            line.sendall(b"x" * (256 << 20))
        assert stand.get("/api/1/state").status_code == 200
        assert process.memory_info().rss - before < 4 << 20
