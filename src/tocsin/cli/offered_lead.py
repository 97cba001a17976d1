"""Offer a lead after a drill, where `tocsin advise` would advise it, and write it into the plan only on yes."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

from tocsin import monotime
from tocsin.cli.asking import agreed
from tocsin.cli.project import Meant
from tocsin.config import bundle
from tocsin.errors import TocsinError
from tocsin.features.advice.advise import advise
from tocsin.features.advice.advised_plan import load_advised
from tocsin.features.advice.known import Known
from tocsin.features.advice.words import sentence
from tocsin.features.advice.write_lead import write_lead
from tocsin.features.records.season_rows import season_rows
from tocsin.model.project import DEFAULT_SECOND
from tocsin.translation import tr
from tocsin.units import NS_PER_S


def offer_lead(plan: str, game: str | None, rig: str, meant: Meant, runs: Path, say: Callable[[str], None]) -> None:
    """Ask at the terminal whether the one advised change goes into a plan's file; say nothing where there is none.

    A bundled plan is nobody's to change. What cannot be read or written is told by ``say``: the drill is over.
    """
    path = bundle.find("plans", plan)
    if bundle.holds(path):
        return
    project = meant.found.project if meant.found else None
    known = Known(
        today=monotime.today(), second=project.second if project else DEFAULT_SECOND,
        events=tuple(map(date.fromisoformat, project.event.dates if project else ())),
    )  # fmt: skip
    try:
        document = advise(load_advised(plan, game, rig, meant.shared), season_rows([runs], lambda _: None), known)
        answer = document.told
        if answer.change is None or answer.change.plan_line is None:
            return
        say(sentence(document))
        line = answer.change.plan_line
        say(tr("`tocsin advise` says what it rests on. {file}, line {line}:", file=line.file, line=line.line))
        say(f"    {line.text}")
        if not _says_yes(line.file):
            say(tr("{file} stays as it is.", file=line.file))
            return
        copy = write_lead(path, line, answer.lead, round(answer.change.lead_s * NS_PER_S))
    except TocsinError as error:
        say(error.line)
        if error.hint:
            say(f"  {error.hint}")
    else:
        say(tr("wrote {file}; as it was: {copy}", file=line.file, copy=copy))


def _says_yes(file: str) -> bool:
    try:
        return agreed(tr("Write it into {file}?", file=file), usual=False)
    except EOFError:
        return False
