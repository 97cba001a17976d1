"""Write a plan as the bytes that the box reads from its flash, and the C code that reads them.

The rows are those of the C export (``export.robot.table``), laid out as its structs lie in the chip's memory: little
endian, each table at a multiple of four, so that the same structs read them on any machine. The code is the C export's
own logic (``templates/robot_logic.c.in``) over these rows instead of arrays.

Layout 1: the header (``_HEADER``), the tables, and a CRC-16 over all before it.
"""

import struct
from collections.abc import Iterable

from tocsin.errors import MistakeError
from tocsin.export.robot.c import LOGIC
from tocsin.export.robot.flashing import refuse_flashing
from tocsin.export.robot.rows import starts, swell
from tocsin.export.robot.table import FOREVER_MS, LATE_PRESS_MS, MOST_MS, RobotTable, table_of
from tocsin.export.robot.text import fill, template
from tocsin.export.source import Source
from tocsin.model.plan import ROLES
from tocsin.translation import tr

MAGIC = b"TCSN"
LAYOUT = 1
BLOCK_AT, BLOCK_ENDS = 0x5000, 0x7800          # in the chip's flash: behind the program, below any boot loader
ORDERS = ("RGB", "RBG", "GRB", "GBR", "BRG", "BGR")
# Room of the plan's state in the chip's memory, fixed as the box is compiled; with these it takes 699 bytes.
STATE_BYTES = 700
ROOM_FIRINGS, ROOM_ROWS, ROOM_ROLES, ROOM_CUES = 64, 220, len(ROLES), 18

# Magic; layout, order; length, LEDs, most milliamperes; brightness, whether the display rounds down; counts; the number
# of each of ROLES (-1: none) and spare bytes; where each table begins.
_HEADER = struct.Struct("<4sBBHHHBB12h5b3x9H")
_PERIOD, _FIRING, _LIGHT = struct.Struct("<5i4h"), struct.Struct("<3i6h"), struct.Struct("<2ihB3B3B3x")


def plan_block(source: Source, *, leds: int, order: str, max_ma: int, brightness: float) -> bytes:
    """Return a plan's block, with what the box takes for its strip until its own settings say otherwise: how many LEDs
    (1 to 2000), their colours' order (one of ORDERS), the most current in mA, and the brightness, 0 to 1.

    Raises MistakeError for a plan that does not fit into the chip, or whose light would flash, with the figures.
    """
    table = table_of(source)
    refuse_flashing(source, table, (leds,))
    _demand_room(table)
    at = _HEADER.size
    offsets, body = [], b""
    for part in _tables(table):
        offsets.append(at + len(body))
        body += part + bytes(-len(part) % 4)
    length = at + len(body) + 2
    if length > BLOCK_ENDS - BLOCK_AT:
        raise MistakeError(
            tr("the box has room for {room} bytes of a plan, and this one takes {length}",
               room=BLOCK_ENDS - BLOCK_AT, length=length),
            hint=tr("take patterns with fewer steps, or leave channels of some cues out"),
        )  # fmt: skip
    floor = source.timeline.digits == "floor"
    head = (MAGIC, LAYOUT, ORDERS.index(order), length, leds, max_ma, round(brightness * 255), floor)
    roles = [table.roles.index(role) if role in table.roles else -1 for role in ROLES]
    block = _HEADER.pack(*head, *_counts(table), *roles, *offsets) + body
    return block + struct.pack("<H", crc_ccitt(block))


def crc_ccitt(data: bytes) -> int:
    """Return the CRC-16 of bytes as avr-libc's ``_crc_ccitt_update`` computes it, from 0xFFFF on.

    Its documentation (util/crc16.h) gives the polynomial, x^16 + x^12 + x^5 + 1, least bit first (0x8408), and this
    code.
    """
    crc = 0xFFFF
    for byte in data:
        low = byte ^ (crc & 0xFF)
        low ^= low << 4 & 0xFF
        crc = (low << 8 | crc >> 8) ^ low >> 4 ^ low << 3
    return crc


def call_home(table: RobotTable) -> int:
    """Return the number of the cue that the box gives by hand, the most urgent one that may be; -1 without any."""
    by_hand = [number for number, cue in enumerate(table.cues) if cue.callable]
    rank = {row.cue: row.priority for row in table.firings}
    return max(by_hand, key=lambda cue: (rank[cue], -cue), default=-1)


def plan_header() -> str:
    """Return ``plan.h``, the code with which the box reads a block."""
    whole = template("box_plan.h.in")
    for name, file in {"SHARED": "robot_shared.c.in", "LOGIC": LOGIC}.items():
        whole = whole.replace(f"@{name}@", template(file))
    values = {
        "MOST_MS": MOST_MS, "FOREVER": FOREVER_MS, "LATE_PRESS_MS": LATE_PRESS_MS, "LAYOUT": LAYOUT,
        "BLOCK_AT": f"0x{BLOCK_AT:04X}", "BLOCK_ROOM": BLOCK_ENDS - BLOCK_AT, "STATE_BYTES": STATE_BYTES,
        "ROOM_FIRINGS": ROOM_FIRINGS, "ROOM_ROWS": ROOM_ROWS, "ROOM_ROLES": ROOM_ROLES, "ROOM_CUES": ROOM_CUES,
        "SWELL": ",\n".join(f"    {line}" for line in swell()),
    }  # fmt: skip
    return fill(whole, {name: str(value) for name, value in values.items()})


def _demand_room(table: RobotTable) -> None:
    for what, room, count in (
        (tr("firings of rumble"), ROOM_FIRINGS, table.rumble),
        (tr("rows of rumble, light and tones"), ROOM_ROWS, len(table.firings)),
        (tr("cues"), ROOM_CUES, len(table.cues)),
    ):
        if count > room:
            raise MistakeError(
                tr("the box has room for {room} {what}, and this plan has {count}", room=room, what=what, count=count),
                hint=tr("let repeats (every) come less often, or leave channels of some cues out"),
            )


def _counts(table: RobotTable) -> Iterable[int]:
    return (
        len(table.periods), len(table.roles), len(table.cues), len(table.variants), table.default_variant,
        table.rumble, table.lost, table.first_tone, len(table.firings), len(table.segments), table.main_period,
        call_home(table),
    )  # fmt: skip


def _tables(table: RobotTable) -> list[bytes]:
    """Return the bytes of each table, in the header's order."""
    steps = [step for pattern in table.patterns for step in pattern.steps]
    tones = [step for tune in table.tunes for step in tune.steps]
    return [
        b"".join(_PERIOD.pack(row.begin_ms, _or_none(row.zero_ms), row.low_ms, row.high_ms, _or_none(row.end_ms),
                              row.segment, *row.first) for row in table.periods),
        _numbers("h", (edge for edges in table.segments for edge in edges)),
        b"".join(_FIRING.pack(row.due_ms, row.last_ms, row.until_ms, row.cue, row.n, row.role, row.priority, row.when,
                              row.pattern) for row in table.firings),
        _numbers("h", (number for cue in table.cues
                       for number in (cue.when, cue.first_call, cue.calls, cue.light_call, cue.tone_call))),
        _numbers("i", map(int, starts(len(pattern.steps) for pattern in table.patterns))),
        _numbers("i", (number for step in steps for number in step)),
        b"".join(_LIGHT.pack(look.cycle_ms, look.lasts_ms, look.width, look.form, *look.first, *look.second)
                 for look in table.looks),
        _numbers("i", map(int, starts(len(tune.steps) for tune in table.tunes))),
        _numbers("i", (number for step in tones for number in step)),
    ]  # fmt: skip


def _numbers(kind: str, numbers: Iterable[int]) -> bytes:
    return b"".join(struct.pack(f"<{kind}", number) for number in numbers)


def _or_none(ms: int | None) -> int:
    return -1 if ms is None else ms
