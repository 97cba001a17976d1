"""Report what the compiler finds wrong with a plan in its game at its places in the files."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import msgspec

from tocsin.config.older_names import PATTERNS, pattern_meant
from tocsin.config.toml.document import Document
from tocsin.config.toml.phrases import listing, quoted
from tocsin.model import diagnostics as findings
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.diagnostics import Diagnostic, Path
from tocsin.model.game import Game
from tocsin.model.naming import KIND_OF, Given, given_names, used_names
from tocsin.model.pattern import Patterns
from tocsin.model.plan import CHANNELS, Cue, Plan
from tocsin.model.spelling import only_reading
from tocsin.translation import tr

# What holds even if a part of the other file could not be read.
_NAMES = frozenset({
    findings.DUPLICATE_ID, findings.RESERVED_ID, findings.UNKNOWN_BASE, findings.UNKNOWN_LEAD,
    findings.UNKNOWN_PATTERN, findings.UNKNOWN_VARIANT, findings.UNKNOWN_WINDOW, findings.UNKNOWN_STAKE,
})  # fmt: skip

_MANY = 3                              # so often an unknown name is used: then it is told once
# What hangs on how long something lasts, and when it begins.
_OF_TIMES = frozenset({
    findings.BEFORE_MATCH, findings.AFTER_END, findings.BEFORE_BY_HAND, findings.BEYOND_SEGMENT,
    findings.END_NOT_AFTER_BEGIN, findings.SAME_MOMENT, findings.PAIRING, findings.ONE_MEANT,
})  # fmt: skip


def report_mistakes(
    mistakes: Iterable[Diagnostic], game_document: Document, game: Game, plan_document: Document, plan: Plan
) -> None:
    """Report the compiler's mistakes in a plan and its game to their documents.

    If a file already had mistakes, only those are reported that do not follow from its missing parts.
    """
    documents = {"game": game_document, "plan": plan_document}
    broken = not (game_document.is_sound and plan_document.is_sound)
    declared = _declared_names(game_document, plan_document) if broken else frozenset()
    left = {document: _Left(document) for document in documents.values()}
    told: set[tuple[str, str, Path]] = set()
    for mistake in _by_names(mistakes, game, plan, documents):
        if (key := (mistake.code, mistake.file, mistake.path)) in told and mistake.code in _OF_TIMES:
            continue                   # of a moment that stands for several one is enough
        told.add(key)
        document = documents[mistake.file]
        located = _in_file(mistake, document)
        if broken and _may_follow(located, document, left[document], game_document, declared):
            _weigh_guesses(located, document, documents.values())
            continue
        document.report(located)


def report_game(document: Document, game: Game) -> None:
    """Report the compiler's mistakes in a game by itself to its document."""
    no_cues = Plan(name="", game="")
    _, mistakes = compile_plan(game, no_cues)
    report_mistakes(mistakes, document, game, Document("", ""), no_cues)


def _by_names(
    mistakes: Iterable[Diagnostic], game: Game, plan: Plan, documents: Mapping[str, Document]
) -> Iterator[Diagnostic]:
    """Yield the mistakes, but for a name that nothing uses, misspelt where it is given: that one is told once.

    Where a name is used a single time, either place may be the misspelt one: for what people see, both are offered.
    """
    mistakes = list(mistakes)
    used = used_names(game, plan)
    idle = [one for one in given_names(game, plan) if (one.kind, one.name) not in used]
    counts = Counter(_unknown_name(mistake) for mistake in mistakes)
    told = set()
    for mistake in mistakes:
        key = kind, name = _unknown_name(mistake)
        meant = only_reading(name, [one.name for one in idle if one.kind == kind]) if kind else ""
        found = next((one for one in idle if one.kind == kind and one.name == meant), None)
        is_nearest = found is not None and mistake.facts.get("likely", "") != ""
        if kind and counts[key] >= _MANY and found is None:
            if key not in told:
                told.add(key)
                uses = {"uses": tr("It is used {counts} times. ", counts=counts[key])}
                yield msgspec.structs.replace(mistake, facts={**mistake.facts, **uses})
        elif found is not None and is_nearest and documents[found.file].is_guessed(found.path):
            documents[found.file].follow(found.path, quoted(name))
        elif found is None or not is_nearest or (counts[key] == 1 and kind == "lead"):
            yield mistake
        elif counts[key] == 1:
            yield _either(mistake, found, documents)
        elif key not in told:
            told.add(key)
            facts = {"name": meant, "used": name, "likely": name}
            yield Diagnostic(code="given_otherwise", file=found.file, path=found.path, facts=facts)


def _unknown_name(mistake: Diagnostic) -> tuple[str, str]:
    kind = KIND_OF.get(mistake.code, "")
    return kind, mistake.facts["name"] if kind else ""


def _either(mistake: Diagnostic, found: Given, documents: Mapping[str, Document]) -> Diagnostic:
    """Return a mistake that may be fixed where a name is used, or where it is given."""
    document = documents[found.file]
    line = document.line_of(document.original_path(found.path))
    where = (
        tr("line {line}", line=line) if found.file == mistake.file
        else tr("{name}, line {line}", name=document.name, line=line)
    )
    given = tr("id = {facts} in {where}", facts=quoted(mistake.facts["name"]), where=where)
    return msgspec.structs.replace(mistake, facts={**mistake.facts, "likely": "", "or": given,
                                                   "options": mistake.facts["likely"]})  # fmt: skip


def _weigh_guesses(mistake: Diagnostic, document: Document, documents: Iterable[Document]) -> None:
    """Offer no fix of which this mistake would come; a name in the guessed value that is misspelt is fixed with it."""
    likely = mistake.facts.get("likely", "")
    if mistake.path in document.guessed:
        document.follow(mistake.path, likely)
    elif mistake.code not in _NAMES:
        for one in documents:
            one.withdraw_guesses()


def with_patterns(plan: Plan, below: Iterable[Patterns]) -> Plan:
    """Return a plan with all patterns that it can use: of two with the same channel and id its own counts, or the later
    of those ``below``.

    What a cue calls by an older name is called by the newer one, unless somebody's pattern has the older one as its id.
    Such a pattern, lying below the plan, still takes the place of the bundled one that was called so.
    """
    layers = [*map(_by_newer_names, below), plan.patterns]
    patterns = Patterns(**{
        channel: {name: pattern for layer in layers for name, pattern in getattr(layer, channel).items()}
        for channel in CHANNELS
    })  # fmt: skip
    return msgspec.structs.replace(plan, patterns=patterns, cues=tuple(_by_ids(cue, patterns) for cue in plan.cues))


def _by_newer_names(layer: Patterns) -> Patterns:
    """Return a layer's patterns, those with an older bundled name under the newer one too."""
    return Patterns(**{
        channel: {
            **{newer: found[older] for older, newer in PATTERNS.get(channel, {}).items() if older in found},
            **found,
        }
        for channel in CHANNELS
        for found in (getattr(layer, channel),)
    })  # fmt: skip


def _by_ids(cue: Cue, patterns: Patterns) -> Cue:
    named = cue.patterns.items()
    meant = {channel: pattern_meant(channel, name, getattr(patterns, channel)) for channel, name in named}
    return cue if meant == cue.patterns else msgspec.structs.replace(cue, patterns=meant)


def _in_file(mistake: Diagnostic, document: Document) -> Diagnostic:
    """Return the mistake with its path in the file, and its likely value as TOML writes it."""
    facts = {"channel": str(mistake.path[-1]) if mistake.path else "", **mistake.facts}
    if mistake.code == findings.END_NOT_AFTER_BEGIN:
        facts["what"] = str(mistake.path[0])               # a window, or a cue
    if facts.get("likely"):
        facts["likely"] = quoted(facts["likely"])
    options = [*map(quoted, facts.get("options", "").splitlines()), *facts.get("or", "").splitlines()]
    facts["options"] = listing(options) if options else ""
    return msgspec.structs.replace(mistake, path=document.original_path(mistake.path), facts=facts)


def _may_follow(
    mistake: Diagnostic, document: Document, left: "_Left", game: Document, declared: frozenset[str]
) -> bool:
    """Return whether a mistake may only be there because something was left out, or guessed."""
    if mistake.path in document.guessed:
        return True
    if mistake.facts.get("name", "") in declared and mistake.code.startswith("unknown"):
        return True
    if mistake.code in (findings.UNKNOWN_CUE, findings.ANNOUNCES_CALL):    # the other cue may be what was left out
        return not document.is_sound
    if mistake.code in (findings.NO_PERIOD, findings.NO_CHANNEL, findings.NO_MOMENT, findings.PAIRING):
        return left.touches(mistake.path[:2])
    if mistake.file == "plan" and not game.is_sound and mistake.code not in _NAMES:
        return True
    if mistake.code in _OF_TIMES and any(path[0] in ("period", "window", "lead") for path in document.guessed):
        return True
    return mistake.code not in _NAMES and left.touches(mistake.path[:2])


class _Left:
    """What was left out of a document, or guessed."""

    def __init__(self, document: Document) -> None:
        self._lost = document.lost | document.guessed
        self._above = {path[:end] for path in self._lost for end in range(len(path) + 1)}

    def touches(self, path: Path) -> bool:
        """Return whether something at, below or above ``path`` was left out."""
        return path in self._above or any(path[:end] in self._lost for end in range(len(path) + 1))


def _declared_names(game: Document, plan: Document) -> frozenset[str]:
    """Return every name that the files give to something, sound or not."""
    names = {str(key) for key in _table(plan.data, "lead")}
    for document in (game, plan):
        for rows in document.data.values():
            for row in rows if isinstance(rows, list) else ():
                names |= _names_of(row) if isinstance(row, dict) else set()
        for path in document.lost:
            names.add(str(path[-1]) if path else "")
    for patterns in _table(plan.data, "pattern").values():
        names |= {str(name) for name in patterns} if isinstance(patterns, dict) else set()
    tidy = {name.lower().replace("-", "_").replace(" ", "_") for name in names}
    return frozenset(names | tidy)


def _names_of(row: Mapping[str, Any]) -> set[str]:
    """Return the id that a table has, or what may be the id under another key."""
    return {str(row["id"])} if "id" in row else {value for value in row.values() if isinstance(value, str)}


def _table(data: dict[str, Any], key: str) -> dict[str, Any]:
    found = data.get(key)
    return found if isinstance(found, dict) else {}
