"""Take a person's name out of recorded runs, once whoever asks has seen where it stands."""

import sys
from pathlib import Path

from tocsin.cli.lines import ask, tell
from tocsin.errors import OVER
from tocsin.features.records.forgetting import ELSEWHERE, Sought, forget, sought
from tocsin.journal.forget import traces
from tocsin.translation import tr

_MOST_SHOWN = 20


def forget_name(folder: Path, text: str, *, sure: bool) -> int:
    """Forget a name, or say that it stands nowhere; without ``sure`` ask before anything is rewritten. Return 0."""
    with sought(folder, text) as what:
        if not what.found.traces and not what.key:
            tell(tr("'{text}' is not in {folder}", text=text, folder=folder))
            return OVER
        _tell_found(what)
        if (what.whole or what.key) and not sure and not _confirmed():
            tell(tr("Nothing was changed."))
            return OVER
        parts = frozenset(part for part in what.parts if not sure and _wanted(text, part))
        changed, dropped = forget(what, parts)
        left = traces(folder, what.name).traces
    still = sum(not trace.part for trace in left)
    tell(tr(
        "{changed} files and folders rewritten, {dropped} kept voices deleted; '{text}' is in {still} places now",
        changed=changed, dropped=dropped, text=text, still=still,
    ))
    if kept := sum(trace.part for trace in left):
        tell(tr("In {kept} it is part of a longer word and was kept; without --yes you are asked.", kept=kept))
    tell(ELSEWHERE)
    return OVER


def _tell_found(what: Sought) -> None:
    if what.key:
        tell(tr(
            "'{text}' is only in the names file; the runs keep the key {key}, which shows no name", text=what.text,
            key=what.key,
        ))
    for trace in what.whole[:_MOST_SHOWN]:
        tell(f"  {trace.path}{f':{trace.line}' if trace.line else ''}: {_short(trace.text)}")
    if len(what.whole) > _MOST_SHOWN:
        tell(tr("  and {count} more", count=len(what.whole) - _MOST_SHOWN))
    if what.found.spelled:
        tell(tr(
            "{spelled} words that the journals use, such as roles and ids, look the same and stay",
            spelled=what.found.spelled,
        ))
    for path in what.found.unread[:_MOST_SHOWN]:
        tell(tr("  {path} is not Tocsin's and was not looked into", path=path))


def _wanted(name: str, text: str) -> bool:
    """Ask whether a text goes in which a name is only part of a longer word; without a terminal it stays."""
    if not sys.stdin.isatty():
        return False
    question = tr(
        "'{short}' has '{name}' inside a word. Remove the whole text? Type yes: ", short=_short(text),
        name=name,
    )
    return ask(question).lower() == "yes"


def _confirmed() -> bool:
    if not sys.stdin.isatty():
        tell(tr("Add --yes to rewrite them."))
        return False
    question = tr("Rewrite them, and put (removed) in its place? Type yes: ")
    return ask(question).lower() == "yes"


def _short(text: str, most: int = 100) -> str:
    line = " ".join(text.split())
    return line if len(line) <= most else f"{line[: most - 3]}..."
