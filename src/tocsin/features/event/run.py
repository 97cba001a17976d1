"""Make the programme of ``tocsin run``: a plan again and again, or the matches of an event day."""

from pathlib import Path

import msgspec

from tocsin import monotime
from tocsin.config.load import Loaded
from tocsin.features.event.day import EventDay
from tocsin.features.event.number import next_number
from tocsin.features.event.rules import EventRules
from tocsin.features.records.matches import Matches
from tocsin.journal.place import runs_folder
from tocsin.runner.options import EVENT, RunOptions
from tocsin.runner.programme import Programme

QUIET = "sound"                        # the channel that is off at an event


def at_event(options: RunOptions) -> RunOptions:
    """Return the options of an event day: without sound, with the number of the match that comes if it is known.

    Raises JournalError if the folder of runs cannot be read.
    """
    only = tuple(channel for channel in options.only if channel != QUIET)
    number = options.match
    if number is None:
        number = next_number(runs_folder(options.runs), monotime.today())
    return msgspec.structs.replace(options, at=EVENT, only=only, match=number)


def programme_of(
    files: Loaded, options: RunOptions, project: Path | None = None, runs: Path | None = None
) -> Programme:
    """Return what plays the matches of these options, also where they are those of a run that is gone on with;
    ``project`` is the project's file, ``runs`` the folder of runs, None for the user's own."""
    if options.at != EVENT:
        return Matches(files, options)
    return EventDay(files, options, EventRules(runs_folder(runs), project))
