"""The list of all texts that people read, made from the source by Babel.

    python -m tests.support.texts

writes it to `src/tocsin/locale/tocsin.pot`: each text once, by the files in which it stands, without lines and dates,
so that an edit changes little of it. ``wrapped`` makes a translation of it, for tests, in which every text stands
between ⟦ and ⟧.
"""

import io
import re
import string
from collections.abc import Iterator, Mapping
from functools import cache
from html import unescape
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_javascript, extract_python
from babel.messages.mofile import write_mo
from babel.messages.pofile import write_po

from tests.support import PROJECT
from tocsin.export.page_texts import IN_HTML
from tocsin.translation import DOMAIN

SOURCE = PROJECT / "src" / "tocsin"
LIST = SOURCE / "locale" / f"{DOMAIN}.pot"
WRAPPED = ("⟦", "⟧")
# How many of a call's texts are marked; of the tables' types all that are texts.
_MARKED = {"tr": 1, "trn": 2}
_TABLES = ("marked", "Sentence", "Kind", "Limit")
_HEAD = (
    "# All texts that people read, for whoever reads them at one go, or translates them. Made by\n"
    "# `python -m tests.support.texts`; DEVELOPERS.md says how a language is added.\n#"
)
_STABLE = ("Project-Id-Version", "MIME-Version", "Content-Type", "Content-Transfer-Encoding")    # no dates, no versions


def texts(path: Path) -> Iterator[tuple[int, str | tuple[str, str]]]:
    """Return the marked texts of a file, each with its line; of those for so many both forms."""
    if path.suffix == ".html":
        yield from _html_texts(path.read_text("utf-8"))
        return
    extract = extract_python if path.suffix == ".py" else extract_javascript
    with path.open("rb") as file:
        for line, name, found, _ in extract(file, [*_MARKED, *_TABLES], [], {}):
            strings = found if isinstance(found, tuple) else (found,)
            if name == "trn" and all(strings[:2]):
                yield line, (str(strings[0]), str(strings[1]))
            else:
                yield from ((line, text) for text in strings[: _MARKED.get(str(name))] if text and words(text))


def _html_texts(template: str) -> Iterator[tuple[int, str]]:
    for line, text in enumerate(template.splitlines(), 1):
        yield from ((line, unescape(marked)) for marked in IN_HTML.findall(text))


def files() -> list[Path]:
    """Return the files in which texts are marked."""
    return sorted(path for path in SOURCE.rglob("*") if path.suffix in (".py", ".js", ".html"))


@cache
def catalogue() -> Catalog:
    """Return all texts, in the order of the files and of their lines."""
    found = Catalog(project=DOMAIN, version="", header_comment=_HEAD, charset="utf-8")
    for path in files():
        for line, text in texts(path):
            found.add(text, locations=[(path.relative_to(SOURCE).as_posix(), line)])
    for message in found:
        message.flags.discard("python-format")         # a text with "50 % of" is none
    return found


def written() -> str:
    """Return the list as it is now."""
    file = io.BytesIO()
    write_po(file, catalogue(), width=0, sort_by_file=True, include_lineno=False)
    head, rest = file.getvalue().decode("utf-8").split("\n\n", 1)
    kept = [line for line in head.splitlines() if not line.startswith('"') or line[1:].startswith(_STABLE)]
    return "\n".join(kept) + "\n\n" + rest


def wrapped(folder: Path, language: str = "en") -> dict[str, str]:
    """Write a translation in which every text stands between marks; return the variables that choose it."""
    messages = [message for message in catalogue() if message.id]
    return translated(folder, language, {
        message.id: tuple(map(_wrapped, message.id)) if message.pluralizable else _wrapped(message.id)
        for message in messages
    })  # fmt: skip


def translated(
    folder: Path, language: str, found: Mapping[str | tuple[str, str], str | tuple[str, ...]]
) -> dict[str, str]:
    """Write a translation of some texts, of those for so many all forms; return the variables that choose it."""
    made = Catalog(locale=language)
    for english, text in found.items():
        made.add(english, text)
    path = folder / language / "LC_MESSAGES" / f"{DOMAIN}.mo"
    path.parent.mkdir(parents=True)
    with path.open("wb") as file:
        write_mo(file, made)
    return {"TOCSIN_LOCALE": str(folder), "LANGUAGE": language}


def _wrapped(text: str) -> str:
    """Put marks around what is said between the places of a text, which stay outside as the spaces do."""
    found = []
    for said, name, form, conversion in string.Formatter().parse(text):
        bare = said.strip()
        begin = said.index(bare) if bare else len(said)
        marked = said[:begin] + (WRAPPED[0] + bare + WRAPPED[1] if bare else "") + said[begin + len(bare) :]
        found.append(marked.replace("{", "{{").replace("}", "}}") if "{{" in text or "}}" in text else marked)
        if name is not None:
            found.append("{" + name + (f"!{conversion}" if conversion else "") + (f":{form}" if form else "") + "}")
    return "".join(found)


def unmarked(text: str) -> list[str]:
    """Return what stands outside of all marks, word by word, where two letters follow each other."""
    outside, depth = [], 0
    for char in text:
        depth += (char == WRAPPED[0]) - (char == WRAPPED[1])
        outside.append(" " if depth or char == WRAPPED[1] else char)
    found = (word.strip("'\"`()[]<>,;:.?…") for word in "".join(outside).split())
    return [word for word in found if re.search(r"[^\W\d_]{2,}", word)]


def forms(message: Message) -> tuple[str, ...]:
    """Return a message's texts: of one for so many both forms."""
    return tuple(message.id) if message.pluralizable else (str(message.id),)


def words(text: str) -> list[str]:
    """Return what a text says between its places: nothing for one that holds places alone."""
    return [word for said, *_ in string.Formatter().parse(text) for word in re.findall(r"[^\W\d_]+", said)]


def fields(text: str) -> set[str]:
    """Return the names of a text's places."""
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


if __name__ == "__main__":
    LIST.parent.mkdir(exist_ok=True)
    LIST.write_text(written(), "utf-8", newline="\n")
