"""Make a rig from the plugged-in devices: a first guess, for people to try and to write down. Pure."""

from tocsin.channels.rumble.pads import entry_of, listing
from tocsin.features.devices.probed import Port, Ports, ProbeResults
from tocsin.model.plan import ROLES
from tocsin.model.rig import Light, Rig, Screen, Sound
from tocsin.translation import tr

NAME = tr("Plugged in")


def rig_of(found: ProbeResults) -> Rig:
    """Return a rig of the found devices: pads get roles in order, the first port on USB is the strip.

    Pads beyond the number of roles are left out: ``beyond_roles`` lists them. The rig drives a robot until somebody
    says that it does not.
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
    """Return which pads such a rig leaves out and why, or an empty text."""
    beyond = found.pads.found[len(ROLES):]
    if not beyond:
        return ""
    return tr(
        "{count} pads and {count_2} roles: the new rig leaves out {beyond}", count=len(found.pads.found),
        count_2=len(ROLES), beyond=listing(beyond),
    )


def light_at(name: str, ports: Ports) -> Light:
    """Return the strip on a port: by its USB ids if no other port has them, else by its name."""
    usb = next((port.usb for port in ports.found if port.name == name), "")
    alike: list[Port] = [port for port in ports.found if port.usb == usb]
    return Light(usb=usb) if usb and len(alike) == 1 else Light(port=name, usb=usb)
