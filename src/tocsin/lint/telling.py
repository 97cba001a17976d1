"""Findings as sentences for people: what is wrong, why it matters and by which limit, how to mend it."""

from tocsin.lint.examples import example_facts
from tocsin.lint.finding import LEVELS, Finding
from tocsin.lint.limits import Limit
from tocsin.lint.rules import KINDS

_LEVELS = {
    "error": "An error: `tocsin check` ends with exit code 20.",
    "warning": "A warning: it works, but somebody may be misled or left out by it.",
    "advice": "Advice: something to think about; it may well be meant so.",
}


def message(finding: Finding) -> str:
    """Return what a finding says."""
    return KINDS[finding.code].says.format_map(finding.facts)


def why(finding: Finding) -> str:
    """Return why it matters."""
    return KINDS[finding.code].why


def source(finding: Finding) -> str:
    """Return the limits that it goes by, each with its source."""
    return sourced(KINDS[finding.code].limits)


def mend(finding: Finding) -> str:
    """Return how to mend it."""
    return KINDS[finding.code].mend.format_map(finding.facts)


def sourced(limits: tuple[Limit, ...]) -> str:
    """Return limits as one text; of neighbours with one source that stands once."""
    parts: list[str] = []
    for place, limit in enumerate(limits):
        follows = place + 1 < len(limits) and limits[place + 1].source == limit.source
        parts.append(limit.text if follows else f"{limit.text} ({limit.source})")
    return "; ".join(parts)


def explained_facts(code: str) -> dict[str, object]:
    """Return what a code is about, with example values. Raises KeyError for one that no finding has."""
    kind, facts = KINDS[code], example_facts(code)
    return {
        "levels": [level for level in LEVELS if level in kind.levels], "message": kind.says.format_map(facts),
        "why": kind.why, "limit": sourced(kind.limits), "mend": kind.mend.format_map(facts),
    }  # fmt: skip


def explained(code: str) -> list[str]:
    """Return the paragraphs that say the same to people. Raises KeyError as it does."""
    kind, told = KINDS[code], explained_facts(code)
    levels = [level for level in LEVELS if level in kind.levels]
    return [
        f"{code}: {' or '.join(levels)}",
        *(_LEVELS[level] for level in levels),
        f"It says, for example: {told['message']}",
        f"Why: {told['why']}",
        f"Limit: {told['limit']}.",
        f"Mend: {told['mend']}",
    ]
