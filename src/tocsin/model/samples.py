"""The form of all sounds that are made here: 16 bits with a sign, little-endian, both sides alike."""

from tocsin.units import NS_PER_S

RATE_HZ = 48_000
SIDES = 2                              # left and right
SAMPLE_BYTES = 2
FRAME_BYTES = SIDES * SAMPLE_BYTES
PEAK = 32_767


def sounds_ns(samples: bytes) -> int:
    """Return how long samples sound, in nanoseconds."""
    return len(samples) // FRAME_BYTES * NS_PER_S // RATE_HZ
