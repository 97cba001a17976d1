"""Define the form of all sounds made here: 16-bit signed, little-endian, stereo with both sides alike, 48 kHz."""

from tocsin.units import NS_PER_S

RATE_HZ = 48_000
SIDES = 2                              # left and right
SAMPLE_BYTES = 2
FRAME_BYTES = SIDES * SAMPLE_BYTES
PEAK = 32_767


def sounds_ns(samples: bytes) -> int:
    """Return the playing time in nanoseconds of ``samples`` in this form (16-bit stereo at 48 kHz)."""
    return len(samples) // FRAME_BYTES * NS_PER_S // RATE_HZ
