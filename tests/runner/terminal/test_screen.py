"""The face in a terminal, or in lines where the output is no terminal."""

import io
import os
import sys
import threading
import time

import msgspec
import pytest
from rich.console import Console

from tocsin import monotime
from tocsin.config.load import load
from tocsin.model.clock.origins import Origin
from tocsin.model.clock.schedule import Shot
from tocsin.model.display.status import DeviceFact, KeyHelp, Status
from tocsin.model.display.view_model import ViewModelMaker
from tocsin.runner.terminal.screen import TerminalScreen, fitted, news, picture
from tocsin.units import NS_PER_S

TIMELINE = load(None, ["full"], "nothing").plans[0].timeline
HOME = next(firing for firing in TIMELINE.firings if firing.cue == "home" and firing.channel == "screen")
MATCH_NS = 10_000 * NS_PER_S
ORIGIN = Origin(anchor="match", origin_ns=MATCH_NS)
KEYS = (KeyHelp(key="p", does="hold", action="hold"), KeyHelp(key="page down", does="start", action="start"))
HELD = Status(phase="held", origins=(ORIGIN,), held_ns=MATCH_NS + 100 * NS_PER_S, keys=KEYS)
RUNNING = Status(phase="running", origins=(ORIGIN,), keys=KEYS)
STANDBY = Status(phase="standby", keys=KEYS, devices=(DeviceFact(what="light", state="absent", text="plug it in"),))
AT_HOME = Shot(firing=HOME, instance=0, begin_ns=MATCH_NS + 114 * NS_PER_S, end_ns=MATCH_NS + 118 * NS_PER_S)


UNSEEN = msgspec.structs.replace(RUNNING, shows=(), sign=("Round 3", "Watch the robot"))


def view_at(status, seconds):
    return ViewModelMaker(TIMELINE).at(status, MATCH_NS + round(seconds * NS_PER_S))


def wait_for(ready, timeout_s=20):
    end = time.monotonic() + timeout_s
    while not ready():
        assert time.monotonic() < end, "it did not happen"
        threading.Event().wait(0.02)


class Reader:
    """Reads what stands on a file descriptor."""

    def __init__(self, fd):
        self.fd, self.text = fd, ""
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self):
        try:
            while data := os.read(self.fd, 4096):
                self.text += data.decode("utf-8", "replace")
        except OSError:
            pass

    def close(self):
        self._thread.join(5)
        os.close(self.fd)


@pytest.fixture
def pipe():
    """Return a stream that is no terminal, and the reading end."""
    reading, writing = os.pipe()
    with open(writing, "w", encoding="utf-8") as stream:  # noqa: PTH123
        yield stream, reading


def test_lines_of_a_run_say_each_thing_once():
    """The last seconds of the match, looked at ten times a second: no line for a mere count."""
    lines, before = [], None
    for tick in range(1100, 1420):
        view = view_at(RUNNING, tick / 10)
        lines += news(before, view)
        before = view
    assert lines == [
        "Casting Day – Full",
        " 0:26  Hands on",
        " 0:25  Belfry counts",
        " 0:18  No-touch time",
        " 0:00  Robots coast",
        " 0:00  Match over",
        "       Press page down: next match",
    ]


def test_lost_device_refusal_and_result_are_lines():
    before = view_at(RUNNING, 50)
    lost = DeviceFact(what="light", state="lost", text="plug it in again")
    after = view_at(msgspec.structs.replace(RUNNING, devices=(lost,), notice="begin: nothing waits"), 50)
    assert list(news(before, after)) == [" 1:26  ! LIGHT LOST: plug it in again", "       begin: nothing waits"]
    assert not list(news(after, after))
    over = view_at(msgspec.structs.replace(RUNNING, phase="over", result=("12 played", "none failed")), 150)
    assert list(news(over, over)) == []
    assert list(news(before, over))[-2:] == ["       12 played", "       none failed"]


def test_a_pad_that_is_out_is_called_so_in_lines_and_picture():
    out = DeviceFact(what="operator", state="lost", text="plug it in again")
    lost = view_at(msgspec.structs.replace(RUNNING, devices=(out,)), 50)
    assert " 1:26  ! OPERATOR'S PAD OUT: plug it in again" in list(news(view_at(RUNNING, 50), lost))
    shown = [line.plain for line in picture(lost, "")]
    assert "! OPERATOR'S PAD OUT !  plug it in again" in shown
    assert "operator's pad out" in shown
    standby = msgspec.structs.replace(STANDBY, devices=(out,))
    assert "operator's pad: out  plug it in again" in [line.plain for line in picture(view_at(standby, 0), "")]


def test_in_lines_each_notice_is_said_once_also_where_two_came_at_once():
    told = msgspec.structs.replace(STANDBY, notice="sound: muted", earlier=("loaded anew",))
    before, after = view_at(STANDBY, 0), view_at(told, 0)
    assert list(news(before, after)) == ["       loaded anew", "       sound: muted"]
    gone = view_at(msgspec.structs.replace(told, notice="loaded anew", earlier=()), 0)
    assert list(news(after, gone)) == []


@pytest.mark.parametrize(
    ("status", "seconds", "word", "lines"),
    [
        (RUNNING, 114.5, "HOME", [" HOME ", "Hands on   0:22", "next NO TOUCH in 4 s"]),
        (HELD, 0, "", ["HELD – Hands on   0:36", "Press p: the clock goes on"]),
        (STANDBY, 0, "", ["Standby   0:28", "Press page down: 5 s count-in", "light: absent  plug it in"]),
        (msgspec.structs.replace(STANDBY, notice="muted", earlier=("loaded",)), 0, "", ["muted", "loaded"]),
    ],
)
def test_live_picture_has_the_words_of_the_window(status, seconds, word, lines):
    shown = [text.plain for text in picture(view_at(status, seconds), word)]
    assert [line for line in lines if line not in shown] == []


MARKS = tuple(KeyHelp(key=key, does=does, action=f"mark.{does}") for key, does in (("7", "contact"), ("9", "home")))
NO_SPANS = "Press 7 as a contact begins; its end only a phone or a video tells"


@pytest.mark.parametrize("shown", [STANDBY, RUNNING, HELD])
def test_a_terminal_says_in_one_line_that_it_cannot_mark_spans_and_what_to_do_instead(shown):
    view = view_at(msgspec.structs.replace(shown, scribe=MARKS), 114.5)
    for brief in range(4):
        lines = [text.plain for text in picture(view, "", brief)]
        place = lines.index("7 Contact    9 Home")
        assert lines[place + 1] == NO_SPANS
    console = Console(file=io.StringIO(), width=80, height=24)
    console.print(fitted(view, "", console))
    assert NO_SPANS in console.file.getvalue(), "it stands in one line of a usual terminal"
    assert list(news(None, view))[1:3] == ["       7 Contact    9 Home", f"       {NO_SPANS}"]
    assert NO_SPANS not in " ".join(news(view, view))


def test_where_no_contact_is_marked_nothing_is_said_of_spans():
    view = view_at(msgspec.structs.replace(RUNNING, scribe=MARKS[1:]), 114.5)
    lines = [text.plain for text in picture(view, "")]
    assert "9 Home" in lines
    assert not [line for line in lines if "spans" in line]


ABSENT = "no strip with the USB ids 1209:0004: plug it in, or see `tocsin devices`"
CROWDED = Status(
    phase="scrapped", keys=KEYS * 3, notice="the laptop slept for 3.2 s: the clock was put right, check it",
    plans=("Full", "Quiet", "Own"), battery="battery 40 %", awake="may fall asleep: set the laptop's power plan",
    devices=tuple(
        DeviceFact(what=f"{what} {n}", state=state, text=ABSENT)
        for what, state in (("pad", "absent"), ("light", "lost"), ("sound", "absent")) for n in (1, 2)
    ),
    result=tuple(f"  line {n} of the result" for n in range(6)),
)  # fmt: skip


@pytest.mark.parametrize("size", [(80, 24), (100, 40), (60, 20), (40, 24), (80, 13)])
@pytest.mark.parametrize("status", [CROWDED, STANDBY, RUNNING, msgspec.structs.replace(CROWDED, phase="standby")])
def test_picture_fits_the_terminal_with_all_that_counts(status, size):
    console = Console(file=io.StringIO(), width=size[0], height=size[1])
    view = view_at(status, 114.5)
    console.print(fitted(view, "HOME", console))
    shown = console.file.getvalue()
    assert len(shown.splitlines()) < size[1]
    flat = " ".join(shown.replace("│", " ").split())
    counts = ["HOME", view.title, view.digits, view.notice, "p: hold", *(alarm.what for alarm in view.alarms)]
    assert [words for words in counts if " ".join(words.split()) not in flat] == []


def test_picture_leaves_nothing_out_where_there_is_room():
    console = Console(file=io.StringIO(), width=100, height=40)
    console.print(fitted(view_at(CROWDED, 0), "", console))
    shown = console.file.getvalue()
    assert "light 1: lost" in shown
    assert "line 5 of the result" in shown
    assert "battery 40 %" in shown


def test_cue_is_a_line_with_the_digits_of_its_instant(pipe):
    stream, reading = pipe
    reader = Reader(reading)
    screen = TerminalScreen(stream)
    screen.start()
    screen.load(TIMELINE)
    screen.show(RUNNING)
    screen.begin(AT_HOME)
    screen.begin(AT_HOME)                      # its end has moved: no second line
    wait_for(lambda: " 0:22  HOME\n" in reader.text)
    screen.end(AT_HOME)
    screen.stop()
    stream.close()
    reader.close()
    assert reader.text.count("HOME") == 1


def test_lines_stand_in_the_order_of_time(pipe):
    """Short Pour has no settling: OVER falls on the instant at which the match is over."""
    timeline = load(None, ["dash"], "nothing").plans[0].timeline
    last_five, over = (
        next(f for f in reversed(timeline.firings) if f.cue == cue and f.channel == "screen")
        for cue in ("last_five", "over")
    )
    stream, reading = pipe
    reader = Reader(reading)
    screen = TerminalScreen(stream)
    screen.load(timeline)
    ended = monotime.now_ns()              # the match has ended, and all of it is said at once
    screen.show(Status(phase="running", origins=(Origin(anchor="match", origin_ns=ended - 50 * NS_PER_S),), keys=KEYS))
    for firing, before_s in ((last_five, 1), (over, 0)):
        screen.begin(Shot(firing=firing, instance=0, begin_ns=ended - before_s * NS_PER_S, end_ns=None))
    screen.start()
    wait_for(lambda: "Press page down: next match\n" in reader.text)
    screen.stop()
    stream.close()
    reader.close()
    assert reader.text.splitlines() == [
        "Short Pour - Dash", " 0:01  Hands on", " 0:01  Ladle counts", " 0:00  LAST FIVE", " 0:00  OVER",
        " 0:00  Match over", "       Press page down: next match",
    ]  # fmt: skip


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_log_file_of_a_narrow_encoding_gets_every_line(encoding):
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding, errors="strict")
    screen = TerminalScreen(stream)
    screen.start()
    screen.load(TIMELINE)
    screen.show(msgspec.structs.replace(HELD, notice="clock ± 0.06 s – Ω ● ○"))
    screen.stop()
    assert b"Casting Day - Full" in raw.getvalue()
    assert b"clock +- 0.06 s - ? * o" in raw.getvalue(), "a ? would say of a round that it is not known"


def test_reader_that_does_not_read_holds_up_nobody(pipe):
    stream, reading = pipe
    screen = TerminalScreen(stream)
    screen.start()
    screen.load(TIMELINE)
    screen.show(RUNNING)
    before = time.monotonic()
    for number in range(20_000):
        screen.begin(msgspec.structs.replace(AT_HOME, instance=number))
    screen.stop()
    # The limit of stop is a second; a blocked call would take for ever.
    assert time.monotonic() - before < 15
    reader = Reader(reading)
    wait_for(lambda: "HOME" in reader.text)
    stream.close()
    reader.close()


@pytest.mark.devices
@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")
def test_terminal_shows_cues_live_and_is_given_back():
    master, slave = os.openpty()
    reader = Reader(master)
    with open(slave, "w", encoding="utf-8") as stream:  # noqa: PTH123
        screen = TerminalScreen(stream)
        screen.start()
        screen.load(TIMELINE)
        screen.show(HELD)
        wait_for(lambda: "HELD – Hands on   0:36" in reader.text)
        screen.begin(AT_HOME)
        wait_for(lambda: " HOME " in reader.text)
        screen.show(STANDBY)
        screen.end(AT_HOME)
        wait_for(lambda: "Press page down: 5 s count-in" in reader.text)
        screen.stop()
        wait_for(lambda: "\x1b[?25h" in reader.text)         # the cursor is visible again (ECMA-48 private mode 25)
    reader.close()


@pytest.mark.devices
@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")
def test_terminal_is_drawn_only_when_a_word_changes():
    master, slave = os.openpty()
    reader = Reader(master)
    with open(slave, "w", encoding="utf-8") as stream:  # noqa: PTH123
        screen = TerminalScreen(stream)
        screen.start()
        screen.load(TIMELINE)
        for again in range(30):
            screen.show(msgspec.structs.replace(HELD, plan_no=again))
            wait_for(lambda: "╯" in reader.text)
        screen.show(STANDBY)
        wait_for(lambda: "Press page down: 5 s count-in" in reader.text)
        assert reader.text.count("╭") == 2
        screen.stop()
    reader.close()


HOSTILE = "\x1b]0;own\x07\x1b[31m\u202egnp\x9b2J\0\r\b\u200b\ud800[bold]x[/bold] übung"
SHOWN = r"\x1b]0;own\x07\x1b[31m\u202egnp\x9b2J\x00\r\x08\u200b\ud800[bold]x[/bold] übung"


def hostile_status():
    return msgspec.structs.replace(
        HELD, label=HOSTILE, notice=HOSTILE, earlier=(HOSTILE,), result=(HOSTILE,), card=(HOSTILE,), battery=HOSTILE,
        devices=(DeviceFact(what="light", state="absent", text=HOSTILE),), plans=(HOSTILE,),
    )  # fmt: skip


def test_what_others_wrote_is_shown_escaped_in_the_picture():
    console = Console(file=io.StringIO(), width=200, height=60, force_terminal=False, color_system=None)
    view = ViewModelMaker(TIMELINE).at(hostile_status(), MATCH_NS)
    console.print(fitted(view, HOSTILE, console))
    shown = console.file.getvalue()
    assert shown.replace("│", "").count("[bold]x[/bold]") >= 3, "it is no mark-up"
    assert {char for char in shown if not char.isprintable()} == {"\n"}


def test_what_others_wrote_is_shown_escaped_in_lines():
    written = io.StringIO()
    terminal = TerminalScreen(written)
    terminal.load(TIMELINE)
    terminal.show(hostile_status())
    terminal.start()
    wait_for(lambda: SHOWN.removesuffix("übung") in written.getvalue())     # the stream is of no encoding
    terminal.stop()
    assert {char for char in written.getvalue() if not char.isprintable()} == {"\n"}


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")
@pytest.mark.parametrize(("term", "live"), [("dumb", False), ("unknown", False), ("xterm-256color", True), ("", True)])
def test_a_terminal_that_takes_nothing_back_gets_lines(monkeypatch, term, live):
    monkeypatch.setenv("TERM", term)
    master, slave = os.openpty()
    with os.fdopen(slave, "w") as stream:
        assert TerminalScreen(stream).live is live
    os.close(master)


def test_where_no_clock_may_be_seen_the_sign_stands_and_is_said_once():
    before, view, later = (view_at(UNSEEN, seconds) for seconds in (102.2, 103.2, 112.7))
    shown = [line.plain for line in picture(view, "")]
    assert shown[1:4] == ["Hands on", "Round 3", "Watch the robot"]
    assert not [line for line in shown[:-1] if ":" in line or " in " in line], "the last line are the keys"
    assert [line.strip() for line in news(None, view)][2:4] == ["Round 3", "Watch the robot"]
    assert list(news(before, view)) == list(news(view, later)) == []
