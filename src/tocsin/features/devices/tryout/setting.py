"""What the devices are tried with: the people, the rig, what was found plugged in."""

from random import Random
from typing import NamedTuple

from tocsin.features.devices.probed import Found
from tocsin.features.devices.tryout.people import People
from tocsin.model.rig import Rig


class Setting(NamedTuple):
    """``rig`` was read from a file, or, if it is ``new``, made of what was ``found``."""

    people: People
    rig: Rig
    found: Found
    random: Random
    new: bool
