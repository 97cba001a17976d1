"""Read ``--who ROLE=NAME``: the people who play, as the random keys that journals hold."""

from collections.abc import Iterable
from pathlib import Path

from tocsin.errors import UsageError
from tocsin.journal.people import People
from tocsin.model.plan import ROLES


def people_of(texts: Iterable[str], runs: Path) -> dict[str, str]:
    """Return people's keys by role; a new name gets a fresh key in the one file that holds names.

    Raises UsageError for a role that does not exist or comes twice, JournalError if the file cannot be written.
    """
    named: dict[str, str] = {}
    for text in texts:
        role, _, name = text.partition("=")
        if role not in ROLES or not name.strip():
            raise UsageError(f"'{text}' is nobody", hint=f"write ROLE=NAME, e.g. driver=Ann; roles: {', '.join(ROLES)}")
        if role in named:
            raise UsageError(f"{role} is given twice", hint="one person a role")
        named[role] = name
    people = People(runs) if named else None
    return {role: people.keep(name) for role, name in named.items()} if people else {}
