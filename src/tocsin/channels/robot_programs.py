"""Whether another program seems to drive a robot with pads of this laptop: it has one open."""

from pathlib import Path

from tocsin.channels.holders import Holder, holders

_DEVICES, _KNOWN = Path("/dev/input"), Path("/sys/class/input")            # Linux


def programs_at_pads() -> tuple[Holder, ...]:
    """Return the programs that have a pad open, as far as the system tells it."""
    devices = pad_devices(_DEVICES, _KNOWN)
    return holders(devices) if devices else ()


def pad_devices(devices: Path, known: Path) -> tuple[str, ...]:
    """Return the files of all pads: ``js*``, and the ``event*`` of the same device. Others are keyboards and mice."""
    pads = sorted(devices.glob("js*"))
    events = [devices / event.name for pad in pads for event in sorted((known / pad.name / "device").glob("event*"))]
    return tuple(map(str, [*pads, *events]))
