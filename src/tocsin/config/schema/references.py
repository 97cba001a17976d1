"""Check what a file may name outside itself: another file near it, a port.

Files may come from strangers. The files that they name must not reach the rest of this laptop or the network: no
absolute path, no share of another machine, at most one folder up, no link that leads out of there.
"""

import re
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, PlainValidator

from tocsin.config.bundle import is_file_argument
from tocsin.config.schema.values import Title, text_of, title
from tocsin.config.toml.phrases import mistake, quoted
from tocsin.model.serial_port import AUTO, is_port, likely_port
from tocsin.seam import bench_file
from tocsin.translation import tr

LINK_AWAY = tr("it is a link that leads elsewhere")
_LONGEST_REFERENCE = 250               # letters
_LONGEST_NAME = 250                    # bytes of one name; systems end it at 255, and .toml may have to be added
# The name of an entry point; no path, no file, no address can be one.
_DEVICE = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9._-]*[A-Za-z0-9])?")
# What Windows takes for devices in every folder, with any ending.
_WINDOWS_DEVICES = re.compile(r"(?i:con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³])")


def objection(stated: str) -> str:
    """Return why a file may not name another one so, as the middle of a sentence; an empty text if it may.

    >>> objection("casting_day"), objection("../games/ours.toml")
    ('', '')
    >>> objection("//server/share/game.toml")
    'it is no path from here'
    """
    parts = re.split(r"[/\\]", stated)
    if not stated.isprintable() or max(len(part.encode()) for part in parts) > _LONGEST_NAME:
        return tr("no file has such a name")
    if not is_file_argument(stated):
        return tr("it has a colon") if ":" in stated else ""
    if not parts[0] or ":" in stated:
        return tr("it is not a path from here")
    if ".." in parts[1:]:
        return tr("it goes up more than one folder")
    if any(_WINDOWS_DEVICES.fullmatch(part.split(".")[0].strip()) for part in parts):
        return tr("Windows reads it as a device")
    return "" if stated.lower().endswith(".toml") else tr("it does not end in .toml")


def folder_objection(stated: str) -> str:
    """Return why a file may not name a folder of its own folder so, as the middle of a sentence; an empty text if it
    may.

    >>> folder_objection("runs"), folder_objection("../runs")
    ('', 'it leads out of the folder of this file')
    """
    parts = re.split(r"[/\\]", stated)
    if not stated.strip() or not stated.isprintable() or max(len(part.encode()) for part in parts) > _LONGEST_NAME:
        return tr("no folder has such a name")
    if not parts[0] or parts[0].startswith("~") or ":" in stated:
        return tr("it is not a path from here")
    if ".." in parts:
        return tr("it leads out of the folder of this file")
    if any(_WINDOWS_DEVICES.fullmatch(part.split(".")[0].strip()) for part in parts):
        return tr("Windows reads it as a device")
    return ""


def near(folder: Path, stated: str) -> Path | None:
    """Return the file that a file in ``folder`` names, None if it is missing or may not be named."""
    if not is_file_argument(stated) or objection(stated) or is_link_away(folder, stated):
        return None
    path = folder / stated
    return path if path.is_file() else None


def is_link_away(folder: Path, stated: str) -> bool:
    """Return whether links lead from the named file out of ``folder`` and of the folder above it."""
    return not (folder / stated).resolve().is_relative_to(folder.resolve().parent)


def _reference(value: object) -> str:
    text = title(value, longest=_LONGEST_REFERENCE)
    if why := objection(text):
        raise mistake("reference", text=text, why=why)
    return text


def _port(text: str) -> str:
    # On a test bench a pseudo-terminal takes the place of a port.
    if text == AUTO or is_port(text) or (bench_file() and text.startswith("/")):
        return text
    likely = likely_port(text)
    raise mistake("port", text=text, readings=[quoted(likely)] if likely else [])


def _device(value: object) -> str:
    text = text_of(value, tr('the name of a device in quotes, such as "dmx"'))
    if not _DEVICE.fullmatch(text):
        raise mistake("device_name", text=text)
    return text


NameOrFile = Annotated[str, PlainValidator(_reference)]
PortName = Annotated[Title, AfterValidator(_port)]
DeviceName = Annotated[str, PlainValidator(_device)]
