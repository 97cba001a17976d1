"""Assemble a page from the parts in ``templates/``: its script, its style, the policy that lets nothing else in."""

import base64
import hashlib
import re
from collections.abc import Iterable, Mapping
from pathlib import Path

import msgspec

from tocsin.export.page_texts import IN_HTML, html_text, script_translation

_TEMPLATES = Path(__file__).with_name("templates")
_MARK = re.compile(rf"{IN_HTML.pattern}|@@(\w+)@@")


def part(name: str) -> str:
    """Return the text of a template."""
    return (_TEMPLATES / name).read_text(encoding="utf-8")


def script_of(names: Iterable[str]) -> str:
    """Return a page's script: its parts in the order in which they use each other."""
    return '\n"use strict";\n\n' + "\n".join(part(name) for name in names)


def style_of(name: str) -> str:
    """Return a page's style."""
    return "\n" + part(name)


def filled(name: str, filling: Mapping[str, str]) -> str:
    """Return a template of HTML with its texts in the reader's language and all else from ``filling``, by name."""
    return _MARK.sub(lambda mark: filling[mark[2]] if mark[2] else html_text(mark[1]), part(name))


def policy(rules: Iterable[str], style: str, script: str) -> str:
    """Return a Content-Security-Policy: ``rules``, and style and script as they are, by their SHA-256. Hashes are over
    the text of the elements, as W3C's Content Security Policy Level 3 says."""
    return "; ".join((*rules, f"style-src '{_sha256(style)}'", f"script-src '{_sha256(script)}'"))


def json_in_page(value: object) -> str:
    """Return a value as JSON that no text in it can end: with ``<`` escaped there is no ``</script``, no comment."""
    return msgspec.json.encode(value).decode().replace("<", "\\u003c")


def translation_of(script: str) -> str:
    """Return the element that holds the translation of a script's texts, nothing for English."""
    found = script_translation(script)
    told = "" if found is None else json_in_page(found)
    return f'<script type="application/json" id="translation">{told}</script>\n' if told else ""


def _sha256(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
