"""Print what came of taking in another laptop's runs: what was taken, what was left and why, who has no name here."""

from collections.abc import Iterator
from pathlib import Path

from tocsin.cli.lines import tell, tell_json
from tocsin.errors import OVER
from tocsin.features.records.importing import Import, Left, take_in
from tocsin.journal.place import run_folders
from tocsin.journal.short_name import short_names
from tocsin.readable import readable_line
from tocsin.translation import tr

_MOST_SHOWN = 20


def import_runs(runs: Path, source: Path, *, json_output: bool) -> int:
    """Take in runs and print what came of it, also of what was done before an error or Ctrl-C; return 0."""
    done = Import()
    try:
        take_in(runs, source, done)
    finally:
        if json_output:
            tell_json(done)
        else:
            for line in _lines(done, runs):
                tell(line)
    return OVER


def _lines(done: Import, runs: Path) -> Iterator[str]:
    if not done.taken and not done.left:
        return
    known = [one for one in done.left if one.known and "; " not in one.why]
    total = len(done.taken) + len(done.left)
    already = (
        tr(", {count} {part} here already", count=len(known), part="was" if len(known) == 1 else "were") if known
        else ""
    )
    yield tr("{count} of {total} taken in{already}", count=len(done.taken) or "none", total=total, already=already)
    names = short_names(run_folders(runs)) if runs.is_dir() else {}
    for taken in done.taken[:_MOST_SHOWN]:
        label = f"  {readable_line(taken.label)}" if taken.label else ""
        yield f"  {names.get(Path(taken.folder), taken.folder)}  {taken.began}{label}"
    yield from _rest(len(done.taken))
    left: list[Left] = [one for one in done.left if one not in known]
    if left:
        yield tr("left there:")
    yield from (f"  {readable_line(one.there)}: {readable_line(one.why)}" for one in left[:_MOST_SHOWN])
    yield from _rest(len(left))
    if done.others:
        yield tr(
            "{others} other file{part} and folders there were not looked into", others=done.others,
            part="s" if done.others > 1 else "",
        )
    if done.names:
        yield tr("names that are new here: {map}", map=", ".join(map(readable_line, done.names[:_MOST_SHOWN])))
        yield from _rest(len(done.names))
    if done.nameless:
        count = len(done.nameless)
        people = tr("1 person has") if count == 1 else tr("{count} people have", count=count)
        yield tr(
            "{people} no name here, only a key: the name stays on the other laptop, unless people.json lies there",
            people=people,
        )


def _rest(count: int) -> Iterator[str]:
    if count > _MOST_SHOWN:
        yield tr("  and {count} more", count=count - _MOST_SHOWN)
