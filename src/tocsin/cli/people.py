"""Read ``--who``: the people who play, as the random keys that journals hold."""

from collections.abc import Iterable, Sequence
from pathlib import Path

from tocsin.cli.project import Meant
from tocsin.config.project import FoundProject
from tocsin.errors import JournalError, UsageError
from tocsin.journal.people import People
from tocsin.model.drill import CREWS
from tocsin.model.plan import ROLES
from tocsin.runner.options import Roster
from tocsin.translation import tr

Named = tuple[str, str, str]
"""Crew, role and name of somebody."""
NOBODY = ("none", "nobody", tr("nobody yet"), "-")


def people_of(texts: Sequence[str], crew: str | None, runs: Path, meant: Meant) -> dict[str, str]:
    """Return people's keys by role, of ``ROLE=NAME``; without any those of the project's ``crew``, or of its only one.

    A new name gets a fresh key in the one file that holds names. Raises UsageError for a role or crew that does not
    exist or comes twice, JournalError if the file cannot be written.
    """
    if not texts:
        return meant.people(crew)
    if crew is not None:
        raise UsageError(tr("use --who or --crew, not both"), hint=tr("--who takes names, --crew takes a crew"))
    named = [_named(text) for text in texts]
    for of, role, name in named:
        if of:
            raise UsageError(
                tr("'{of}.{role}' names a crew; only drills have several", of=of, role=role),
                hint=tr("write {role}={name}", role=role, name=name),
            )
    people = kept(named, runs).get("", {})
    meant.tell_keys({CREWS[0]: people})
    return people


def roster_of(texts: Sequence[str], runs: Path, meant: Meant) -> Roster:
    """Return people's keys by role, by crew, of ``CREW.ROLE=NAME``; without a crew it is the first; without any the
    project's crews.

    Raises UsageError for a crew or role that does not exist or comes twice, JournalError if the file of names cannot be
    written.
    """
    if not texts:
        return meant.roster()
    roster = kept([(crew or CREWS[0], role, name) for crew, role, name in map(_named, texts)], runs)
    meant.tell_keys(roster)
    return roster


def named_in(text: str, example: str) -> list[Named]:
    """Return who plays by a list such as ``Ann, Ben; Cleo``: in each crew who drives, who operates, and so on in the
    order of the roles; ``B.driver=Cleo`` says it by itself. No one for ``none``. Raises UsageError."""
    if text.strip().lower() in ("", *NOBODY):
        return []
    crews = text.split(";")
    if len(crews) > len(CREWS):
        raise UsageError(
            tr("'{text}' are {count} crews", text=text, count=len(crews)),
            hint=tr("at most {count}, e.g. {example}", count=len(CREWS), example=example),
        )
    found: list[Named] = []
    for letter, crew in zip(CREWS, crews, strict=False):
        people = [one.strip() for one in crew.split(",") if one.strip()]
        if len(people) > len(ROLES):
            raise UsageError(
                tr("'{crew}' are too many", crew=crew.strip()), hint=tr("one a role: {roles}", roles=", ".join(ROLES)),
            )
        for role, one in zip(ROLES, people, strict=False):
            said = _named(one) if "=" in one else ("", role, one)
            found.append((said[0] or letter, said[1], said[2].strip()))
    if twice := next((one for one in found if [other[:2] for other in found].count(one[:2]) > 1), None):
        raise UsageError(
            tr("{twice} of crew {twice_2} is given twice", twice=twice[1], twice_2=twice[0]),
            hint=tr("one person a role, e.g. {example}", example=example),
        )
    return found


def offered(project: FoundProject | None, runs: Path) -> str:
    """Return which ``ROLE=NAME`` the people of a project's crews would be, for a test of one of them; an empty text
    where none of them has a name on this laptop."""
    if project is None:
        return ""
    try:
        names = People(runs).names
    except JournalError:
        return ""
    crews = project.project.crews.values()
    found = dict.fromkeys(f"{role}={names[key]}" for people in crews for role, key in people.items() if key in names)
    return (
        tr("nobody is named: --who says whose answers these are, e.g. {found}", found=", ".join(found)) if found
        else ""
    )


def unknown_people(project: FoundProject, runs: Path) -> tuple[str, ...]:
    """Return a sentence for each key of a project's crews that has no name on this laptop; none where the names cannot
    be read, which is told elsewhere."""
    try:
        names = People(runs).names
    except JournalError:
        return ()
    return tuple(
        tr(
            "Crew {crew}: the {role}'s key {key} has no name on this laptop. `tocsin run --who {role}=NAME` tells "
            "what to write instead.", crew=crew, role=role, key=key,
        )
        for crew, people in project.project.crews.items()
        for role, key in people.items()
        if key not in names
    )


def _named(text: str) -> tuple[str, str, str]:
    who, _, name = text.partition("=")
    crew, dot, role = who.rpartition(".")
    if role not in ROLES or not name.strip():
        raise UsageError(
            tr("'{text}' names nobody", text=text),
            hint=tr("write ROLE=NAME, e.g. driver=Ann; roles: {roles}", roles=", ".join(ROLES)),
        )
    if dot and crew not in CREWS:
        raise UsageError(
            tr("'{crew}' is not a crew", crew=crew),
            hint=tr("write one of {crews}, e.g. B.{role}={name}", crews=", ".join(CREWS), role=role, name=name),
        )
    return crew, role, name


def kept(named: Iterable[Named], runs: Path) -> Roster:
    """Return people's keys by role, by crew; a new name gets a fresh key. Raises like ``roster_of``."""
    found: Roster = {}
    for crew, role, name in named:
        if role in found.setdefault(crew, {}):
            what = tr("{role} of crew {crew}", role=role, crew=crew) if crew else role
            raise UsageError(tr("{what} is given twice", what=what), hint=tr("one person a role"))
        found[crew][role] = name
    if not found:
        return {}
    people = People(runs)
    return {crew: {role: people.keep(name) for role, name in of.items()} for crew, of in found.items()}
