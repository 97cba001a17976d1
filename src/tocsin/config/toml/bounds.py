"""Limit the size of a file before any work is done on it.

Files written by hand stay far below all limits. A larger file may come from somebody who wants to stall the laptop:
later stages read a text several times, fix it line by line, and nest as the text does.
"""

import re
from typing import NamedTuple

from tocsin.config.toml.positions import Place

MOST_BYTES = 400_000                   # a hundred times the largest that comes with Tocsin
MOST_NESTED = 8                        # no file here needs more than four
LONGEST_LINE = 3_000                   # a pattern of 64 steps on one line
LONGEST_NUMBER = 40                    # digits

_STRINGS = r'"""[\s\S]*?"""|' r"'''[\s\S]*?'''|" r'"(?:[^"\\\n]|\\[^\n])*"|' r"'[^'\n]*'"
_PART = r"""(?:[\w-]{1,80}|"[^"\n]{0,80}"|'[^'\n]{0,80}')[ \t]*\.[ \t]*"""
_TOKENS = re.compile(
    rf"""(?P<dotted>(?<![\w."'-])(?:{_PART}){{{MOST_NESTED}}})|(?P<text>{_STRINGS}|#[^\n]*)"""
    rf"|(?P<open>[\[{{])|(?P<close>[\]}}])|(?P<new>\n(?=[ \t]*[\w.-]{{1,80}}[ \t]*=))"
    rf"|(?P<digits>[0-9_]{{{LONGEST_NUMBER + 1},}})"
)


class Excess(NamedTuple):
    """Where a text exceeds a limit, with the code of its message and the facts."""

    code: str
    place: Place
    facts: dict[str, str]


def excess_of(text: str) -> Excess | None:
    """Return the first excess of a text over the limits, or None: in time linear in its length."""
    if found := re.search(rf"[^\n]{{{LONGEST_LINE + 1},}}", text):
        facts = {"count": f"{len(found[0]):,}", "high": f"{LONGEST_LINE:,}"}
        return Excess("line_long", Place(found.start(), found.start() + 1), facts)
    depth = 0
    for found in _TOKENS.finditer(text):
        match found.lastgroup:
            case "open":
                depth += 1
            case "close":
                depth = max(0, depth - 1)
            case "new":
                depth = 0                              # a list that is not closed ends where the next key begins
            case "digits":
                facts = {"count": f"{len(found[0]):,}", "high": str(LONGEST_NUMBER)}
                return Excess("number_long", Place(*found.span()), facts)
        if depth > MOST_NESTED or found.lastgroup == "dotted":
            return Excess("syntax_too_deep", Place(*found.span()), {"high": str(MOST_NESTED)})
    return None
