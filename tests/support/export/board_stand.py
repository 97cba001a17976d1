"""A stand for the board: a real Chromium opens it from the real service, which is told by hand what is played."""

import asyncio
import contextlib
import threading

import msgspec

from tests.support.export.page_stand import Opened
from tests.support.service.service_stand import TOKENS, ServiceStand
from tocsin import monotime
from tocsin.export.board.page import board_page
from tocsin.export.json_document import document
from tocsin.model.clock.origins import Origin
from tocsin.model.display.status import KeyHelp, Status
from tocsin.model.rig import Start
from tocsin.model.timeline.timeline import MATCH
from tocsin.service.messages import Answer, Marked, Offer, Play, Show
from tocsin.units import NS_PER_S as S

BLANK = "–:––"
UPRIGHT, LYING, TABLET = (390, 844), (844, 390), (768, 1024)
MARKS = tuple(
    Offer(action=f"mark.{label}", does=label.replace("_", " "))
    for label in ("contact", "turned", "home", "contact_by_partner", "contact_by_opponent")
)
UNDO = Offer(action="undo", does="undo mark")
START = Offer(action="start", does="start")
IN_MATCH = (
    *MARKS, Offer(action="scrap", does="cancel", sure=True), Offer(action="hold", does="hold"),
    Offer(action="call.home", does="call home"), Offer(action="sync", does="official moment"),
    Offer(action="earlier", does="clock 0.2 s forward"), Offer(action="later", does="clock 0.2 s back"), UNDO,
)  # fmt: skip
SCRIBE = tuple(KeyHelp(key=key, does=label, action=f"mark.{label}") for key, label in
               (("7", "contact"), ("8", "turned"), ("9", "home")))  # fmt: skip
STANDBY = Status(phase="standby", scribe=SCRIBE, start=Start(by="count_in", count_in_ns=5 * S))


def running(match_s, **rest):
    """Return the status of a match that has run so long."""
    origin = Origin(anchor=MATCH, origin_ns=monotime.now_ns() - round(match_s * S))
    return msgspec.structs.replace(STANDBY, **{"phase": "running", "origins": (origin,), "error_ms": 100, **rest})


class BoardService(ServiceStand):
    """The service with the board's page. ``wishes`` and ``marks`` are what came; ``says`` has the answers by action or
    label: a sentence, or None for a refusal by ``why``."""

    def __init__(self, source, made=None, port=0):
        html, policy = made or board_page()
        super().__init__(page=html, policy=policy, port=port)
        self.made = source
        self.wishes, self.marks, self.says, self.why = [], [], {}, "not now"
        self.silent = False
        self.run = 0
        self.answers = self._answer

    def show(self, status, can=(), *, anew=False):
        """Show a status; ``anew`` as a piece of its own."""
        if anew or not self.run:
            self.run += 1
            plan = msgspec.Raw(msgspec.json.encode(document(self.made)))
            self.down(Play(run=self.run, timeline=self.made.timeline, document=plan))
        self.down(Show(run=self.run, status=status, can=tuple(can)))

    def _answer(self, message):
        if isinstance(message, Marked):
            self.marks.append(message)
            what = message.label
        else:
            self.wishes.append(message)
            what = message.action
        text = self.says.get(what, "")
        return None if self.silent else Answer(id=message.id, taken=text is not None, text=text or self.why)


class Board(Opened):
    """A board in a tab."""

    def enter(self):
        """Tap what lets the board begin."""
        self.tab.click("#phone [data-act=enter]")

    def knows(self):
        """Wait until it knows the plan and the time."""
        self.await_that("board.channels !== null && board.clock.known")
        return self

    def row(self, name):
        """Return the text of a row of the plate, empty if it is hidden."""
        return self.ask(
            "id => { const row = document.getElementById(id); return row.hidden ? '' : row.textContent; }", name
        )

    def await_text(self, selector, part):
        """Wait until an element says something."""
        self.await_that(f"document.querySelector({selector!r}).textContent.includes({part!r})")

    def button(self, action):
        return self.tab.locator(f"button[data-act='{action}']")


@contextlib.contextmanager
def board(chromium, stand, right="steer", *, size=UPRIGHT, address="", token="", scripts=(), entered=True, **options):
    """Yield a board that has come by the code of a right."""
    viewport = {"width": size[0], "height": size[1]}
    context = chromium.new_context(**{"viewport": viewport, "has_touch": True, "is_mobile": True, **options})
    for script in scripts:
        context.add_init_script(script)
    token = token or getattr(TOKENS, right)
    opened = Board(context, context.new_page(), f"{address or stand.address}#t={token}")
    if entered:
        opened.enter()
    yield opened
    opened.close()


class Between:
    """A line between boards and a service, which delays each way and can be cut: then nothing comes through, and
    nobody is told; what was on its way comes when it is whole again."""

    def __init__(self, port, delays_s=(0.0, 0.0)):
        self.address = ""
        self._delays_s = delays_s          # to the service, and back
        self._port = port
        self._opened = threading.Event()
        self._thread = threading.Thread(target=lambda: asyncio.run(self._serve()), daemon=True)

    def __enter__(self):
        self._thread.start()
        self._opened.wait()
        return self

    def __exit__(self, *exception):
        self._loop.call_soon_threadsafe(self._over.set)
        self._thread.join()

    def cut(self):
        self._loop.call_soon_threadsafe(self._whole.clear)

    def mend(self):
        self._loop.call_soon_threadsafe(self._whole.set)

    async def _serve(self):
        self._loop, self._whole, self._over = asyncio.get_running_loop(), asyncio.Event(), asyncio.Event()
        self._whole.set()
        server = await asyncio.start_server(self._join, "127.0.0.1", 0)
        self.address = f"http://127.0.0.1:{server.sockets[0].getsockname()[1]}/"
        self._opened.set()
        await self._over.wait()
        server.close()
        tasks = asyncio.all_tasks() - {asyncio.current_task()}
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    async def _join(self, reader, writer):
        to_reader, to_writer = await asyncio.open_connection("127.0.0.1", self._port)
        try:
            await asyncio.gather(self._carry(reader, to_writer, 0), self._carry(to_reader, writer, 1))
        except asyncio.CancelledError:
            pass                           # the test is over
        finally:
            for end in (writer, to_writer):
                end.close()
                with contextlib.suppress(OSError):
                    await end.wait_closed()

    async def _carry(self, reader, writer, way):
        with contextlib.suppress(OSError):
            while data := await reader.read(1 << 16):
                await asyncio.sleep(self._delays_s[way])
                await self._whole.wait()
                writer.write(data)
                await writer.drain()
        writer.close()
