"""Check the installed pygame: two packages install a module of that name, and overwrite each other's files."""

import sys
from importlib import metadata

from tocsin.errors import DeviceError
from tocsin.translation import tr

PACKAGES = ("pygame", "pygame-ce")


def installed_pygames() -> list[str]:
    """Return which of the two packages are installed."""
    found = []
    for package in PACKAGES:
        try:
            metadata.version(package)
        except metadata.PackageNotFoundError:
            continue
        found.append(package)
    return found


def demand_one_pygame() -> None:
    """Raise DeviceError with the exact commands if both are installed, or none."""
    found = installed_pygames()
    wanted = "pygame" if sys.version_info < (3, 14) else "pygame-ce"
    python = sys.executable
    if len(found) == 2:
        raise DeviceError(
            tr("pygame and pygame-ce are both installed and overwrite each other's files"),
            hint=tr(
                "{python} -m pip uninstall -y pygame pygame-ce\n  {python} -m pip install --force-reinstall {wanted}",
                python=python, wanted=wanted,
            ),
        )
    if not found:
        raise DeviceError(
            tr("pygame is not installed"), hint=tr("{python} -m pip install {wanted}", python=python, wanted=wanted),
        )
