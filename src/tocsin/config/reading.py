"""Read one file from its text to its checked tables, whatever its format: the same mistake reads the same in all."""

import re
from pathlib import Path
from typing import NamedTuple

from tocsin.config import bundle
from tocsin.config.files import shown_name
from tocsin.config.schema.drill import DrillFile
from tocsin.config.schema.game import GameFile
from tocsin.config.schema.pattern import PatternFile
from tocsin.config.schema.plan import PlanFile
from tocsin.config.schema.project import ProjectFile
from tocsin.config.schema.rig import RigFile
from tocsin.config.schema.table import Table
from tocsin.config.schema.validation import validate
from tocsin.config.toml.bounds import MOST_BYTES
from tocsin.config.toml.document import Document
from tocsin.config.toml.encoding import decode
from tocsin.config.toml.phrases import listing
from tocsin.config.toml.reader import Headings, read
from tocsin.errors import reason
from tocsin.intake import TooLargeError, in_kb, read_given
from tocsin.model.spelling import only_reading
from tocsin.translation import tr


class Format(NamedTuple):
    """A file format: its name in the first key, its schema, its headings."""

    name: str
    kind: str
    schema: type[Table]
    headings: Headings

    @property
    def marks(self) -> tuple[str, ...]:
        """Return the headings that only this format has."""
        return tuple(name for name in (*self.headings.lists, *self.headings.tables) if name != "pattern")


GAME = Format(
    "tocsin-game/1", "game", GameFile, Headings(("period", "window", "variant", "stake", "threshold"), ())
)
PLAN = Format("tocsin-plan/1", "plan", PlanFile, Headings(("cue",), ("lead", "pattern")))
RIG = Format("tocsin-rig/1", "rig", RigFile, Headings(("pad",), ("start", "keys", "light", "sound", "screen", "board")))
PATTERNS = Format("tocsin-patterns/1", "patterns", PatternFile, Headings((), ("pattern",)))
DRILL = Format("tocsin-drill/1", "drill", DrillFile, Headings((), ("vary", "clean", "goal")))
PROJECT = Format("tocsin-project/1", "project", ProjectFile, Headings((), ("event", "question", "crew")))
FORMATS = {format_.name: format_ for format_ in (GAME, PLAN, RIG, PATTERNS, DRILL, PROJECT)}
OF_KIND: dict[bundle.Kind, Format] = {
    "games": GAME, "plans": PLAN, "patterns": PATTERNS, "rigs": RIG, "drills": DRILL,
}  # fmt: skip
# How a file of each kind is given to a command.
_GIVEN = {"drill": tr("as `tocsin drill FILE`"), "patterns": tr("by the key `patterns` of tocsin.toml"),
          "project": tr("as tocsin.toml in the folder or above")}  # fmt: skip


def open_document(path: Path) -> Document:
    """Return the document of a file; an unreadable file has that as its problem."""
    try:
        raw = read_given(path, MOST_BYTES)
    except TooLargeError as error:
        document = Document(shown_name(path), "")
        document.report_at("file_large", None, {"size": in_kb(error.size), "most": in_kb(error.most)})
        return document
    except OSError as error:
        document = Document(shown_name(path), "")
        document.report_at("file_unreadable", None, {"why": reason(error)})
        return document
    return decode(shown_name(path), raw)


def tables(document: Document, wanted: Format | None) -> Table | None:
    """Return a document's valid tables, None if there are none; all mistakes of syntax and shape are reported.

    ``wanted`` None takes the format that the file names.
    """
    if not document.is_sound and not document.text:
        return None
    if len(document.text) > MOST_BYTES:                 # of a record: files are not even read
        document.report_at("file_large", None, {"size": in_kb(len(document.text)), "most": in_kb(MOST_BYTES)})
        return None
    read(document, (wanted or _named(document.text) or PLAN).headings)
    if not document.data and not document.text.strip():
        if not document.is_sound:
            return None                                 # it is not empty: nothing of it could be read
        example = f'format = "{(wanted or PLAN).name}"'
        document.report_at("file_empty", None, {"format": (wanted or PLAN).name, "example": example})
        return None
    found = _format(document, wanted)
    return validate(document, found.schema, found.kind) if found else None


def format_of(document: Document) -> Format | None:
    """Return the format that a document's first key names, or None."""
    return FORMATS.get(str(document.data.get("format"))) or _named(document.text)


def likely_format(text: str) -> Format | None:
    """Return the format that a text names, or else the one whose headings it has; None if neither is found."""
    named = _named(text)
    if named is not None:
        return named
    headings = set(re.findall(r"^[ \t]*\[\[?[ \t]*(\w+)", text, re.MULTILINE))
    return next((found for found in FORMATS.values() if headings & set(found.marks)), None)


def _named(text: str) -> Format | None:
    stated = re.search(r"""^[ \t]*format[ \t]*=[ \t]*["']([^"'\n]*)""", text, re.MULTILINE)
    return FORMATS.get(stated[1]) if stated else None


def _format(document: Document, wanted: Format | None) -> Format | None:
    """Return the format to hold the document to, reporting what is wrong with the key that names it."""
    given = document.data.get("format")
    expected = wanted.name if wanted else next(iter(FORMATS))
    if given is None:
        if ("format",) not in document.lost:
            document.report_at("format_missing", None, {"format": expected})
        return wanted
    found = FORMATS.get(str(given))
    if found is None:
        likely = only_reading(str(given), FORMATS)
        facts = {"text": str(given), "known": listing(FORMATS), "likely": f'"{likely}"' if likely else ""}
        document.report_at("format_unknown", document.places.values.get(("format",)), facts)
        return wanted
    if wanted is not None and found is not wanted:
        way = _GIVEN.get(found.kind, f"with --{found.kind}")
        fix = tr("A {kind} file is given {way}.", kind=found.kind, way=way)
        facts = {"is": found.kind, "wanted": wanted.kind, "format": wanted.name, "fix": fix}
        document.report_at("format_other", document.places.values.get(("format",)), facts)
        return None
    return found

