"""The strip's channel on a real pseudo-terminal, read by a decoder of the test's own; the time is an argument."""

import contextlib
import errno
import itertools
import os
import select
import subprocess
import sys
import threading
from pathlib import Path

import pytest
import serial
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from serial.tools import list_ports, list_ports_common

from tests.support.channels.channel_shots import loaded, shot
from tocsin import monotime
from tocsin.channels.device import DEAF, UNHEARD
from tocsin.channels.light.channel import KEEP_ALIVE_NS, LightChannel
from tocsin.channels.light.port import PortError, find, reason
from tocsin.channels.light.protocol import frame_interval_ns
from tocsin.model.pattern import LightPattern, Patterns
from tocsin.model.rig import Light, Rig
from tocsin.model.safety import MAX_FLASHES, flicker
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals"),
]

LEDS = 8
YELLOW, WHITE, BLUE, BLACK = (240, 228, 66), (255, 255, 255), (86, 180, 233), (0, 0, 0)
PATTERNS = Patterns(
    light={
        "yellow": LightPattern(form="plain", colours=(YELLOW,), lasts_ns=S),
        "white": LightPattern(form="plain", colours=(WHITE,), lasts_ns=S),
        "bands": LightPattern(form="bands", colours=(YELLOW, BLACK), width=0.25, lasts_ns=S),
        "queue": LightPattern(form="queue", colours=(YELLOW, BLUE), width=0.25, cycle_ns=S, lasts_ns=S),
        "ebb": LightPattern(form="ebb", colours=(BLUE,), lasts_ns=S),
        "on_off": LightPattern(form="on_off", colours=(WHITE,), cycle_ns=100 * MS, lasts_ns=S),
    }
)
INTERVAL_NS = frame_interval_ns(Light(leds=LEDS))


class Controller:
    """A strip's controller at the other end of the line, written from the protocols' texts alone (TPM2, Adalight)."""

    def __init__(self, folder):
        import pty
        import tty

        self._pty, self._tty = pty, tty
        self.link = folder / "strip"
        self._master = self._slave = -1
        self._data = b""
        self.plug_in()

    def plug_in(self):
        self._master, self._slave = self._pty.openpty()
        self._tty.setraw(self._slave)
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(os.ttyname(self._slave))
        self._data = b""

    def pull_out(self):
        self.link.unlink(missing_ok=True)
        os.close(self._slave)
        os.close(self._master)
        self._master = self._slave = -1

    @contextlib.contextmanager
    def greeting(self):
        """Send a board's greeting again and again: opening a port throws away what came before."""
        done = threading.Event()

        def greet():
            while not done.wait(0.05):
                os.write(self._master, b"Ada\n")

        thread = threading.Thread(target=greet)
        thread.start()
        yield
        done.set()
        thread.join()

    def take(self, count=1, limit_s=2.0):
        """Wait for that many frames; return all that there are."""
        frames = self._decoded()
        while len(frames) < count:
            assert select.select([self._master], [], [], limit_s)[0], f"{len(frames)} frames instead of {count}"
            self._data += os.read(self._master, 65_536)
            frames += self._decoded()
        return frames + self.rest(0)

    def rest(self, patience_s=0.03):
        """Return the frames that are there or come soon."""
        with contextlib.suppress(OSError):
            while select.select([self._master], [], [], patience_s)[0]:
                self._data += os.read(self._master, 65_536)
        return self._decoded()

    def _decoded(self):
        frames = []
        while len(self._data) >= 6:
            if self._data[:2] == b"\xc9\xda":
                begin, end = 4, 4 + int.from_bytes(self._data[2:4], "big")
                size = end + 1
            else:
                assert self._data[:3] == b"Ada", "a torn frame"
                high, low, check = self._data[3:6]
                assert check == high ^ low ^ 0x55
                begin, end = 6, 6 + 3 * (high * 256 + low + 1)
                size = end
            if len(self._data) < size:
                break
            assert begin == 6 or self._data[end] == 0x36, "a torn frame"
            body, self._data = self._data[begin:end], self._data[size:]
            frames.append([tuple(body[k : k + 3]) for k in range(0, len(body), 3)])
        return frames


def rig(port, **more):
    return Rig(name="Test", light=Light(port=str(port), leds=LEDS, max_ma=5000, **more))


def solid(colour):
    return [colour] * LEDS


@pytest.fixture
def strip(tmp_path):
    controller = Controller(tmp_path)
    yield controller
    if controller._master >= 0:
        controller.pull_out()


@pytest.fixture
def channel(strip):
    light = loaded(LightChannel(rig(strip.link)), PATTERNS)
    light.open(monotime.now_ns())
    light.tick(monotime.now_ns() + S)
    assert strip.take(2) == [solid(BLACK)] * 2
    yield light
    light.close()


@pytest.fixture
def now_ns(channel):
    """A time well after the opening, from which a test counts its own."""
    return monotime.now_ns() + 10 * S


@pytest.fixture
def epochs(now_ns):
    """Times far apart, one for each example of a property."""
    return itertools.count(now_ns, 1000 * S)


def ticks(channel, begin_ns, end_ns, step_ns=5 * MS):
    """Tick as the worker would; return the events."""
    events = []
    for at_ns in range(begin_ns, end_ns, step_ns):
        events += channel.tick(at_ns)
    return events


def asked_ticks(channel, begin_ns, end_ns):
    """Tick as seldom as the channel lets the worker; return how often."""
    at_ns, times = begin_ns, 0
    while at_ns <= end_ns:
        channel.tick(at_ns)
        times += 1
        asked_ns = channel.next_ns(at_ns)
        at_ns = min(at_ns + channel.tick_ns, at_ns + channel.tick_ns if asked_ns is None else asked_ns)
    return times


def states(events):
    return [event.state for event in events if event.kind == "device"]


# --- opening ----------------------------------------------------------------------------------------------------------


def test_black_is_written_as_soon_as_the_port_is_open(strip):
    light = LightChannel(rig(strip.link))
    (event,) = light.open(monotime.now_ns())
    assert (event.state, event.what) == ("ready", "")
    assert str(LEDS) in event.name
    assert strip.take() == [solid(BLACK)]
    light.close()


@pytest.mark.parametrize(("greets", "why"), [(False, "bytes are sent; no answer from a board"), (True, "")])
def test_a_board_behind_usb_that_does_not_greet_is_said(strip, monkeypatch, greets, why):
    """Here the pseudo-terminal stands in the system's list of ports, as an adapter would."""
    listed = list_ports_common.ListPortInfo(str(strip.link), skip_link_detection=True)
    monkeypatch.setattr(list_ports, "comports", lambda: [listed])
    light = LightChannel(rig(strip.link))
    with strip.greeting() if greets else contextlib.nullcontext():
        (event,) = light.open(monotime.now_ns())
    assert (event.state, event.why) == ("ready", why)
    light.close()


def test_a_port_that_is_not_there_is_absent_and_says_what_to_do(tmp_path):
    light = loaded(LightChannel(rig(tmp_path / "nothing")), PATTERNS)
    (event,) = light.open(monotime.now_ns())
    assert event.state == "absent"
    assert "there is no such port; `tocsin devices` lists them" in event.why
    shown = light.fire(shot("yellow", 0, S), 0)
    assert (shown.outcome, shown.why) == ("skipped", "absent")
    light.make_safe(1)
    light.close()


def test_usb_ids_that_nobody_has_are_absent_with_the_ids():
    light = LightChannel(Rig(name="Test", light=Light(port="auto", usb="dead:beef")))
    (event,) = light.open(monotime.now_ns())
    assert event.state == "absent"
    assert "dead:beef" in event.why


def test_a_port_that_another_program_holds_is_told_apart(strip, channel):
    other = LightChannel(rig(strip.link))
    (event,) = other.open(monotime.now_ns())
    assert event.state == "absent"
    assert "in use by another program" in event.why
    other.close()


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells who holds a port")
def test_a_port_that_another_program_has_locked_comes_with_its_name(strip):
    # flock and TIOCEXCL are what serial programs on Linux mostly take (common practice, no source).
    script = (
        "import fcntl, sys, termios\n"
        "port = open(sys.argv[1], 'r+b', buffering=0)\n"
        "fcntl.flock(port, fcntl.LOCK_EX | fcntl.LOCK_NB)\n"
        "print('locked', flush=True)\n"
        "sys.stdin.read()\n"
    )
    holder = subprocess.Popen(
        [sys.executable, "-c", script, str(strip.link)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert holder.stdout is not None
    assert holder.stdout.readline() == b"locked\n"
    light = LightChannel(rig(strip.link))
    (event,) = light.open(monotime.now_ns())
    holder.communicate(timeout=10)
    assert event.state == "absent"
    assert f"(process {holder.pid}): close it" in event.why
    assert "another program" not in event.why


@pytest.mark.skipif(sys.platform != "linux" or os.geteuid() != 0, reason="only root can become somebody else")
def test_a_port_that_is_not_permitted_comes_with_the_command_that_fixes_it(strip):
    # The slave of a pseudo-terminal is its owner's alone, as a serial port is its group's (pts(4), tty(4)).
    Path(strip.link).chmod(0o600)
    script = (
        "import os, sys\n"
        "from tocsin import monotime\n"
        "from tocsin.channels.light.channel import LightChannel\n"
        "from tocsin.model.rig import Light, Rig\n"
        "os.setgroups([]); os.setgid(65534); os.setuid(65534)\n"
        "(event,) = LightChannel(Rig(name='', light=Light(port=sys.argv[1]))).open(monotime.now_ns())\n"
        "print(event.state, event.why)\n"
    )
    told = subprocess.run(
        [sys.executable, "-c", script, os.path.realpath(strip.link)], capture_output=True, text=True, timeout=60,
        check=True,
    )  # fmt: skip
    assert told.stdout.startswith("absent ")
    assert "not permitted; `sudo usermod -aG dialout $USER`, then log in again" in told.stdout


def test_a_rig_without_a_strip_does_nothing_at_all():
    light = loaded(LightChannel(Rig(name="Test")), PATTERNS)
    (event,) = light.open(0)
    assert (event.state, event.why) == ("absent", "the rig has no [light]")
    light.prepare(shot("yellow", S, 2 * S), 0)
    shown = light.fire(shot("yellow", S, 2 * S), S)
    assert (shown.outcome, shown.why) == ("skipped", "absent")
    light.end(shot("yellow", S, 2 * S), 2 * S)
    assert light.command("preflight", 0) == []
    assert ticks(light, 0, 3 * S, 100 * MS) == []
    assert light.next_ns(0) is None
    light.make_safe(0)
    light.close()
    light.close()


@pytest.mark.parametrize(
    "name",
    ["spy:///dev/null?file={victim}", "loop://", "socket://192.0.2.1:7", "socket://127.0.0.1:7/../x", "rfc2217://a:7",
     "hwgrep://.*", "alt:///dev/null?class=PosixPollSerial", "victim.txt", ""],
)  # fmt: skip
def test_what_is_no_port_is_never_opened(tmp_path, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    victim = tmp_path / "victim.txt"
    victim.write_text("mine", "utf-8")
    light = loaded(LightChannel(rig(name.format(victim=victim))), PATTERNS)
    (event,) = light.open(monotime.now_ns())
    assert (event.state, "is not a serial port" in event.why) == ("absent", True)
    light.close()
    assert victim.read_text("utf-8") == "mine"


@pytest.mark.parametrize("name", ["/dev/null", "/dev/watchdog", "/dev/tty", "/dev/pts/0", "/dev/shm/x", "/etc/hosts"])
def test_beside_a_test_bench_no_other_device_is_a_port(monkeypatch, name):
    monkeypatch.delenv("TOCSIN_BENCH")
    with pytest.raises(PortError, match="not a serial port"):
        find(Light(port=name))


def said(strip, light, data):
    """Let the board say something, and wait until that has arrived."""
    waiting = light._port._serial
    there = waiting.in_waiting
    os.write(strip._master, data)
    while waiting.in_waiting < there + len(data):
        select.select([waiting.fd], [], [], 0.01)


def test_a_board_that_greets_each_second_never_fills_the_port(strip, channel, now_ns):
    """A system keeps about 4 kB for a port (Linux, tty(4)): what is not read is lost, or stops the board."""
    for second in range(30):
        said(strip, channel, b"Ada\n" * 200)
        channel.tick(now_ns + second * S)
        assert channel._port._serial.in_waiting == 0


def answered(strip, channel, begin_ns, end_ns, answer=b"\xac"):
    """Tick as the worker would, the board answering each frame; return the events and the number of the frames."""
    events, count = [], 0
    for at_ns in range(begin_ns, end_ns, 50 * MS):
        events += channel.tick(at_ns)
        for _ in strip.rest(0):
            count += 1
            said(strip, channel, answer)
    return events, count


def test_a_board_that_answers_and_then_does_not_is_deaf_until_it_answers_again(strip, channel, now_ns):
    said(strip, channel, b"\xac" * 2)                          # to the frames of the opening
    events, count = answered(strip, channel, now_ns, now_ns + 10 * S)
    assert (states(events), count >= 9) == ([], True)          # black each second, so that deafness shows in standby
    begin_ns = now_ns + 10 * S
    events = ticks(channel, begin_ns, begin_ns + 6 * S, 50 * MS)
    assert [(event.state, event.why) for event in events] == [("lost", DEAF)]
    shown = channel.fire(shot("yellow", begin_ns + 6 * S, begin_ns + 7 * S), begin_ns + 6 * S)
    assert (shown.outcome, shown.why) == ("failed", DEAF)
    assert strip.take()[-1] == solid(YELLOW)                   # sent all the same: it may have heard
    events, _ = answered(strip, channel, begin_ns + 6 * S + 50 * MS, begin_ns + 9 * S)
    assert [(event.state, event.why) for event in events] == [("ready", "")]
    assert channel.fire(shot("white", begin_ns + 9 * S, begin_ns + 10 * S, no=1, priority=9), begin_ns + 9 * S)


def test_a_torn_frame_of_a_board_that_answers_is_sent_again_soon(strip, channel, now_ns):
    said(strip, channel, b"\xac" * 2)
    answered(strip, channel, now_ns, now_ns + 3 * S)
    cue = shot("yellow", now_ns + 3 * S, now_ns + 4 * S)
    channel.fire(cue, now_ns + 3 * S)
    strip.take()
    said(strip, channel, b"\xac")
    channel.end(cue, now_ns + 4 * S)
    channel.tick(now_ns + 4 * S)
    assert strip.take() == [solid(BLACK)]                      # and the board does not take it
    ticks(channel, now_ns + 4 * S + 5 * MS, now_ns + 4 * S + 800 * MS)
    assert strip.take() == [solid(BLACK)]


@pytest.mark.parametrize("protocol", ["adalight", "tpm2"])
def test_a_board_that_never_answers_is_never_deaf_and_is_left_alone_in_the_dark(strip, protocol):
    light = loaded(LightChannel(rig(strip.link, protocol=protocol)), PATTERNS)
    light.open(monotime.now_ns())
    strip.take()
    begin_ns = monotime.now_ns() + 10 * S
    cue = shot("yellow", begin_ns, begin_ns + 10 * S)
    light.fire(cue, begin_ns)
    said(strip, light, b"Ada\n")
    events, _ = answered(strip, light, begin_ns, begin_ns + 10 * S, b"Ada\n")
    told = [(event.state, event.why) for event in events]
    assert told == ([("ready", UNHEARD)] if protocol == "tpm2" else [])
    light.end(cue, begin_ns + 10 * S)
    light.tick(begin_ns + 10 * S)
    strip.take()
    ticks(light, begin_ns + 11 * S, begin_ns + 20 * S, 50 * MS)
    assert strip.rest() == []
    light.close()


def test_a_strip_that_people_saw_by_this_protocol_needs_no_answer(strip):
    light = loaded(LightChannel(rig(strip.link, confirmed="2031-03-01")), PATTERNS)
    light.open(monotime.now_ns())
    begin_ns = monotime.now_ns() + 10 * S
    light.fire(shot("yellow", begin_ns, begin_ns + 10 * S), begin_ns)
    events, _ = answered(strip, light, begin_ns, begin_ns + 10 * S, b"Ada\n")
    assert events == []
    light.close()


# --- showing ----------------------------------------------------------------------------------------------------------


def test_the_first_frame_goes_out_with_the_fire(strip, channel, now_ns):
    assert channel.fire(shot("bands", now_ns, now_ns + S), now_ns).outcome == "played"
    assert strip.take() == [[YELLOW, YELLOW, BLACK, BLACK] * 2]


def test_it_is_black_after_the_end(strip, channel, now_ns):
    cue = shot("yellow", now_ns, now_ns + S)
    channel.fire(cue, now_ns)
    channel.end(cue, now_ns + S)
    channel.tick(now_ns + S)
    assert strip.take(2) == [solid(YELLOW), solid(BLACK)]


def test_it_is_black_at_once_when_made_safe_whatever_lasts(strip, channel, now_ns):
    for no in range(6):
        channel.fire(shot("white" if no % 2 else "yellow", now_ns, now_ns + S, no=no, priority=no), now_ns)
    channel.make_safe(now_ns + 1)
    assert strip.take(7)[-1] == solid(BLACK)
    ticks(channel, now_ns + 2, now_ns + 2 * S)
    assert all(frame == solid(BLACK) for frame in strip.rest())


def test_it_is_black_after_closing_which_may_come_twice(strip, channel, now_ns):
    channel.fire(shot("yellow", now_ns, now_ns + S), now_ns)
    channel.close()
    channel.close()
    assert strip.take(2)[-1] == solid(BLACK)
    assert channel.fire(shot("yellow", now_ns, now_ns + S), now_ns).outcome != "played"


def test_the_higher_cue_shows_and_what_it_covered_shows_again(strip, channel, now_ns):
    low, high = shot("yellow", now_ns, now_ns + 4 * S, no=1), shot("white", now_ns, now_ns + S, no=2, priority=9)
    assert channel.fire(low, now_ns).outcome == "played"
    assert channel.fire(high, now_ns + S).outcome == "played"
    channel.end(high, now_ns + 2 * S)
    channel.tick(now_ns + 2 * S)
    assert strip.take(3) == [solid(YELLOW), solid(WHITE), solid(YELLOW)]
    channel.end(low, now_ns + 4 * S)
    channel.tick(now_ns + 4 * S)
    assert strip.take() == [solid(BLACK)]


def test_a_lower_cue_is_outranked_and_shows_once_the_higher_has_ended(strip, channel, now_ns):
    high, low = shot("white", now_ns, now_ns + S, no=1, priority=9), shot("yellow", now_ns, now_ns + 3 * S, no=2)
    channel.fire(high, now_ns)
    shown = channel.fire(low, now_ns + 100 * MS)
    assert (shown.outcome, shown.why) == ("skipped", "outranked")
    channel.end(high, now_ns + S)
    channel.tick(now_ns + S)
    assert strip.take(2) == [solid(WHITE), solid(YELLOW)]


def test_of_equals_the_newer_shows(strip, channel, now_ns):
    channel.fire(shot("yellow", now_ns, now_ns + 4 * S, no=1), now_ns)
    assert channel.fire(shot("white", now_ns + S, now_ns + 4 * S, no=2), now_ns + S).outcome == "played"
    assert strip.take(2)[-1] == solid(WHITE)


def test_a_fill_shrinks_with_the_time_that_is_left(strip, channel, now_ns):
    channel.fire(shot("ebb", now_ns, now_ns + 8 * S), now_ns)
    lit = [strip.take()[-1].count(BLUE)]
    for second in range(1, 8):
        channel.tick(now_ns + second * S)
        lit.append(strip.take()[-1].count(BLUE))
    assert lit == [8, 7, 6, 5, 4, 3, 2, 1]


def test_a_resumed_fill_shows_what_is_left(strip, channel, now_ns):
    channel.fire(shot("ebb", now_ns - 6 * S, now_ns + 2 * S, resumed=True), now_ns)
    assert strip.take()[-1].count(BLUE) == 2


def test_what_stands_is_sent_again_each_second_while_lit(strip, channel, now_ns):
    """Many controllers fall back to an effect of their own after 1 to 2.5 s of silence."""
    cue = shot("bands", now_ns, now_ns + 5 * S)
    channel.fire(cue, now_ns)
    ticks(channel, now_ns, now_ns + 4 * S + 20 * MS)
    frames = strip.take(5)
    assert len(frames) == 1 + 4 * S // KEEP_ALIVE_NS
    assert len(set(map(tuple, frames))) == 1
    channel.end(cue, now_ns + 5 * S)
    ticks(channel, now_ns + 5 * S, now_ns + 9 * S)
    assert strip.take() == [solid(BLACK)]          # a dark strip is left alone


def test_what_moves_moves_no_faster_than_the_wire(strip, channel, now_ns):
    channel.fire(shot("queue", now_ns, now_ns + S), now_ns)
    at_ns = now_ns
    while at_ns < now_ns + S - MS:
        at_ns = channel.next_ns(at_ns)
        channel.tick(at_ns)
    frames = strip.take(S // INTERVAL_NS - 3)
    assert len(frames) <= (at_ns - now_ns) // INTERVAL_NS + 1            # one more than there are intervals
    assert len(set(map(tuple, frames))) == 4


def test_no_frame_is_begun_that_would_delay_a_prepared_shot(strip, channel, now_ns):
    channel.fire(shot("queue", now_ns, now_ns + S, no=1), now_ns)
    coming = shot("white", now_ns + 200 * MS, now_ns + S, no=2)
    channel.prepare(coming, now_ns + 80 * MS)
    ticks(channel, now_ns, coming.begin_ns - INTERVAL_NS + 1, MS)
    assert len(strip.take()) > 1
    ticks(channel, coming.begin_ns - INTERVAL_NS + 1, coming.begin_ns, MS)
    assert strip.rest() == []
    assert channel.fire(coming, coming.begin_ns).outcome == "played"
    assert strip.take() == [solid(WHITE)]


def test_a_prepared_shot_that_never_comes_does_not_hold_the_strip_up(strip, channel, now_ns):
    channel.fire(shot("queue", now_ns, now_ns + S, no=1), now_ns)
    coming = shot("white", now_ns + 200 * MS, now_ns + S, no=2)
    channel.prepare(coming, now_ns + 80 * MS)
    ticks(channel, now_ns, coming.begin_ns, MS)
    strip.take()
    ticks(channel, coming.begin_ns, coming.begin_ns + 100 * MS, MS)
    assert strip.rest()


def test_black_due_just_before_a_prepared_shot_that_never_comes_is_still_shown(strip, channel, now_ns):
    cue, coming = shot("yellow", now_ns, now_ns + S, no=1), shot("white", now_ns + S + MS, now_ns + 2 * S, no=2)
    channel.fire(cue, now_ns)
    channel.prepare(coming, now_ns + 900 * MS)
    channel.end(cue, now_ns + S)
    ticks(channel, now_ns + S, now_ns + S + 200 * MS, MS)
    assert strip.take(2)[-1] == solid(BLACK)


def test_a_prepared_shot_that_was_outranked_shows_as_it_is_when_its_turn_comes(strip, channel, now_ns):
    high = shot("white", now_ns, now_ns + 2 * S, no=1, priority=9)
    channel.fire(high, now_ns)
    low = shot("ebb", now_ns + S, now_ns + 5 * S, no=2, sustained=True)
    channel.prepare(low, now_ns + 900 * MS)
    ticks(channel, now_ns + 990 * MS, now_ns + S, MS)
    assert channel.fire(low, now_ns + S).why == "outranked"
    channel.end(high, now_ns + 2 * S)
    moved = shot("ebb", now_ns + S, now_ns + 3 * S, no=2, sustained=True, resumed=True)
    strip.take()
    channel.fire(moved, now_ns + 2 * S)
    assert strip.take()[-1].count(BLUE) == LEDS // 2


def test_a_frame_that_must_wait_for_the_wire_goes_out_within_some_10_ms(strip, channel, now_ns):
    cue = shot("yellow", now_ns, now_ns + MS)
    channel.fire(cue, now_ns)
    channel.end(cue, now_ns + MS)
    asked_ticks(channel, now_ns + MS, now_ns + MS + INTERVAL_NS + 10 * MS)
    assert strip.take(2) == [solid(YELLOW), solid(BLACK)]


def test_a_preflight_ends_on_time_at_the_pace_that_the_strip_asks_for(strip, channel, now_ns):
    channel.command("preflight", now_ns)
    asked_ticks(channel, now_ns, now_ns + 520 * MS)
    assert strip.take(2)[-1] == solid(BLACK)


def test_a_dark_strip_asks_for_little(channel, now_ns):
    assert asked_ticks(channel, now_ns, now_ns + S) <= 25


def test_the_preflight_is_soft_white_for_half_a_second(strip, channel, now_ns):
    channel.command("preflight", now_ns)
    ticks(channel, now_ns, now_ns + 600 * MS)
    first, last = strip.take(2)
    assert len(set(first)) == 1
    assert 0 < first[0][0] < 128
    assert last == solid(BLACK)


def test_an_unknown_command_does_nothing(strip, channel, now_ns):
    assert channel.command("sing", now_ns) == []
    ticks(channel, now_ns, now_ns + S)
    assert set(map(tuple, strip.rest())) <= {tuple(solid(BLACK))}


def test_a_pattern_that_blinks_ten_times_a_second_does_not_reach_the_strip_so(strip, channel, now_ns):
    """At most two flashes in any second (WCAG 2.2 allows three; read)."""
    channel.fire(shot("on_off", now_ns, now_ns + 3 * S), now_ns)
    frames = [(now_ns - MS, solid(BLACK)), (now_ns, strip.take()[-1])]
    for at_ns in range(now_ns + 10 * MS, now_ns + 3 * S, 10 * MS):
        channel.tick(at_ns)
        frames += [(at_ns, frame) for frame in strip.rest(0)]
    assert flicker(frames).within(MAX_FLASHES)


@pytest.mark.parametrize("apart_ns", [50 * MS, 200 * MS, 450 * MS, 1_200 * MS])
def test_a_row_of_workers_that_each_crash_when_lit_does_not_flash_either(strip, apart_ns):
    """What the one before showed died with it: each takes it that all that may flash in a second has flashed."""
    begin_ns = monotime.now_ns() + 10 * S
    frames = [(begin_ns - S, solid(BLACK))]
    for at_ns in range(begin_ns, begin_ns + 6 * S, apart_ns):
        worker = loaded(LightChannel(rig(strip.link)), PATTERNS)
        worker.open(monotime.now_ns())
        worker.take_over(at_ns)
        worker.fire(shot("white", at_ns, begin_ns + 9 * S), at_ns)
        for tick_ns in range(at_ns, at_ns + apart_ns, 10 * MS):
            worker.tick(tick_ns)
            frames += [(tick_ns, frame) for frame in strip.rest(0)]
        worker._port.close(discard=True)               # killed: nothing is made black
    assert flicker(frames).within(MAX_FLASHES)
    # None lives long enough to be lit but the last kind.
    assert any(frame == solid(WHITE) for _, frame in frames) == (apart_ns > S)


LOOKS = {"yellow": {YELLOW}, "white": {WHITE}, "bands": {YELLOW, BLACK}, "queue": {YELLOW, BLUE}}


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.tuples(st.sampled_from(sorted(LOOKS)), st.integers(0, 9), st.integers(1, 9)), min_size=1, max_size=8)
)
def test_within_a_second_the_strip_shows_the_foremost_of_what_lasts(strip, channel, epochs, cues):
    now_ns = next(epochs)
    shots = [
        shot(name, now_ns + no * S, now_ns + (no + lasts) * S, no=no, priority=priority)
        for no, (name, priority, lasts) in enumerate(cues)
    ]
    shown = solid(BLACK)
    for at_ns in range(now_ns, now_ns + 18 * S, S):
        for cue in shots:
            if cue.end_ns == at_ns:
                channel.end(cue, at_ns)
        for cue in shots:
            if cue.begin_ns == at_ns:
                channel.fire(cue, at_ns)
        ticks(channel, at_ns, at_ns + S, 50 * MS)
        shown = [shown, *strip.rest(0.002)][-1]
        lasting = [cue for cue in shots if cue.begin_ns <= at_ns < cue.end_ns]
        top = max(lasting, key=lambda cue: (cue.firing.priority, cue.begin_ns), default=None)
        assert set(shown) == (LOOKS[top.firing.pattern] if top else {BLACK})


# --- going and coming back --------------------------------------------------------------------------------------------


def test_a_strip_that_goes_is_lost_and_when_back_shows_what_is_left(strip, channel, now_ns):
    cue = shot("bands", now_ns, now_ns + 60 * S)
    channel.fire(cue, now_ns)
    strip.take()
    strip.pull_out()
    events = ticks(channel, now_ns, now_ns + 3 * S)
    assert states(events) == ["lost"]
    assert str(strip.link) in events[-1].why
    late = channel.fire(shot("white", now_ns + 3 * S, now_ns + 4 * S, no=1), now_ns + 3 * S)
    assert (late.outcome, late.why) == ("failed", "strip lost")
    channel.end(shot("white", now_ns + 3 * S, now_ns + 4 * S, no=1), now_ns + 4 * S)
    strip.plug_in()
    events = ticks(channel, now_ns + 4 * S, now_ns + 8 * S)
    assert states(events) == ["ready"]
    frames = strip.take(2)
    assert frames[0] == solid(BLACK)
    assert frames[-1] == [YELLOW, YELLOW, BLACK, BLACK] * 2


def test_a_strip_that_is_pulled_out_while_dark_is_noticed_before_the_next_cue(strip, channel, now_ns):
    ticks(channel, now_ns, now_ns + S)
    strip.pull_out()
    assert states(ticks(channel, now_ns + S, now_ns + 2 * S)) == ["lost"]


def test_a_strip_that_goes_with_the_fire_fails_the_firing(strip, channel, now_ns):
    strip.pull_out()
    shown = channel.fire(shot("yellow", now_ns, now_ns + S), now_ns)
    assert shown.outcome == "failed"
    assert str(strip.link) in shown.why
    assert states(channel.tick(now_ns)) == ["lost"]


def test_a_strip_that_comes_late_is_taken_into_use(tmp_path, strip):
    name = tmp_path / "late"
    light = loaded(LightChannel(rig(name)), PATTERNS)
    now_ns = monotime.now_ns()
    assert states(light.open(now_ns)) == ["absent"]
    assert ticks(light, now_ns, now_ns + 5 * S, 50 * MS) == []
    name.symlink_to(strip.link.readlink())
    assert states(ticks(light, now_ns + 5 * S, now_ns + 8 * S, 50 * MS)) == ["ready"]
    assert strip.take()[0] == solid(BLACK)
    assert light.fire(shot("yellow", now_ns + 9 * S, now_ns + 10 * S), now_ns + 9 * S).outcome == "played"
    light.close()


def test_a_controller_that_stops_reading_is_lost_and_no_call_hangs(strip, channel, now_ns):
    channel.fire(shot("queue", now_ns, now_ns + 3600 * S), now_ns)
    events, at_ns, longest_ns = [], now_ns, 0
    while not events and at_ns < now_ns + 3600 * S:
        at_ns += INTERVAL_NS
        began_ns = monotime.now_ns()
        events += channel.tick(at_ns)
        longest_ns = max(longest_ns, monotime.now_ns() - began_ns)
    assert states(events) == ["lost"]
    assert "does not take what is sent" in events[0].why
    # Half a second of silence would have the worker taken for hung; the rest is for a busy machine.
    assert longest_ns < 450 * MS
    strip.pull_out()


def test_closing_does_not_wait_for_a_controller_that_stopped_reading(strip, channel, now_ns):
    channel.fire(shot("queue", now_ns, now_ns + 3600 * S), now_ns)
    for frame in range(1, 150):
        channel.tick(now_ns + frame * INTERVAL_NS)
    began_ns = monotime.now_ns()
    channel.close()
    assert monotime.now_ns() - began_ns < 2 * S


@pytest.mark.parametrize(
    "error",
    [OSError(errno.EIO, "Input/output error"), serial.SerialException("write failed: [Errno 5] Input/output error")],
    ids=["by number", "by words"],
)
def test_a_pulled_plug_is_told_as_that(error):
    """What Linux says of a port whose plug was pulled (measured on pseudo-terminals); pyserial wraps it in words."""
    assert reason("/dev/strip", error) == "/dev/strip: unplugged: plug it in again"
