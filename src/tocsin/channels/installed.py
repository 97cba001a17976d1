"""Find, load and call the devices that other packages bring, by entry point (``tocsin.devices``).

Packages are looked through only where a rig names a device, or people ask which there are: it takes 50 ms of a
processor where 97 are installed (measured), most of it to load what looks. Only what the laptop's owner installed is
found: never what lies in the folder that somebody happens to stand in.
"""

import contextlib
import sys
import traceback
from collections.abc import Callable
from functools import cache
from pathlib import PurePath
from typing import Any, Literal, TypeVar

import msgspec

from tocsin.devices import GROUP, HOOKS, DeviceLost
from tocsin.model.rig import Rig
from tocsin.model.spelling import only_reading
from tocsin.translation import tr

T = TypeVar("T")
Kind = Literal["strip", "shaker"]


class InstalledDevice(msgspec.Struct, frozen=True, kw_only=True):
    """A device that a package brings: its name in a rig, the package and its version."""

    name: str
    package: str
    version: str

    def __str__(self) -> str:
        return f"{self.name} ({self.package} {self.version})"


class NotUsableError(Exception):
    """A device cannot be used as it is installed; the text says why and what to do. ``absent`` if it is not there."""

    def __init__(self, text: str, *, absent: bool) -> None:
        super().__init__(text)
        self.absent = absent


class PackageError(Exception):
    """A package's code failed: ``what`` it did in words, ``why`` with the exception."""

    def __init__(self, what: str, why: str) -> None:
        super().__init__(f"{what}: {why}")
        self.what = what
        self.why = why


def named_devices(rig: Rig) -> tuple[str, ...]:
    """Return the names of the devices that a rig wants from packages, each once."""
    names = [rig.light.device if rig.light is not None else "", *(pad.device for pad in rig.pads)]
    return tuple(dict.fromkeys(name for name in names if name))


@cache
def installed_devices() -> tuple[InstalledDevice, ...]:
    """Return all devices that installed packages bring, by name. It looks through all packages once a process."""
    return tuple(device for device, _ in _found())


def versions_of(rig: Rig) -> dict[str, str]:
    """Return package and version by the name of each device that a rig names and that is installed; packages are looked
    through only if it names one."""
    names = named_devices(rig)
    if not names:
        return {}
    return {one.name: f"{one.package} {one.version}" for one in installed_devices() if one.name in names}


def not_installed(name: str) -> str:
    """Return what to do about a device that no package brings, as sentences; an empty text if one does."""
    known = installed_devices()
    names = [one.name for one in known]
    if name in names:
        return ""
    if not names:
        return tr("Install its package into the Python that runs Tocsin; no package there brings any device.")
    listed = ", ".join(map(str, known))
    if meant := only_reading(name, names):
        return tr('Write: device = "{meant}" (installed are: {names}).', meant=meant, names=listed)
    return tr("Install its package, or name another device. Installed are: {names}.", names=listed)


class Loaded:
    """A device of a package in use. ``title`` names it with its package and version."""

    def __init__(self, name: str, kind: Kind) -> None:
        """Load the package's code and make the device. Raises NotUsableError."""
        found = [(device, entry) for device, entry in _found() if device.name == name]
        if not found:
            why = tr('no package brings the device "{name}". {how}', name=name, how=not_installed(name))
            raise NotUsableError(why, absent=True)
        self.title = str(found[0][0])
        if len(found) > 1:
            packages = ", ".join(f"{device.package} {device.version}" for device, _ in found)
            raise NotUsableError(
                tr('{count} packages bring a device "{name}": {packages}; uninstall all but one', count=len(found),
                   name=name, packages=packages),
                absent=False,
            )
        try:
            self._device = self._call("load", lambda: found[0][1].load()())
            lacks = self._call("load", lambda: [hook for hook in HOOKS[kind] if not self._has(hook)])
        except DeviceLost as error:
            raise NotUsableError(f"{self.title}: {error}", absent=False) from error
        except PackageError as error:
            raise NotUsableError(str(error), absent=False) from error
        if lacks:
            word = tr("strip") if kind == "strip" else tr("shaker")
            raise NotUsableError(
                tr("{title} is no {kind}: it lacks {hooks}", title=self.title, kind=word, hooks=", ".join(lacks)),
                absent=False,
            )

    def hook(self, name: str, *values: object) -> Any:
        """Call one of the device's hooks; return what it returns. Raises DeviceLost for every OSError, with its words,
        and PackageError if the package failed."""
        return self._call(name, lambda: getattr(self._device, name)(*values))

    def _has(self, hook: str) -> bool:
        return callable(getattr(self._device, hook, None))

    def _call(self, what: str, code: Callable[[], T]) -> T:
        try:
            return code()
        except DeviceLost:
            raise
        except OSError as error:
            raise DeviceLost(error.strerror or str(error) or type(error).__name__) from error
        except BaseException as error:             # sys.exit too: whatever it wants to end is not its to end
            why = tr(
                "{kind}: {error} ({place}); tell whoever wrote it", kind=type(error).__name__, error=str(error) or "-",
                place=_place_of(error),
            )
            raise PackageError(tr("{title} failed in '{what}'", title=self.title, what=what), why) from error


def _place_of(error: BaseException) -> str:
    """Return where in the package it happened, by file and line."""
    last = traceback.extract_tb(error.__traceback__)[-1]
    return f"{PurePath(last.filename).name}:{last.lineno}"


def _found() -> list[tuple[InstalledDevice, Any]]:
    from importlib import metadata  # here, since it loads much, and most rigs name no device

    # Python puts the working folder first unless told not to: what lies there nobody installed.
    paths = sys.path if sys.flags.safe_path else sys.path[1:]
    found: dict[tuple[str, str], tuple[InstalledDevice, Any]] = {}
    for package in metadata.distributions(path=paths):
        # What is damaged brings no device; it may be anybody's package, and is none of this match's business.
        with contextlib.suppress(Exception):
            for entry in package.entry_points.select(group=GROUP):
                name, version = package.metadata["Name"], package.version
                if name and version:
                    device = InstalledDevice(name=entry.name, package=name, version=version)
                    found.setdefault((entry.name, name), (device, entry))
    return sorted(found.values(), key=lambda one: (one[0].name, one[0].package))
