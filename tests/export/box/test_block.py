"""The plan of a box: its bytes, and the code that reads them, which has to answer as the C export's own arrays do."""

import binascii
import random
import struct

import pytest

from tests.export.robot.test_same import ANEW, needs_gcc
from tests.support.export.box_driver import build_box
from tests.support.export.exported_plans import BUNDLED, bundled, source
from tests.support.export.robot_drivers import SANITIZED, asked, checked
from tests.support.export.robot_games import lives, random_source
from tests.support.export.robot_oracle import Oracle
from tests.support.firmware_plan import PLAN_H
from tests.support.model.compiled_games import cue, match_of, period, plan_of
from tocsin.errors import MistakeError
from tocsin.export.box.block import (
    BLOCK_AT,
    BLOCK_ENDS,
    ORDERS,
    ROOM_CUES,
    ROOM_FIRINGS,
    ROOM_ROWS,
    crc_ccitt,
    plan_block,
    plan_header,
)
from tocsin.export.robot.table import table_of
from tocsin.model.pattern import LightPattern, Patterns, RumblePattern, RumbleStep
from tocsin.units import NS_PER_MS as MS

STRIP = {"leds": 30, "order": "GRB", "max_ma": 390, "brightness": 0.5}


def block_of(made):
    return plan_block(made, **STRIP)


def fits(made):
    """Return whether a plan fits into the box."""
    try:
        block_of(made)
    except MistakeError:
        return False
    return True


def test_the_code_of_the_box_is_rendered_from_the_templates():
    """`python -m tests.support.firmware_plan` writes it."""
    assert PLAN_H.read_text("utf-8") == plan_header()


def test_the_checksum_is_the_one_of_the_chips_library():
    """avr-libc, util/crc16.h, `_crc_ccitt_update`: polynomial 0x8408 (x^16 + x^12 + x^5 + 1, least bit first), begun
    with 0xFFFF, nothing done at the end. The catalogue of CRC algorithms calls that CRC-16/MCRF4XX and gives 0x6F91 for
    "123456789" (from memory); PPP's (RFC 1662, appendix C) is the same with all bits turned over: 0x906E."""
    assert crc_ccitt(b"123456789") == 0x6F91
    assert crc_ccitt(b"123456789") ^ 0xFFFF == 0x906E


def test_the_checksum_is_the_standard_librarys_with_all_bits_the_other_way_round():
    """binascii.crc_hqx is the same polynomial, greatest bit first."""
    rng = random.Random(1)
    for length in (0, 1, 2, 3, 40, 1000):
        data = rng.randbytes(length)
        turned = bytes(int(f"{byte:08b}"[::-1], 2) for byte in data)
        assert crc_ccitt(data) == int(f"{binascii.crc_hqx(turned, 0xFFFF):016b}"[::-1], 2)


def test_a_remainder_of_zero_is_left_over_the_whole_block():
    """A property of each CRC that is sent lowest byte first and not turned over (RFC 1662 has it with turned bits)."""
    assert crc_ccitt(block_of(bundled("full"))) == 0


@pytest.mark.parametrize("plan", BUNDLED)
def test_a_block_begins_with_what_a_box_asks_for_first(plan):
    block = block_of(bundled(plan))
    magic, layout, order, length, leds, max_ma, brightness = struct.unpack_from("<4sBBHHHB", block)
    assert (magic, layout, length) == (b"TCSN", 1, len(block))
    assert (ORDERS[order], leds, max_ma, brightness) == ("GRB", 30, 390, 128)
    assert len(block) <= BLOCK_ENDS - BLOCK_AT


class Batch:
    """Random plans that fit into the box, what is done to each, and what the oracle answered."""

    def __init__(self, seeds):
        self.sources = [made for made in map(random_source, seeds) if fits(made)]
        self.tables = [table_of(made) for made in self.sources]
        self.deeds, self.expected = [], []
        for plan, (made, table) in enumerate(zip(self.sources, self.tables, strict=True)):
            oracle = Oracle(made, list(table.roles), [cue.id for cue in table.cues[:-1]])
            for life in lives(plan, made.timeline, table, 6):
                for deed in (ANEW, *life):
                    self.deeds.append((plan, deed))
                    self.expected.append(oracle.answer(deed))


@needs_gcc
@pytest.mark.parametrize("flags", [(), SANITIZED], ids=["plain", "sanitized"])
def test_the_box_gives_what_the_timeline_gives(flags, tmp_path):
    batch = Batch(range(1000, 1040))
    assert len(batch.sources) > 20
    program = build_box(tmp_path, batch.tables, [block_of(made) for made in batch.sources], flags)
    answers = checked([str(program)], asked(batch.deeds)).splitlines()
    assert len(answers) == len(batch.expected)
    for place, (want, got) in enumerate(zip(batch.expected, answers, strict=True)):
        if want not in (got, "?"):
            pytest.fail(f"plan {batch.deeds[place]}: expected\n{want}\nbut got\n{got}")


@needs_gcc
def test_a_block_with_any_wrong_byte_is_no_plan(tmp_path):
    block = block_of(bundled("quiet"))
    rng = random.Random(2)
    spoilt = [block[:at] + bytes([block[at] ^ 1 << rng.randrange(8)]) + block[at + 1 :]
              for at in (0, 3, 4, 6, 7, *rng.sample(range(8, len(block)), 40))]  # fmt: skip
    spoilt += [bytes(len(block)), b"\xff" * len(block)]                  # flash that was never written is all ones
    tables = [table_of(bundled("quiet"))] * (len(spoilt) + 1)
    program = build_box(tmp_path, tables, [block, *spoilt])
    deeds = [(plan, ("v", -9, 0, 0)) for plan in range(len(tables))]
    assert checked([str(program)], asked(deeds)).splitlines() == ["0 7", *["NO PLAN"] * len(spoilt)]


# -- what does not fit ------------------------------------------------------------------------------------------------


RUMBLE = {"rumble": "short"}


@pytest.mark.parametrize(
    ("cues", "told"),
    [
        ([cue("a", "driver.begin", "driver.begin+32s", every_ns=1000 * MS, patterns=RUMBLE)],
         f"{ROOM_FIRINGS} firings of rumble, and this plan has 66"),
        ([cue("a", "driver.begin", "driver.begin+90s", every_ns=400 * MS, patterns={"sound": "beep"})],
         f"{ROOM_ROWS} rows of rumble, light and tones, and this plan has 227"),
        ([cue(f"c{n}", f"driver.begin+{n}s", patterns=RUMBLE, roles=("driver",)) for n in range(18)],
         f"{ROOM_CUES} cues, and this plan has 19"),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_refused_with_the_figure(cues, told):
    with pytest.raises(MistakeError, match=told):
        block_of(source(match_of(), plan_of(*cues)))


def test_patterns_that_take_too_many_bytes_are_refused_with_the_figure():
    steps = tuple(RumbleStep(strong=k % 50 / 50, weak=k % 7 / 7, lasts_ns=50 * MS) for k in range(200))
    patterns = Patterns(rumble={f"p{n}": RumblePattern(steps=steps[: 200 - n]) for n in range(7)})
    cues = [cue(f"c{n}", f"drive.begin+{n}s", patterns={"rumble": f"p{n}"}, roles=("driver",)) for n in range(7)]
    with pytest.raises(MistakeError, match=rf"{BLOCK_ENDS - BLOCK_AT} bytes of a plan, and this one takes 16978"):
        block_of(source(match_of(period("drive", 60)), plan_of(*cues, patterns=patterns)))


def test_light_that_would_flash_is_refused():
    flash = LightPattern(form="on_off", colours=((255, 255, 255),), cycle_ns=200 * MS, lasts_ns=3000 * MS)
    plan = plan_of(cue("a", "driver.begin", patterns={"light": "flash"}), patterns=Patterns(light={"flash": flash}))
    with pytest.raises(MistakeError, match="the strip would flash: 10 changes"):
        block_of(source(match_of(), plan))
