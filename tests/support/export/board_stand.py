"""A stand for the board: a real Chromium opens it from a service of a few lines, which plays what a test tells it."""

import contextlib
import json
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import msgspec

from tests.support.export.page_stand import Opened
from tocsin.export.board.page import board_page
from tocsin.export.json_document import document
from tocsin.model.display.view_model import ViewModelMaker

TOKEN = "w" * 22
now_ns = time.perf_counter_ns


class StandIn:
    """Serves one board page and the state that it was given last."""

    def __init__(self, made):
        self.page = board_page()
        self.clock_delay_s = (0.0, 0.0)
        self.wishes, self.marks = [], []
        self.answers = {}
        self.dead = False
        self._made = made
        self._maker = ViewModelMaker(made.timeline)
        self._news = threading.Condition()
        self._state = None
        self._version = 0
        stand = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def log_message(self, *_):
                pass

            def do_GET(self):
                stand.answer(self, None)

            def do_POST(self):
                body = self.rfile.read(int(self.headers["Content-Length"] or 0))
                stand.answer(self, json.loads(body or b"{}"))

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        self.address = f"http://127.0.0.1:{self._server.server_port}/"
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    def show(self, status, *, can=(), right="watch", run=1):
        at_ns = now_ns()
        with self._news:
            self._state = {
                "run": run, "now_ns": at_ns, "status": msgspec.to_builtins(status),
                "view": msgspec.to_builtins(self._maker.at(status, at_ns)),
                "can": [{"action": action, "does": does, "sure": action == "scrap"} for action, does in can],
                "boards": {"watching": 1, "marking": 0, "steering": 0}, "programs": 0,
                "you": {"number": 1, "right": right},
            }  # fmt: skip
            self._version += 1
            self._news.notify_all()

    def answer(self, http, body):
        if self.dead:
            time.sleep(0.01)
            http.close_connection = True
            return
        route = http.path.split("?")[0]
        if route == "/":
            self._send(http, self.page.html.encode(), "text/html; charset=utf-8")
            return
        if http.headers["Authorization"] != f"Bearer {TOKEN}":
            self._send(http, b"{}", status=401)
            return
        if route == "/api/1/events":
            self._stream(http)
        elif route == "/api/1/plan":
            self._send(http, msgspec.json.encode(document(self._made)))
        elif route == "/api/1/clock":
            there_s, back_s = self.clock_delay_s
            time.sleep(there_s)
            received_ns = now_ns()
            sent = json.dumps({"received_ns": received_ns, "sent_ns": now_ns()}).encode()
            time.sleep(back_s)
            self._send(http, sent)
        elif route in ("/api/1/wishes", "/api/1/marks"):
            (self.wishes if route.endswith("wishes") else self.marks).append(body)
            status, text = self.answers.get(body.get("action", "mark"), (202, ""))
            self._send(http, json.dumps({"text": text} if status == 202 else {"detail": text}).encode(), status=status)
        else:
            self._send(http, b"{}", status=404)

    def close(self):
        self.dead = True
        self._server.shutdown()
        self._server.server_close()

    def _send(self, http, data, kind="application/json", status=200):
        http.send_response(status)
        http.send_header("Content-Type", kind)
        http.send_header("Content-Length", str(len(data)))
        if kind.startswith("text/html"):
            http.send_header("Content-Security-Policy", self.page.policy)
        http.end_headers()
        http.wfile.write(data)

    def _stream(self, http):
        http.send_response(200)
        http.send_header("Content-Type", "text/event-stream")
        http.end_headers()
        http.close_connection = True
        sent = 0
        with contextlib.suppress(OSError):
            while not self.dead:
                with self._news:
                    if self._version == sent:
                        self._news.wait(timeout=1.0)
                    state, version = self._state, self._version
                if version != sent:
                    http.wfile.write(b"event: state\ndata: " + json.dumps(state).encode() + b"\n\n")
                    sent = version
                else:
                    http.wfile.write(b":\n\n")
                http.wfile.flush()


class Board(Opened):
    """A board in a tab."""

    def enter(self):
        """Tap what lets the board begin."""
        self.tab.click("#phone [data-act=enter]")

    def row(self, name):
        """Return the text of a row of the plate, empty if it is hidden."""
        return self.ask(
            "id => { const row = document.getElementById(id); return row.hidden ? '' : row.textContent; }", name
        )


@contextlib.contextmanager
def board(running, address, *, token=TOKEN, script="", **options):
    """Yield a board that has come by its code."""
    context = running.new_context(**{"viewport": {"width": 390, "height": 844}, "has_touch": True, **options})
    if script:
        context.add_init_script(script)
    opened = Board(context, context.new_page(), f"{address}#t={token}")
    yield opened
    opened.close()
