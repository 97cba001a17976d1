"""Print what came of taking in another laptop's runs: what was taken, what was left and why, who has no name here."""

from collections.abc import Iterator
from pathlib import Path

from tocsin.cli.lines import tell, tell_json
from tocsin.errors import OVER
from tocsin.features.records.importing import Import, Left, take_in
from tocsin.journal.place import run_folders
from tocsin.journal.short_name import short_names
from tocsin.readable import readable_line
from tocsin.translation import tr, trn

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
    count = len(done.taken) or tr("none")
    if known:
        yield trn(
            "{taken} of {total} taken in, {count} was here already",
            "{taken} of {total} taken in, {count} were here already", len(known), taken=count, total=total,
        )
    else:
        yield tr("{taken} of {total} taken in", taken=count, total=total)
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
        yield trn(
            "{count} other file or folder there was not looked into",
            "{count} other files and folders there were not looked into", done.others,
        )
    if done.names:
        yield tr("names that are new here: {map}", map=", ".join(map(readable_line, done.names[:_MOST_SHOWN])))
        yield from _rest(len(done.names))
    if done.nameless:
        yield trn(
            "{count} person has no name here, only a key: the name stays on the other laptop, unless people.json is "
            "there",
            "{count} people have no name here, only a key: the names stay on the other laptop, unless people.json is "
            "there",
            len(done.nameless),
        )


def _rest(count: int) -> Iterator[str]:
    if count > _MOST_SHOWN:
        yield tr("  and {count} more", count=count - _MOST_SHOWN)
