"""Say an exported page in the reader's language: the texts of its template, and the translation that its script takes
along. In English there is none."""

import json
import re
from collections.abc import Iterator, Mapping
from html import escape, unescape

from tocsin.translation import form, tr

# A text in a template, written as HTML; and in a script: plain literals, joined by plus signs.
IN_HTML = re.compile(r'@@tr\("([^"]*)"\)@@')
_LITERAL = r'"(?:[^"\\\n]|\\.)*"'
_LITERALS = rf"{_LITERAL}(?:\s*\+\s*{_LITERAL})*"
_IN_SCRIPT = re.compile(rf"\btr\(\s*({_LITERALS})|\btrn\(\s*({_LITERALS}),\s*({_LITERALS})")
_PLACE = re.compile(r"\{\w+\}")
_COUNTS = range(200)                       # from 100 on the last two digits decide, as templates/page_texts.js has it


def html_text(marked: str) -> str:
    """Return a template's text, which is written as HTML, in the reader's language as HTML."""
    return escape(tr(unescape(marked)))


def script_texts(script: str) -> Iterator[str | tuple[str, str]]:
    """Return the marked texts of a script, of those for so many both forms."""
    for one, singular, plural in _IN_SCRIPT.findall(script):
        yield _joined(one) if one else (_joined(singular), _joined(plural))


def script_translation(script: str) -> Mapping[str, object] | None:
    """Return what a script's texts are in the reader's language, or None where they are all in English.

    ``texts`` has each by the English one; ``counted`` has, by the English singular, the forms and, as one digit for
    each number from 0, which of them it takes. One with a brace that is no place is left out: the script knows none.
    """
    texts: dict[str, str] = {}
    counted: dict[str, dict[str, object]] = {}
    for text in script_texts(script):
        if isinstance(text, str):
            if (found := tr(text)) != text and _plain(found):
                texts[text] = found
        elif forms := _forms(*text):
            counted[text[0]] = forms
    return {"texts": texts, "counted": counted} if texts or counted else None


def _forms(one: str, many: str) -> dict[str, object] | None:
    found = [form(one, many, count) for count in _COUNTS]
    forms = list(dict.fromkeys(found))
    if set(forms) <= {one, many} or not all(map(_plain, forms)):
        return None
    return {"forms": forms, "of": "".join(str(forms.index(each)) for each in found)}


def _joined(literals: str) -> str:
    return "".join(json.loads(literal) for literal in re.findall(_LITERAL, literals))


def _plain(found: str) -> bool:
    return not set("{}") & set(_PLACE.sub("", found))
