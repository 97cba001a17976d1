"""Command blocks against the published block types, a catalogue's checksum, and bytes worked out by hand."""

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.channels.simulated_board import checksum
from tocsin.channels.light.blocks import (
    BAUDS,
    ORDERS,
    BlockError,
    BlockReader,
    Settings,
    command,
    crc8,
    read_identity,
    refusal,
    reset_words,
    write_payload,
)

FINE = Settings(leds=60, order="GRB", max_ma=390, baud=250_000)
settings_of = st.builds(
    Settings, leds=st.integers(1, 400), order=st.sampled_from(ORDERS), max_ma=st.integers(50, 20_000),
    baud=st.sampled_from(BAUDS), clock_ppm=st.integers(-20_000, 20_000),
)  # fmt: skip
# An answer as the firmware gives it: strip, version 1, at most 400 LEDs, 60 GRB 390 mA 115,200 baud, reset line.
ANSWER = bytes.fromhex("49 53 01 01 90 01 00 3C 02 01 86 00 00 00 02")


def block(payload):
    return b"\xc9\xaa" + len(payload).to_bytes(2, "big") + payload + b"\x36"


def test_the_checksum_is_the_catalogues():
    """CRC-8/SMBUS: the check value of "123456789" is F4 (catalogue of CRCs, from memory)."""
    assert crc8(b"123456789") == checksum(b"123456789") == 0xF4


@given(st.binary(max_size=20))
def test_the_checksum_is_that_of_a_long_division(data):
    assert crc8(data) == checksum(data)


def test_a_command_is_a_tpm2_block():
    """TPM2 (read): C9 C0, the length with its high byte first, the payload, 36."""
    assert command(b"I") == bytes.fromhex("C9 C0 00 01 49 36")


def test_settings_stand_in_their_order_with_the_checksum_behind():
    """60 = 3C, GRB = 2, 390 = 0186, 250,000 = 1, 5000 ppm fast = 1388 (computed); the checksum by long division."""
    payload = write_payload(msgspec.structs.replace(FINE, clock_ppm=5000))
    assert payload[:-1] == bytes.fromhex("57 01 00 3C 02 01 86 01 13 88")
    assert payload[-1] == checksum(payload[1:-1])


def test_who_answers_is_read():
    found = read_identity(ANSWER)
    assert (found.firmware, found.version, found.most_leds, found.reset) == ("strip", 1, 400, 2)
    assert found.settings == msgspec.structs.replace(FINE, baud=115_200)
    assert read_identity(b"IB" + ANSWER[2:]).firmware == "box"


@given(settings_of)
def test_what_is_written_is_what_is_read_back(settings):
    packed = write_payload(settings)[1:-1]
    assert read_identity(b"IS\x01\x01\x90" + packed + b"\0").settings == settings
    assert refusal(settings, 400) == "" or settings.max_ma <= settings.leds


@pytest.mark.parametrize("wrong", [b"", b"I", ANSWER[:-1], ANSWER + b"\0", b"K" + ANSWER[1:], b"IX" + ANSWER[2:],
                                   ANSWER[:5] + b"\x02" + ANSWER[6:], ANSWER[:8] + b"\x06" + ANSWER[9:]])  # fmt: skip
def test_what_is_no_identity_is_an_error(wrong):
    with pytest.raises(BlockError):
        read_identity(wrong)


@pytest.mark.parametrize(
    ("change", "told"),
    [({"leds": 0}, "1 to 400"), ({"leds": 401}, "1 to 400"), ({"max_ma": 49}, "50 to 20000"),
     ({"max_ma": 20_001}, "50 to 20000"),
     ({"leds": 60, "max_ma": 60}, "dark LEDs"), ({"baud": 9600}, "115200, 250000, 500000"), ({"order": "GRX"}, "GRB"),
     ({"clock_ppm": 20_001}, "20000"), ({"clock_ppm": -20_001}, "20000")],
)  # fmt: skip
def test_what_a_board_does_not_take_is_refused_with_what_it_takes(change, told):
    assert told in refusal(msgspec.structs.replace(FINE, **change), 400)
    assert refusal(FINE, 400) == ""


def test_the_last_restart_is_told_in_words():
    """ATmega328P datasheet, MCUSR (from memory): 1 power on, 2 external reset, 4 brown-out, 8 watchdog."""
    assert [reset_words(1 << bit).split()[0] for bit in range(4)] == ["power", "its", "too", "its"]
    assert "watchdog" in reset_words(8)
    assert "watchdog" in reset_words(8 | 1)
    assert reset_words(0) == ""


@given(st.lists(st.one_of(st.just(b"Ada\n"), st.just(b"\xac"), st.binary(max_size=12)), max_size=4), st.data())
def test_an_answer_is_found_among_noise_in_whatever_pieces_it_comes(noise, data):
    """Noise that could be the begin of a block is left out: it may take a byte of the answer with it, as on a line."""
    before = b"".join(noise).replace(b"\xc9", b"\x00")
    line = before + block(ANSWER) + b"Ada\n" + block(b"K\x00\x00\x00\x01")
    reader, found, at = BlockReader(), [], 0
    while at < len(line):
        step = data.draw(st.integers(1, 9))
        found += reader.take(line[at : at + step])
        at += step
    assert found == [ANSWER, b"K\x00\x00\x00\x01"]


@pytest.mark.parametrize("lost", range(len(block(ANSWER))))
def test_a_torn_answer_is_never_taken_for_a_whole_one_and_the_next_is_found(lost):
    whole = block(ANSWER)
    reader = BlockReader()
    torn = whole[:lost] + whole[lost + 1 :]
    assert reader.take(torn) + reader.take(whole) == [ANSWER]


def test_a_block_that_claims_to_be_longer_than_any_is_noise():
    assert BlockReader().take(b"\xc9\xaa\xff\xff" + block(ANSWER)) == [ANSWER]
