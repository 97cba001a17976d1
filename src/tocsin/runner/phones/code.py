"""Make the code that a phone scans (ISO/IEC 18004)."""

from functools import lru_cache


@lru_cache(8)
def modules(text: str) -> tuple[str, ...]:
    """Return the rows of the code for a text, ``1`` for dark and ``0`` for light, without a margin.

    The segno library is loaded here: only who lets phones in needs it.
    """
    import segno

    return tuple("".join(str(bit) for bit in row) for row in segno.make(text, micro=False, error="m").matrix)
