"""What a person's wish came to: done, or refused and why. None stands for "this is not mine to do"."""

import msgspec


class Done(msgspec.Struct, frozen=True):
    """It was done. ``told`` is what people read of it, if anything; ``briefly``: it only confirms their key."""

    told: str = ""
    briefly: bool = False


class Refused(msgspec.Struct, frozen=True):
    """It was not done; ``why`` is a sentence for people."""

    why: str


Outcome = Done | Refused
