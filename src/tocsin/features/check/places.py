"""Find the line of a finding in its file."""

from typing import NamedTuple

from tocsin.config.toml.document import Document
from tocsin.config.toml.positions import line_and_column, line_starts
from tocsin.model.diagnostics import Path


class Spot(NamedTuple):
    """A part of a line: ``line`` and ``column`` count from 1, line 0 means the file as a whole."""

    line: int = 0
    column: int = 0
    length: int = 0
    source: str = ""


class Spots:
    """The places in one file without mistakes."""

    def __init__(self, document: Document) -> None:
        self.file = document.name
        self._document = document
        self._starts = line_starts(document.text)
        self._lines = document.text.split("\n")

    def of(self, path: Path) -> Spot:
        """Return the place of the value at a path, or of the nearest table that would hold it."""
        places = self._document.places
        while path:
            if place := places.values.get(path) or places.keys.get(path):
                line, column = line_and_column(self._starts, place.begin)
                source = self._lines[line - 1]
                return Spot(line, column, max(1, min(place.end - place.begin, len(source) - column + 1)), source)
            path = path[:-1]
        return Spot()
