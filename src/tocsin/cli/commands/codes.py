"""What the codes of findings and mistakes are about: ``tocsin check --explain``."""

import string
import textwrap

from tocsin.config.toml.messages import MESSAGES
from tocsin.config.toml.phrases import nearest
from tocsin.errors import UsageError
from tocsin.lint.rules import KINDS
from tocsin.lint.telling import explained, explained_facts

_STANDS = "Words in capitals stand for what the file holds."


def told_of(code: str, width: int) -> str:
    """Return lines of ``width`` characters about a code. Raises UsageError for one that does not exist."""
    if code in KINDS:
        parts = explained(code)
    else:
        facts = _of_mistake(code)
        parts = [f"{code}: mistake", "A mistake: the file cannot be used until it is mended."]
        parts.append(f"It says: {facts['message']}")
        parts += [f"Mend: {facts['mend']}"] if facts["mend"] else []
        parts += [_STANDS] if _has_facts(code) else []
    return "\n".join("\n".join(textwrap.wrap(part, width, subsequent_indent="    ")) for part in parts)


def facts_of(code: str) -> dict[str, object]:
    """Return the same for programs. Raises UsageError for a code that does not exist."""
    if code in KINDS:
        return {"code": code, "kind": "finding", **explained_facts(code)}
    return {"code": code, "kind": "mistake", **_of_mistake(code)}


def _of_mistake(code: str) -> dict[str, str]:
    if code not in MESSAGES:
        likely = nearest(code, [*KINDS, *MESSAGES])
        hint = f"did you mean {likely}?" if likely else "`tocsin check` shows the codes of findings, `--json` all"
        raise UsageError(f"there is no code '{code}'", hint=hint)
    wrong, expected, mend = (part.format_map(_Names()) for part in MESSAGES[code])
    return {"message": " ".join(part for part in (wrong, expected) if part), "mend": mend}


def _has_facts(code: str) -> bool:
    return any(name for part in MESSAGES[code] for _, name, _, _ in string.Formatter().parse(part))


class _Names(dict[str, str]):
    """Each fact by its own name, in capitals."""

    def __missing__(self, key: str) -> str:
        return key.upper()
