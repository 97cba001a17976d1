"""Turn the findings about a plan into notes on its picture: each at its cue, of many alike the first."""

from tocsin.export.picture.picture import PictureNote
from tocsin.export.source import Source
from tocsin.features.check.findings import devices
from tocsin.lint.finding import LEVELS, Finding, Level
from tocsin.lint.inspect import inspect
from tocsin.lint.messages import message
from tocsin.lint.subject import Subject
from tocsin.model.timeline.point import Point
from tocsin.translation import tr

_Alike = tuple[Level, str, Point | None]


def notes_of(source: Source) -> list[PictureNote]:
    """Return the findings of `tocsin check` for a plan alone, without rig and runs: equal plans have equal ones.

    A finding about a pattern stands at the first cue in the plan that uses it. Findings of one code at one place are
    one note.
    """
    first: dict[tuple[Level, str, str], Point | None] = {}
    for finding in inspect(Subject(source.game, source.plan, source.timeline, devices())):
        first.setdefault((finding.level, finding.code, message(finding)), _place(source, finding))
    groups: dict[_Alike, list[str]] = {}
    for (level, code, text), place in first.items():
        groups.setdefault((level, code, place), []).append(text)
    return [
        PictureNote(place, f"{level}, {code}: {_text(texts)}", LEVELS.index(level))
        for (level, code, place), texts in groups.items()
    ]  # fmt: skip


def _text(texts: list[str]) -> str:
    return texts[0] + (tr(" And {count} more of these here.", count=len(texts) - 1) if len(texts) > 1 else "")


def _place(source: Source, finding: Finding) -> Point | None:
    """Return where in the match a finding stands, None if it is about the plan as a whole."""
    match finding.path:
        case ("cue", int(number), *_):
            return _begin(source, source.plan.cues[number].id)
        case ("lead", lead):
            users = (cue.id for cue in source.plan.cues if any(moment.lead == lead for moment in cue.at))
            return _begin(source, next(users, ""))
        case ("game",):
            window = finding.facts.get("id", "")
            return next((span.begin for span in source.timeline.windows if span.id == window), None)
    return None


def _begin(source: Source, cue: str) -> Point | None:
    """Return where a cue comes first; what it does by hand counts only if it does nothing else."""
    return next((firing.begin for firing in source.timeline.firings if firing.cue == cue), None)
