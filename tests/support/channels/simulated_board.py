"""A strip's controller on a pseudo-terminal, written from the protocols' texts and the agreed commands alone.

It boots as its port is opened, greets, takes frames and commands, and can be told to fail in the ways that boards do.
Only Linux: the baud that the other side has set is read there from the pseudo-terminal itself.
"""

import contextlib
import fcntl
import os
import select
import struct
import threading
import time

import msgspec

_TCGETS2 = 0x802C542A                  # Linux, asm-generic/ioctls.h; struct termios2 has 44 bytes, the last 4 the speed
ORDERS = ("RGB", "RBG", "GRB", "GBR", "BRG", "BGR")
BAUDS = (115_200, 250_000, 500_000)
MOST_LEDS = 200


def checksum(data):
    """CRC-8, polynomial 0x07, by long division of the message as one number: another way than the program's."""
    value, bits = int.from_bytes(data, "big") << 8, 8 * len(data)
    for shift in range(bits - 1, -1, -1):
        if value >> (shift + 8) & 1:
            value ^= 0x107 << shift
    return value & 0xFF


class Kept(msgspec.Struct):
    """What stands in the EEPROM; the defaults of a board that nobody has set up."""

    leds: int = 60
    order: int = 2
    max_ma: int = 390
    baud: int = 0
    clock_ppm: int = 0

    def packed(self):
        return struct.pack(">BHBHBh", 1, self.leds, self.order, self.max_ma, self.baud, self.clock_ppm)


class SimulatedBoard:
    """A board of its own thread. ``frames`` are the colours of each frame that was shown, ``asked`` the payloads of the
    commands that came whole, ``noise`` the bytes that fit nowhere, ``early`` those that came while it booted.

    Ways to fail: ``deaf`` hears nothing and goes on greeting, ``mute`` says nothing; ``tears`` gives for each coming
    answer how many of its bytes are left out at its end; ``foreign`` "adalight" takes only that protocol, "tpm2" only
    that one and answers nothing; ``refuses`` answers each command by that error.
    """

    def __init__(self, folder, *, boots_s=0.05, foreign="", kept=None, name="strip"):
        import pty
        import tty

        self.link = folder / name
        self.kept = kept or Kept()
        self.frames, self.asked, self.starts = [], [], 0
        self.noise = self.early = 0
        self.deaf = self.mute = self.loses = False
        self.foreign = foreign
        self.refuses = 0
        self.tears = []
        self.greets_s = 1.0
        self._boots_s = boots_s
        self._master, slave = pty.openpty()
        tty.setraw(slave)
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(os.ttyname(slave))
        os.close(slave)                                # from now on the system tells whether somebody has it open
        self._data = b""
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def close(self):
        self._over.set()
        self._thread.join()
        os.close(self._master)

    def __enter__(self):
        return self

    def __exit__(self, *error):
        self.close()

    def say(self, data):
        """Send bytes to whoever has the port open; at another baud they arrive as something else."""
        if self.mute:
            return
        if not self._same_baud():
            data = bytes((byte << 1 | 1) & 0x7F for byte in data)
        with contextlib.suppress(BlockingIOError):
            os.write(self._master, data)

    def _run(self):
        os.set_blocking(self._master, False)
        opened, quiet_since, listens_at = False, 0.0, 0.0
        poll = select.poll()
        poll.register(self._master, select.POLLIN)
        while not self._over.is_set():
            events = dict(poll.poll(5)).get(self._master, 0)
            if events & select.POLLHUP and not events & select.POLLIN:
                opened = False
                time.sleep(0.002)
                continue
            now = time.monotonic()
            if not opened:
                opened, self._data, self.starts = True, b"", self.starts + 1
                listens_at, quiet_since = now + self._boots_s, 0.0
            data = b""
            if events & select.POLLIN:
                with contextlib.suppress(OSError):
                    data = os.read(self._master, 4096)
            if now < listens_at:
                self.early += len(data)
                continue                               # the boot loader takes it for its own
            if not quiet_since or now - quiet_since > self.greets_s:
                quiet_since = now
                if self.foreign != "tpm2":
                    self.say(b"Ada\n")
            if data and not self.deaf:
                if self._same_baud():
                    quiet_since = now
                    self._data += data
                    self._decode()
                else:
                    self.noise += len(data)

    def _decode(self):
        while len(self._data) >= 5:
            size = self._whole()
            if size > len(self._data):
                return
            if not size:
                self.noise += 1
                self._data = self._data[1:]
                continue
            block, self._data = self._data[:size], self._data[size:]
            self._take(block)

    def _whole(self):
        """Return the length of the frame or block that the bytes begin with, 0 for none."""
        data = self._data
        if data[:3] == b"Ada" and self.foreign != "tpm2":
            if len(data) < 6:
                return 6
            return 6 + 3 * (data[3] * 256 + data[4] + 1) if data[5] == data[3] ^ data[4] ^ 0x55 else 0
        if data[:2] in (b"\xc9\xda", b"\xc9\xc0") and self.foreign != "adalight":
            size = 5 + int.from_bytes(data[2:4], "big")
            return size if len(data) < size or data[size - 1] == 0x36 else 0
        return 0

    def _take(self, block):
        if block[:1] == b"A":
            self.frames.append(_colours(block[6:]))
        elif block[1] == 0xDA:
            if self.loses:
                self.loses = False
                return
            self.frames.append(_colours(block[4:-1]))
            if not self.foreign:
                self.say(b"\xac")
        elif not self.foreign:
            self._command(block[4:-1])

    def _command(self, payload):
        self.asked.append(payload)
        if self.refuses:
            self._answer(b"E" + bytes((self.refuses,)))
        elif payload == b"I":
            self._answer(self._who())
        elif payload == b"K":
            self._answer(b"K" + (time.monotonic_ns() // 1000 & 0xFFFFFFFF).to_bytes(4, "big"))
        elif payload[:1] == b"W":
            kept, error = _read(payload)
            if error:
                self._answer(b"E" + bytes((error,)))
                return
            new, old = kept, self.kept
            self.kept = msgspec.structs.replace(new, baud=old.baud)
            self._answer(self._who(new))               # the new baud comes after the answer
            time.sleep(0.01)
            self.kept = new
        else:
            self._answer(b"E\x01")

    def _who(self, kept=None):
        return b"IS" + bytes((1,)) + MOST_LEDS.to_bytes(2, "big") + (kept or self.kept).packed() + b"\x02"

    def _answer(self, payload):
        block = b"\xc9\xaa" + len(payload).to_bytes(2, "big") + payload + b"\x36"
        torn = self.tears.pop(0) if self.tears else 0
        self.say(block[: len(block) - torn])

    def _same_baud(self):
        got = fcntl.ioctl(self._master, _TCGETS2, bytes(44))
        return int.from_bytes(got[-4:], "little") == BAUDS[self.kept.baud]


def _read(payload):
    """Return what a write command asks for, and the number of the error."""
    if len(payload) != 11:
        return None, 2
    if checksum(payload[1:10]) != payload[10]:
        return None, 4
    layout, leds, order, max_ma, baud, ppm = struct.unpack(">BHBHBh", payload[1:10])
    right = layout == 1 and 1 <= leds <= MOST_LEDS and order <= 5 and 50 <= max_ma <= 20_000 and max_ma > leds
    if not (right and baud <= 2 and abs(ppm) <= 20_000):
        return None, 3
    return Kept(leds, order, max_ma, baud, ppm), 0


def _colours(body):
    return [tuple(body[k : k + 3]) for k in range(0, len(body), 3)]
