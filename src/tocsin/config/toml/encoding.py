"""Decode the bytes of a file: another encoding is a mistake like any other, with its place and its fix."""

import codecs

from tocsin.config.toml.document import Document
from tocsin.config.toml.positions import Place

_UTF16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


def decode(name: str, raw: bytes) -> Document:
    """Return a document with the text of ``raw`` and plain line ends.

    A byte-order mark is dropped. UTF-16 and stray bytes are reported, and the text is still read as far as possible, so
    that other mistakes are found in the same run.
    """
    if raw.startswith(_UTF16) or b"\0" in raw[:4]:
        text = _plain(_utf16(raw))
        document = Document(name, text if "=" in text else "")      # without a single key nothing else can be said
        document.report_at("file_utf16", None, {})
        return document
    try:
        return Document(name, _plain(raw.decode("utf-8-sig")))
    except UnicodeDecodeError:
        # Windows editors of old save in this code page, which gives every byte a meaning but five.
        document = Document(name, _plain(raw.decode("cp1252", errors="replace")))
    stray = _first_stray(raw)
    document.report_at("file_not_utf8", Place(stray, stray + 1), {})
    return document


def _utf16(raw: bytes) -> str:
    if raw.startswith(_UTF16):
        return raw.decode("utf-16", errors="replace")
    return raw.decode("utf-16-le" if raw[1:2] == b"\0" else "utf-16-be", errors="replace")


def _first_stray(raw: bytes) -> int:
    """Return the offset in the text (one character a byte) of the first byte that is not UTF-8."""
    raw = raw.replace(b"\r\n", b"\n")
    try:
        raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return error.start
    return 0


def _plain(text: str) -> str:
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
