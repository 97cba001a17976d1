"""Nothing wrong is ever shown, whatever happens to the line: cut, torn, garbled, flooded, silent; and then it is black
in time.

What neither protocol can notice is left out, since there is no checksum: a colour that arrives as another one, and the
rest of a frame whose begin is lost that fits behind one whose end is. Adalight marks no end: there whatever fills a
frame to the byte, within 5 ms and silence behind it, passes for its rest. So TPM2 is the better one.
"""

import random

import pytest
from hypothesis import settings

from tests.support.firmware import line
from tests.support.firmware.chip import Script
from tests.support.firmware.toolchain import image, needs_chip
from tocsin.units import NS_PER_MS, NS_PER_S

LEDS = 16
LIVES = settings.default.max_examples
BEGIN_NS = 1_500 * NS_PER_MS
BLACK = bytes(3 * LEDS)
BLACK_AFTER_NS = 2_500 * NS_PER_MS


def dropped(source, data):
    """Lose a byte to three in a row, as a full buffer would."""
    place = source.randrange(len(data))
    return data[:place] + data[place + source.randint(1, 3) :]


def cut(source, data):
    return data[: source.randrange(1, len(data))]


def beheaded(source, data):
    return data[source.randrange(1, len(data)) :]


def inserted(source, data):
    place = source.randrange(len(data) + 1)
    return data[:place] + source.randbytes(source.randint(1, 3)) + data[place:]


def wrong_header(source, data):
    """Flip bits of the header, a length perhaps."""
    header = 6 if data[:1] == b"A" else 4
    place = source.randrange(header)
    return data[:place] + bytes((data[place] ^ source.randint(1, 255),)) + data[place + 1 :]


def doubled(source, data):
    place = source.randrange(len(data))
    return data[: place + 1] + data[place:]


DAMAGES = (dropped, cut, beheaded, inserted, wrong_header, doubled)


def lived(seed):
    """Return a life on a bad line, and the pictures that were sent whole and damaged."""
    source = random.Random(seed)
    baud = source.choice(line.BAUDS)
    script = Script(baud=baud, eeprom=line.eeprom(leds=LEDS, baud=baud))
    frame_ns = (3 * LEDS + 6) * 10 * NS_PER_S // baud
    pictures = line.steady(source, LEDS, 60)
    at_ns, before = BEGIN_NS, 7
    for picture in pictures[:-5]:
        data = source.choice((line.tpm2, line.adalight))(picture)
        fault = source.randrange(8)
        match fault:
            case 0 | 1 | 2:
                some = [damage for damage in DAMAGES if damage is not beheaded or before > 5]
                script.send(at_ns, source.choice(some)(source, data))
            case 3:
                place = source.randrange(len(data))
                script.send(at_ns, data[:place])
                script.torn(at_ns, data[place : place + 1])
                script.send(at_ns, data[place + 1 :])
            case 4:
                script.send(at_ns, data)
                script.cut(at_ns + source.randrange(frame_ns * 9 // 10))
            case 5:
                script.send(at_ns, source.randbytes(source.randrange(1, 600)))
                at_ns += 600 * 10 * NS_PER_S // baud
            case _:
                script.send(at_ns, data)
        before = fault
        # At once, after a moment, or after more silence than a frame may hold.
        pauses = (0, frame_ns, frame_ns + 3 * NS_PER_MS, frame_ns + 30 * NS_PER_MS)
        at_ns += pauses[-1] if data[:1] == b"A" and fault < 6 else source.choice(pauses)
    script.low(at_ns, source.randrange(1, 3 * NS_PER_MS))
    clear_ns = at_ns + 60 * frame_ns + 60 * NS_PER_MS
    for place, picture in enumerate(pictures[-5:]):
        script.send(clear_ns + place * (frame_ns + 20 * NS_PER_MS), line.tpm2(picture))
    last_ns = clear_ns + 5 * (frame_ns + 20 * NS_PER_MS)
    return script.run(image("strip"), last_ns + BLACK_AFTER_NS + 100 * NS_PER_MS), pictures


@needs_chip
def test_no_frame_is_shown_that_was_not_sent_and_what_comes_whole_is_shown_again():
    faults = 0
    for seed in range(LIVES):
        life, pictures = lived(seed)
        shown = [frame.data[: 3 * LEDS] for frame in life.frames[1:]]
        assert set(shown) <= {*pictures, BLACK}, seed
        places = [pictures.index(picture) for picture in shown if picture != BLACK]
        assert places == sorted(set(places)), seed
        assert places[-5:] == list(range(55, 60)), seed
        faults += 60 - len(places)
        assert shown[-1] == BLACK
        wait_ns = life.frames[-1].begin_ns - life.frames[-2].end_ns
        assert abs(wait_ns - BLACK_AFTER_NS) < 5 * NS_PER_MS, seed
    assert faults > 10 * LIVES                       # the line was bad indeed


@needs_chip
def test_a_torn_byte_gives_its_frame_up_even_if_a_stray_one_fills_the_count():
    first, second = line.steady(random.Random(8), LEDS, 2)
    data = line.adalight(first)
    script = Script(eeprom=line.eeprom(leds=LEDS))
    script.send(BEGIN_NS, data[:20])
    script.torn(BEGIN_NS, data[20:21])
    script.send(BEGIN_NS + 2 * NS_PER_MS, data[21:] + b"\x07" + line.adalight(second))
    life = script.run(image("strip"), BEGIN_NS + 100 * NS_PER_MS)
    assert life.framings == 1
    assert [frame.data for frame in life.frames[1:]] == [second]


@needs_chip
@pytest.mark.parametrize("noise", ["random", "headers", "silence", "low", "greeting"])
def test_a_line_without_frames_goes_black_after_two_and_a_half_seconds(noise):
    """Whatever else comes, as fast as it can: nothing, noise, the begins of frames, a line that is stuck."""
    source = random.Random(noise)
    script = Script(baud=500_000, eeprom=line.eeprom(leds=LEDS, baud=500_000))
    picture = line.steady(source, LEDS, 1)[0]
    script.send(BEGIN_NS, line.tpm2(picture))
    flood_ns, size = BEGIN_NS + 100 * NS_PER_MS, 130_000
    match noise:
        case "random":
            script.send(flood_ns, source.randbytes(size))
        case "headers":
            script.send(flood_ns, (b"Ada\x00\x0f\x5a" + line.tpm2(picture)[:-3]) * (size // 56))
        case "greeting":
            script.send(flood_ns, b"Ada\n" * (size // 4))
        case "low":
            script.low(flood_ns, 2_400 * NS_PER_MS)
    life = script.run(image("strip"), BEGIN_NS + 3 * NS_PER_S)
    assert [frame.data[: 3 * LEDS] for frame in life.frames[1:]] == [picture, BLACK]
    assert abs(life.frames[2].begin_ns - life.frames[1].end_ns - BLACK_AFTER_NS) < 10 * NS_PER_MS
    assert len(life.resets) == 1                     # the watchdog was not needed


@needs_chip
def test_noise_of_a_wrong_rate_shows_nothing():
    """A laptop that sends at another rate than the board listens at."""
    for baud, other in ((115_200, 250_000), (250_000, 115_200), (250_000, 500_000), (500_000, 9_600)):
        script = Script(baud=other, eeprom=line.eeprom(leds=LEDS, baud=baud))
        for place, picture in enumerate(line.steady(random.Random(baud), LEDS, 20)):
            script.send(BEGIN_NS + place * 10 * NS_PER_MS, line.tpm2(picture) + line.adalight(picture))
        life = script.run(image("strip"), BEGIN_NS + 500 * NS_PER_MS)
        assert len(life.frames) == 1, (baud, other)
