"""Look for one kind of device each, like a match would, and release it afterwards.

No port is opened, since that resets many boards; no pad is shaken; no window is shown; nothing sounds. Of packages only
those are loaded whose device the rig names, and no hook of it is called.
"""

import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from types import ModuleType

import msgspec
from serial.tools import list_ports

from tocsin import monotime
from tocsin.channels.holders import holders
from tocsin.channels.installed import Kind as DeviceKind
from tocsin.channels.installed import Loaded, NotUsableError, installed_devices
from tocsin.channels.light.port import PortError, find, in_use, reason, usb_ids
from tocsin.channels.rumble.joysticks import Joysticks
from tocsin.channels.screen.window import close_window, start_display
from tocsin.channels.sdl import import_pygame
from tocsin.channels.sound.channel import SoundChannel
from tocsin.features.devices.probed import KINDS, Displays, Loudspeaker, Packages, Pads, Port, Ports, Sdl, Usb
from tocsin.features.devices.usb_tree import USB_DEVICES, read_devices
from tocsin.model.rig import Light, Rig, Sound
from tocsin.readable import utf8_json
from tocsin.translation import tr
from tocsin.units import NS_PER_MS
from tocsin.workers.bench import bench_of_environment

# Some systems tell of pads only after SDL has been pumped for a while.
_LOOK_NS = 600 * NS_PER_MS
_PAUSE_NS = 20 * NS_PER_MS
_INPUT_DEVICES = Path("/dev/input")                    # Linux
_SOUND_DEVICES = Path("/dev/snd")                      # Linux, ALSA


def probe_pads(rig: Rig) -> Pads:
    """Return the plugged-in pads, each opened for a moment to read its name and ids."""
    try:
        joysticks = Joysticks(hidapi=any(pad.hidapi for pad in rig.pads))
        joysticks.start()
    except (RuntimeError, ImportError) as error:
        return Pads(why=tr("SDL's joysticks do not start: {error}", error=error))
    pygame = sys.modules["pygame"]
    bench = bench_of_environment()
    bench.opened(joysticks, monotime.now_ns())
    until_ns = monotime.now_ns() + _LOOK_NS
    while monotime.now_ns() < until_ns:
        bench.tick(joysticks, monotime.now_ns())
        joysticks.poll()
        joysticks.keep(set())
        monotime.sleep_ns(_PAUSE_NS)
    sdl = _sdl(pygame, pygame.display.get_driver())
    found = joysticks.found
    joysticks.close()
    return Pads(found=found, why="" if found else _no_pad(), sdl=sdl)


def probe_displays(rig: Rig) -> Displays:
    """Return the displays' sizes; no window is opened."""
    try:
        pygame = import_pygame("screen")
        why = start_display(pygame)
    except (RuntimeError, ImportError) as error:
        return Displays(why=tr("no display: {error}", error=error))
    if why:
        return Displays(why=why, sdl=_sdl(pygame, ""))
    sizes = tuple((width, height) for width, height in pygame.display.get_desktop_sizes())
    sdl = _sdl(pygame, pygame.display.get_driver())
    close_window(pygame)
    return Displays(sizes=sizes, sdl=sdl)


def probe_sound(rig: Rig) -> Loudspeaker:
    """Return whether the sound channel can open the mixer; nothing sounds."""
    channel = SoundChannel(msgspec.structs.replace(rig, sound=rig.sound or Sound()))
    try:
        (event,) = channel.open(monotime.now_ns())
    except ImportError as error:
        return Loudspeaker(why=tr("no loudspeaker: {error}", error=error))
    pygame = sys.modules["pygame"]
    opens = event.state == "ready"
    outputs = _outputs() if opens else ()
    # pygame-ce tells which driver SDL chose; of pygame only what the environment names is known.
    tell = getattr(pygame.mixer, "get_driver", None) if opens else None
    driver = tell() if tell else os.environ.get("SDL_AUDIODRIVER", "")
    channel.close()
    why = "" if opens else _no_sound(event.why)
    return Loudspeaker(opens=opens, outputs=outputs, why=why, sdl=_sdl(pygame, driver))


def probe_ports(rig: Rig) -> Ports:
    """Return the serial ports, and which of them would be the rig's strip."""
    found = tuple(
        Port(name=port.device, usb=usb_ids(port), about=_about(port.description), why=_not_to_be_had(port.device))
        for port in sorted(list_ports.comports(), key=lambda port: str(port.device))
    )
    if rig.light is None or rig.light.device:
        return Ports(found=found)
    strip, why = _strip(rig.light, [port.name for port in found])
    return Ports(found=found, strip=strip, why=why)


def probe_packages(rig: Rig) -> Packages:
    """Return the devices that installed packages bring; those that the rig names are loaded, to see whether they can
    be."""
    wanted: list[tuple[str, DeviceKind]] = [(pad.device, "shaker") for pad in rig.pads if pad.device]
    wanted += [(rig.light.device, "strip")] if rig.light is not None and rig.light.device else []
    unusable = {}
    for name, kind in wanted:
        try:
            Loaded(name, kind)
        except NotUsableError as error:
            unusable[name] = str(error)
    return Packages(found=installed_devices(), unusable=unusable)


def probe_usb(rig: Rig) -> Usb:
    """Return what the USB devices say of themselves; only Linux shows that in files."""
    if not USB_DEVICES.is_dir():
        return Usb(why=tr("not known here: this system does not say what its USB devices may draw"))
    return Usb(found=read_devices(USB_DEVICES))


def main(arguments: Sequence[str]) -> int:
    """Probe one kind of device and print the result as one line of JSON; return 2 for a wrong call."""
    kinds = (*KINDS, "packages", "usb")
    if len(arguments) not in (1, 2) or arguments[0] not in kinds:
        print(tr("usage: python -m tocsin.probe {kinds} [RIG AS JSON]", kinds="|".join(kinds)), file=sys.stderr)
        return 2
    try:
        rig = msgspec.json.decode(arguments[1], type=Rig) if arguments[1:] else Rig(name="")
    except msgspec.DecodeError as error:
        print(tr("this is not a rig: {error}", error=error), file=sys.stderr)
        return 2
    probes: dict[str, Callable[[Rig], msgspec.Struct]] = {
        "pads": probe_pads,
        "displays": probe_displays,
        "sound": probe_sound,
        "ports": probe_ports,
        "packages": probe_packages,
        "usb": probe_usb,
    }
    line = utf8_json(probes[arguments[0]](rig)).decode()
    # On a line of its own, whatever a driver has printed before.
    sys.stdout.write(f"\n{line}\n")
    sys.stdout.flush()
    return 0


def _sdl(pygame: ModuleType, driver: str) -> Sdl:
    hints = {name: value for name, value in sorted(os.environ.items()) if name.startswith("SDL_")}
    version = ".".join(str(part) for part in pygame.get_sdl_version())
    return Sdl(pygame=pygame.version.ver, sdl=version, driver=driver, hints=hints)


def _no_pad() -> str:
    closed = [path for path in _INPUT_DEVICES.glob("js*") if not os.access(path, os.R_OK)]
    if closed:
        return tr("{closed}: not permitted; `sudo usermod -aG input $USER`, then log in again", closed=closed[0])
    return tr("plug one in, with a cable that carries data; a radio pad must be switched on and paired")


def _no_sound(why: str) -> str:
    if sys.platform != "linux":
        return why
    devices = list(_SOUND_DEVICES.glob("pcm*p"))
    if not devices:
        return tr("this laptop has no sound card: plug in a loudspeaker or headset by USB, or play without sound")
    if not any(os.access(device, os.W_OK) for device in devices):
        return tr("{why}: not permitted; `sudo usermod -aG audio $USER`, then log in again", why=why)
    return why


def _outputs() -> tuple[str, ...]:
    try:
        from pygame._sdl2 import audio  # not in every build, and only once the mixer is open
    except ImportError:
        return ()
    return tuple(audio.get_audio_device_names(False))


def _about(description: str | None) -> str:
    return "" if description in (None, "n/a") else str(description)


def _strip(light: Light, listed: Sequence[str]) -> tuple[str, str]:
    """Return the port that the strip would be and what is amiss with it; no port if it is not there."""
    try:
        name = find(light)
    except PortError:
        fix = _taken_by_the_system(light.usb) or tr("plug its controller in, with a cable that carries data")
        return "", tr("no port has the USB ids {usb}: {fix}", usb=light.usb, fix=fix)
    if not (name in listed if sys.platform == "win32" else _exists(name)):
        return "", tr("{name}: there is no such port: plug it in, or write another into the rig", name=name)
    return name, _not_permitted(name)


def _not_permitted(name: str) -> str:
    if sys.platform == "win32" or os.access(name, os.R_OK | os.W_OK) or not _exists(name):
        return ""
    return reason(name, PermissionError(13, tr("permission denied")))


def _not_to_be_had(name: str) -> str:
    """Return why a listed port will not open, as far as that is seen without opening it."""
    by = holders([name])
    return _not_permitted(name) or (in_use(name, by) if by else "")


def _exists(name: str) -> bool:
    try:
        return Path(name).exists()
    except PermissionError:                            # in a folder that may not be looked into
        return True


def _taken_by_the_system(usb: str) -> str:
    """Return what fixes an adapter that is plugged in and has no port: on Linux a service for Braille takes some."""
    for device in USB_DEVICES.glob("*"):
        try:
            ids = ":".join((device / part).read_text(encoding="ascii").strip() for part in ("idVendor", "idProduct"))
        except (OSError, ValueError):
            continue                                   # an interface of a device, or gone by now
        if ids == usb.lower():
            return tr("it is plugged in, though; if brltty took it, `sudo apt remove brltty`, then plug it in again")
    return ""
