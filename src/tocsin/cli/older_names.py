"""Offer to rewrite the older names that stand in a folder's files."""

import argparse
from collections.abc import Iterable, Mapping
from pathlib import Path

from tocsin.cli.asking import agreed, is_terminal
from tocsin.cli.lines import tell
from tocsin.config.renamed import told_older
from tocsin.config.write.newer import Newer, newer_files
from tocsin.config.writing import Written, write_files
from tocsin.errors import UsageError
from tocsin.readable import typed
from tocsin.translation import tr


def agreed_newer(given: argparse.Namespace, folder: Path) -> dict[str, Newer]:
    """Return the files of a folder whose older names are to be rewritten: all if a person asked for that or agrees,
    else none, and it is told how. Raises EOFError if the person leaves."""
    newer = {} if given.overwrite or not folder.is_dir() else newer_files(folder)
    if not newer or given.names:
        return newer
    tell_newer(newer)
    if not given.upgrade and is_terminal() and agreed(tr("Rewrite them, and keep a copy of each file?"), usual=True):
        return newer
    command = typed("tocsin", "init", str(folder), "--names")
    tell(tr("They stay as they are. {command} rewrites them without asking.", command=command))
    return {}


def tell_newer(newer: Mapping[str, Newer]) -> None:
    """Say which older names stand in files, and what they are called now."""
    for name, file in newer.items():
        tell(tr(
            "{file} has older names, which are read as before: {found}.", file=name, found=told_older(file.found),
        ))


def rewrite_alone(folder: Path) -> tuple[Written, str]:
    """Rewrite the older names in a folder; return the files and what was done. Raises UsageError for a folder that is
    not there."""
    if not folder.is_dir():
        hint = tr("--names is for a folder with files in it")
        raise UsageError(tr("there is no folder {folder}", folder=folder), hint=hint)
    newer = newer_files(folder)
    found = write_files(folder, {name: file.text for name, file in newer.items()}, overwrite=True)
    return found, "\n".join(rewritten_lines(newer, newer)) or tr("Its files have no older names.")


def rewritten_lines(newer: Mapping[str, Newer], files: Iterable[str]) -> list[str]:
    """Return which older names were rewritten in those of the files that have any."""
    return [
        tr("Rewritten in {file}: {found}.", file=name, found=told_older(newer[name].found))
        for name in files if name in newer
    ]  # fmt: skip
