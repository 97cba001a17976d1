"""Rewrite the older names that stand in a folder's files, all else as people wrote it."""

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from tocsin.config.checking import files_of_this_folder
from tocsin.config.file_cache import FileCache, Parsed, parse_document
from tocsin.config.project import shared_in
from tocsin.config.reading import PROJECT, likely_format, open_document
from tocsin.config.renamed import OlderName, older_names
from tocsin.config.toml.document import Document
from tocsin.config.toml.phrases import quoted
from tocsin.config.write.rig_edit import Place, Value, edited


class Newer(NamedTuple):
    """A file's text with the names of today, and the older ones that stand in it."""

    text: str
    found: tuple[OlderName, ...]


def newer_files(folder: Path) -> dict[str, Newer]:
    """Return the files of a folder, and of the folders that `init` makes in it, in which older names stand, by their
    paths in it. A file with mistakes is left out: what it means is not known."""
    shelf = FileCache(shared_in(folder))
    files: dict[str, Newer] = {}
    for path in map(Path, files_of_this_folder(folder)):
        wanted = likely_format(open_document(path).text)
        parsed = shelf.parsed(wanted, path) if wanted else None
        found = older_names(parsed, shelf, folder if wanted is PROJECT else None) if parsed else ()
        if parsed and found:
            line_end = "\r\n" if b"\r\n" in path.read_bytes() else "\n"
            files[path.relative_to(folder).as_posix()] = Newer(newer_text(parsed, found).replace("\n", line_end), found)
    return files


def together(folder: Path, newer: Mapping[str, Newer], files: Mapping[str, str]) -> dict[str, str]:
    """Return the texts to write into a folder: other ``files``, the older names rewritten in those that have some, and
    the rest of those with older names."""
    shelf = FileCache(shared_in(folder))
    texts = {name: file.text for name, file in newer.items()}
    for name, text in files.items():
        texts[name] = text
        if name in newer:
            line_end = "\r\n" if "\r\n" in text else "\n"
            parsed = parse_document(Document(name, text.replace("\r\n", "\n")), likely_format(text))
            texts[name] = newer_text(parsed, older_names(parsed, shelf)).replace("\n", line_end)
    return texts


def newer_text(parsed: Parsed, found: Sequence[OlderName]) -> str:
    """Return the text of a file without mistakes, with line feeds, in which each older name is the newer one.

    Only the name itself is another: quotes, blanks and comments stay.
    """
    text, places = parsed.document.text, parsed.document.places.values
    for one in sorted((one for one in found if one.older), key=lambda one: places[one.path], reverse=True):
        begin, end = places[one.path]
        was = text[begin:end]
        name = was.replace(one.older, one.newer) if one.older in was else quoted(one.newer)
        text = text[:begin] + name + _comment_in_place(text[end:], len(name) - len(was))
    missing: dict[Place, Value] = {(str(one.path[0]), str(one.path[1])): one.newer for one in found if not one.older}
    return edited(text, missing) if missing else text


def _comment_in_place(rest: str, longer: int) -> str:
    """Return the rest of a text, a comment on its first line in the same column though it is moved on so far."""
    blanks = re.match(r"( +)#", rest)
    return rest if blanks is None else " " * max(1, len(blanks[1]) - longer) + rest[len(blanks[1]) :]
