"""Define the outcome of a person's request: done, or refused and why. None means "not handled here"."""

import msgspec


class Done(msgspec.Struct, frozen=True):
    """The request was carried out. ``told`` is the sentence for people, if any; ``briefly``: it only confirms their
    key. ``here``: it names keys of the laptop, and is for who stands there alone."""

    told: str = ""
    briefly: bool = False
    here: bool = False


class Refused(msgspec.Struct, frozen=True):
    """The request was not carried out; ``why`` is a sentence for people, ``here`` is as in ``Done``."""

    why: str
    here: bool = False


Outcome = Done | Refused
