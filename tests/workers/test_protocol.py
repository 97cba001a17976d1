"""Lines between the conductor and its workers: what is no message is told, and stops nobody."""

import os
import subprocess
import sys
from queue import SimpleQueue

import pytest

from tocsin import monotime
from tocsin.channels.device import Event
from tocsin.model.rig import Rig
from tocsin.pipe import LONGEST_LINE, LineReader, MessageError
from tocsin.workers.protocol import (
    Command,
    Heartbeat,
    Hello,
    Opened,
    Up,
    decode_down,
    decode_up,
    encode,
)

LIMIT_S = 20
NO_MESSAGES = [
    b"", b"warning: a library speaks", b"\xff\xfe\0", b"[" * 100_000, b'{"a":' * 100_000, b"null", b"{}",
    b'{"type":"alive","now_ns":' + b"9" * 5000 + b"}", b'{"type":"alive","now_ns":1e400}',
    b'{"type":"alive","now_ns":1,"more":' + b"[" * 100_000 + b"]" * 100_000 + b"}",
    b'{"type":"command","verb":"\\ud800"}', b'{"type":"command","verb":"\xff"}', b'{"type":"origins","origins":null}',
]  # fmt: skip


@pytest.mark.parametrize("decode", [decode_up, decode_down])
@pytest.mark.parametrize("line", NO_MESSAGES, ids=lambda line: repr(line[:40]))
def test_a_line_that_is_no_message_is_named_as_such(decode, line):
    with pytest.raises(MessageError):
        decode(line)


@pytest.mark.devices
def test_a_worker_tells_a_line_that_is_no_message_and_goes_on():
    now_ns = monotime.now_ns()
    lines = [encode(Hello(rig=Rig(name="Bare"), now_ns=now_ns)), *(line + b"\n" for line in NO_MESSAGES)]
    lines += [encode(Hello(rig=Rig(name="Again"), now_ns=now_ns)), encode(Command(verb="preflight"))]
    told: list[Up] = []
    faults: list[str] = []
    command = [sys.executable, "-m", "tocsin.worker", "light"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(b"".join(lines))
        process.stdin.flush()
        while len(faults) <= len(NO_MESSAGES):
            told.append(decode_up(process.stdout.readline()))
            faults += [m.what for m in told[-1:] if isinstance(m, Event) and m.kind == "fault"]
        assert faults == ["a line is not a message"] * len(NO_MESSAGES) + ["a line is out of place"]
        assert any(isinstance(message, Opened) for message in told)
        while not isinstance(decode_up(process.stdout.readline()), Heartbeat):      # it still lives
            pass
        process.stdin.close()
        assert process.wait(LIMIT_S) == 0


def test_a_line_without_end_is_cut_and_the_next_one_is_whole():
    lines: SimpleQueue[bytes | None] = SimpleQueue()
    read_fd, write_fd = os.pipe()
    reader = LineReader(read_fd, lines.put, lambda: lines.put(None), "endless")
    with os.fdopen(write_fd, "wb") as pipe:
        for _ in range(LONGEST_LINE // 65536 + 40):
            pipe.write(b"x" * 65536)
        pipe.write(b"\nnext\nlast")
    cut = lines.get(timeout=LIMIT_S)
    assert cut is not None
    assert len(cut) == LONGEST_LINE
    assert [lines.get(timeout=LIMIT_S) for _ in range(3)] == [b"next", b"last", None]
    reader.join(LIMIT_S)
    os.close(read_fd)
