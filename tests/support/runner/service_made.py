"""A service without a process: what it is told stands in ``said``, what it says the test says for it."""

from tocsin.service.messages import Alive, Open, Opened, Tokens, decode_down
from tocsin.units import NS_PER_MS, NS_PER_S
from tocsin.workers.service_process import Service

OPEN = Open(
    host="127.0.0.1", port=8737, hosts=("127.0.0.1", "localhost"), tokens=Tokens(watch="w", mark="m", steer="s"),
    page="<p>", policy="p", version="1",
)  # fmt: skip
TURN_NS = 50 * NS_PER_MS


class MadeService:
    """One service that was made."""

    def __init__(self, hear):
        self.lines = []
        self.exit = None
        self.left = self.killed = False
        self._hear = hear

    @property
    def said(self):
        return [decode_down(line) for sent in self.lines for line in sent.splitlines()]

    def says(self, message):
        """Let the service say something."""
        self._hear(message)

    def listens(self, port=8737):
        """Let the service say where it listens."""
        self.says(Opened(address=f"http://127.0.0.1:{port}/"))

    def dies(self, code=1):
        self.exit = code
        self.says(None)

    def send_line(self, line, *, droppable=False):
        self.lines.append(line)

    def gone(self):
        return self.exit is not None

    def exit_text(self):
        return f"ended with {self.exit}"

    def kill(self):
        self.killed, self.exit = True, -9

    def leave(self):
        self.left = True

    def ended(self, timeout_s):
        return self.exit


class ServiceStand:
    """A service's supervision whose time goes on by ``turns``; ``made`` are all services so far."""

    def __init__(self, opening=OPEN):
        self.made = []
        self.notes = []
        self.heard = []
        self.rings = 0
        self.refuses = 0
        self.now_ns = 1000 * NS_PER_S
        self.service = Service(self._ring, self._make)
        if opening is not None:
            self.notes += self.service.start(opening, self.now_ns)

    def _ring(self):
        self.rings += 1

    def _make(self, hear):
        if self.refuses:
            self.refuses -= 1
            raise OSError("no more processes")
        self.made.append(MadeService(hear))
        return self.made[-1]

    @property
    def newest(self):
        return self.made[-1]

    def turns(self, s=TURN_NS / NS_PER_S, *, alive=False, took_ns=TURN_NS):
        """Let so many seconds pass, in turns of the conductor; ``alive``: it says so once a turn."""
        for _ in range(max(1, round(s * NS_PER_S / took_ns))):
            self.now_ns += took_ns
            if alive:
                self.newest.says(Alive(now_ns=self.now_ns))
            self.heard += self.service.receive()
            self.notes += self.service.check(self.now_ns)

    def kinds(self):
        """Return what supervision did, in order."""
        return [note.kind for note in self.notes]
