"""A rig made of what is plugged in: a first guess, for people to try and to write down. Pure."""

from tocsin.channels.rumble.pads import entry_of, listing
from tocsin.features.devices.probed import Port, Ports, ProbeResults
from tocsin.model.plan import ROLES
from tocsin.model.rig import Light, Rig, Screen, Sound

NAME = "Plugged in"


def rig_of(found: ProbeResults) -> Rig:
    """Return a rig of the devices that were found: the pads get roles in order, the first port behind USB is the strip.

    More pads than roles are left out: ``beyond_roles`` says which. It drives a robot until somebody says that it does
    not.
    """
    pads = tuple(
        entry_of(pad, found.pads.found, role) for pad, role in zip(found.pads.found, ROLES, strict=False)
    )
    return Rig(
        name=NAME,
        pads=pads,
        light=next((light_at(port.name, found.ports) for port in found.ports.found if port.usb), None),
        sound=Sound() if found.sound.opens else None,
        screen=Screen() if found.displays.sizes else None,
    )


def beyond_roles(found: ProbeResults) -> str:
    """Return which pads such a rig leaves out and why, or nothing."""
    beyond = found.pads.found[len(ROLES):]
    if not beyond:
        return ""
    return f"{len(found.pads.found)} pads and {len(ROLES)} roles: the new rig leaves out {listing(beyond)}"


def light_at(name: str, ports: Ports) -> Light:
    """Return the strip on a port: looked up by its USB ids where they tell it from all others, else by its name."""
    usb = next((port.usb for port in ports.found if port.name == name), "")
    alike: list[Port] = [port for port in ports.found if port.usb == usb]
    return Light(usb=usb) if usb and len(alike) == 1 else Light(port=name, usb=usb)
