"""A plan in its game: the timeline, or what the compiler found, put where it stands in the files."""

from collections.abc import Iterable
from typing import Any

import msgspec

from tocsin.config.document import Document
from tocsin.config.fields import quoted
from tocsin.model import findings
from tocsin.model.compiler import compile_plan
from tocsin.model.game import Game
from tocsin.model.mistake import Mistake, Path
from tocsin.model.pattern import Patterns
from tocsin.model.plan import CHANNELS, Plan
from tocsin.model.timeline import Timeline

# What holds even if a part of the other file could not be read.
_NAMES = frozenset({
    findings.DUPLICATE_ID, findings.RESERVED_ID, findings.UNKNOWN_BASE, findings.UNKNOWN_LEAD,
    findings.UNKNOWN_PATTERN, findings.UNKNOWN_VARIANT, findings.UNKNOWN_WINDOW, findings.UNKNOWN_STAKE,
})  # fmt: skip


def compile_documents(
    game_document: Document, game: Game, plan_document: Document, plan: Plan
) -> Timeline | None:
    """Return the timeline of a plan in a game; None if there are mistakes, which are then reported to the documents.

    If a file had mistakes before, only those are reported that do not follow from what was left out of it.
    """
    documents = {"game": game_document, "plan": plan_document}
    broken = not (game_document.is_sound and plan_document.is_sound)
    declared = _declared_names(game_document, plan_document) if broken else frozenset()
    timeline, mistakes = compile_plan(game, plan)
    for mistake in mistakes:
        document = documents[mistake.file]
        located = _in_file(mistake, document)
        if broken and _may_follow(located, document, game_document, declared):
            continue
        document.report(located)
    return timeline


def overlaid(below: Iterable[Patterns], above: Patterns) -> Patterns:
    """Return all patterns in one; of two with the same channel and id the later one counts."""
    layers = [*below, above]
    return Patterns(**{
        channel: {name: pattern for layer in layers for name, pattern in getattr(layer, channel).items()}
        for channel in CHANNELS
    })  # fmt: skip


def _in_file(mistake: Mistake, document: Document) -> Mistake:
    """Return the mistake with its path in the file, and its likely value as TOML writes it."""
    facts = {"channel": str(mistake.path[-1]) if mistake.path else "", **mistake.facts}
    if mistake.code == findings.END_NOT_AFTER_BEGIN:
        facts["what"] = str(mistake.path[0])               # a window, or a cue
    if facts.get("likely"):
        facts["likely"] = quoted(facts["likely"])
    return msgspec.structs.replace(mistake, path=document.original_path(mistake.path), facts=facts)


def _may_follow(mistake: Mistake, document: Document, game: Document, declared: frozenset[str]) -> bool:
    """Return whether a mistake may only be there because something was left out."""
    if mistake.facts.get("name", "") in declared and mistake.code.startswith("unknown"):
        return True
    if mistake.code in (findings.NO_PERIOD, findings.NO_CHANNEL, findings.NO_MOMENT, findings.PAIRING):
        return _is_touched(document, mistake.path[:2])
    if mistake.file == "plan" and not game.is_sound and mistake.code not in _NAMES:
        return True
    return mistake.code not in _NAMES and _is_touched(document, mistake.path[:2])


def _is_touched(document: Document, path: Path) -> bool:
    """Return whether something at or below ``path`` was left out."""
    return any(lost[: len(path)] == path or path[: len(lost)] == lost for lost in document.lost)


def _declared_names(game: Document, plan: Document) -> frozenset[str]:
    """Return every name that the files give to something, sound or not."""
    names = {str(key) for key in _table(plan.data, "lead")}
    for document in (game, plan):
        for table in ("period", "window", "variant", "stake", "cue"):
            rows = document.data.get(table)
            names |= {str(row.get("id")) for row in rows if isinstance(row, dict)} if isinstance(rows, list) else set()
        for path in document.lost:
            names.add(str(path[-1]) if path else "")
    for patterns in _table(plan.data, "pattern").values():
        names |= {str(name) for name in patterns} if isinstance(patterns, dict) else set()
    tidy = {name.lower().replace("-", "_").replace(" ", "_") for name in names}
    return frozenset(names | tidy)


def _table(data: dict[str, Any], key: str) -> dict[str, Any]:
    found = data.get(key)
    return found if isinstance(found, dict) else {}
