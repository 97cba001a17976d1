"""Collect all findings of a plan, with or without a rig, and of a rig alone."""

from collections.abc import Iterable

from tocsin.lint.budgets import budgets, budgets_of_rig, named_devices
from tocsin.lint.clashes import clashes
from tocsin.lint.colours import colours
from tocsin.lint.finding import LEVELS, Finding
from tocsin.lint.flashing import flashing
from tocsin.lint.hands import hands
from tocsin.lint.leads import leads
from tocsin.lint.senses import senses, senses_of_rig
from tocsin.lint.sounds import sounds
from tocsin.lint.spoken_words import speech, words
from tocsin.lint.subject import Devices, Subject
from tocsin.model.diagnostics import Path
from tocsin.model.rig import Rig

_ALL = (flashing, leads, words, hands, senses, senses_of_rig, colours, clashes, sounds, speech, budgets)


def inspect(subject: Subject) -> tuple[Finding, ...]:
    """Return the findings about a plan, and about the rig as far as the plan uses it: one for each code and place, the
    worst of them."""
    return _distinct(finding for look in _ALL for finding in look(subject))


def inspect_rig(rig: Rig, devices: Devices) -> tuple[Finding, ...]:
    """Return the findings about a rig with any plan."""
    return _distinct((*budgets_of_rig(rig, devices), *named_devices(rig, devices)))


def _distinct(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    worst: dict[tuple[str, str, Path, tuple[str, ...]], Finding] = {}
    for finding in findings:
        # Of one place each device, role and window tells something of its own.
        apart = tuple(finding.facts.get(name, "") for name in ("device", "where", "whose", "id"))
        key = (finding.code, finding.file, finding.path, apart)
        known = worst.get(key)
        if known is None or _rank(finding) < _rank(known):
            worst[key] = finding
    return tuple(worst.values())


def _rank(finding: Finding) -> tuple[int, float]:
    return LEVELS.index(finding.level), -float(finding.facts.get("changes", "0"))
