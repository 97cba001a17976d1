"""Define the outcome of a person's request: done, or refused and why. None means "not handled here"."""

import msgspec


class Done(msgspec.Struct, frozen=True):
    """The request was carried out. ``told`` is the sentence for people, if any; ``briefly``: it only confirms their
    key."""

    told: str = ""
    briefly: bool = False


class Refused(msgspec.Struct, frozen=True):
    """The request was not carried out; ``why`` is a sentence for people."""

    why: str


Outcome = Done | Refused
