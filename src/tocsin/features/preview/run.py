"""Run a preview from its options to its result: the runner of a match, with a programme of single cues."""

from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import msgspec

from tocsin.config.file_cache import NOTHING_SHARED, FileCache, Shared
from tocsin.config.load import load
from tocsin.config.toml.phrases import listing, nearest
from tocsin.errors import UsageError
from tocsin.features.preview.cue import CuePreview, previews_of
from tocsin.features.preview.programme import CAUTIONS, USED, Previews
from tocsin.features.preview.result import PreviewResult, exit_of, result_lines
from tocsin.features.trial.questions import Questions, of_signals
from tocsin.journal.answers import Answers
from tocsin.journal.place import runs_folder
from tocsin.model.plan import CHANNELS, ChannelName
from tocsin.model.rig import Rig
from tocsin.runner.options import RunOptions, ScreenMode
from tocsin.runner.run import Say, alone, play
from tocsin.translation import tr


class PreviewRequest(msgspec.Struct, frozen=True, kw_only=True):
    """The request of the command line. ``cues`` None steps through the whole plan; ``only`` and ``asked`` are channels
    like in ``RunOptions``, ``shared`` lies below the plan. ``runs`` is where the answers of the evening lie;
    ``script``: cues that come by themselves wait for no answer."""

    plan: str = "full"
    game: str | None = None
    rig: str = "nothing"
    cues: tuple[str, ...] | None = None
    screen: ScreenMode | None = None
    only: tuple[ChannelName, ...] = CHANNELS
    asked: tuple[ChannelName, ...] = ()
    runs: Path | None = None
    script: bool = False
    shared: Shared = NOTHING_SHARED


def run_preview(wish: PreviewRequest, say: Say, *, json_output: bool) -> PreviewResult:
    """Show cues on the devices until all are shown or a person leaves; return the result with its exit code. Raises
    UsageError, MistakeError, DeviceError, JournalError."""
    loaded = load(wish.game, (wish.plan,), wish.rig, FileCache(wish.shared))
    files = loaded._replace(rig=_rig_of_preview(loaded.rig))
    found = files.plans[0]
    cues = _chosen(previews_of(found.plan, found.timeline), wish.cues, found.plan.name)
    for line in CAUTIONS:
        say(line)
    # A preview is nothing to be listed or counted among runs: its journals go with it.
    with alone(), TemporaryDirectory(prefix="tocsin-preview-") as folder:
        options = RunOptions(
            game=wish.game, plans=(wish.plan,), rig=wish.rig, runs=Path(folder), label="preview", start="key",
            screen=wish.screen, only=wish.only, asked=wish.asked,
        )  # fmt: skip
        by_key = wish.cues is None
        used = {channel for cue in cues for channel in cue.patterns} & set(files.rig.channels) & set(wish.only)
        asked = () if wish.script and not by_key else of_signals(used)
        questions = Questions(asked, Answers(runs_folder(wish.runs)))
        programme = Previews(files, options, cues, questions, by_key=by_key)
        summary = play(files, options, _say_nothing, json_output, programme=programme)
    shown = tuple(programme.shown)
    result = PreviewResult(
        game=found.game.name, plan=found.plan.name, shown=shown, devices=programme.devices,
        exit=summary.exit or exit_of(shown),
    )  # fmt: skip
    for line in result_lines(result):
        say(line)
    return result


def _chosen(found: Sequence[CuePreview], names: Sequence[str] | None, plan: str) -> tuple[CuePreview, ...]:
    """Return the first preview of each named cue, or all. Raises UsageError for a name that no cue has."""
    if not found:
        raise UsageError(tr("the plan '{plan}' has no cue to show", plan=plan), hint=tr("write a [[cue]] first"))
    if names is None:
        return tuple(found)
    first: dict[str, CuePreview] = {}
    for one in found:
        first.setdefault(one.cue, one)
    for name in names:
        if name not in first:
            likely = nearest(name, first)
            hint = (
                (tr("did you mean {likely}? ", likely=likely) if likely else "")
                + tr("its cues: {first}", first=listing(first))
            )
            raise UsageError(tr("the plan '{plan}' has no cue '{name}'", plan=plan, name=name), hint=hint)
    return tuple(first[name] for name in names)


def _rig_of_preview(rig: Rig) -> Rig:
    """Return the rig whose keys and buttons mark nothing and give no cue, and which nobody counts in."""
    keys = msgspec.structs.replace(rig.keys, call={}, marks={})
    pads = tuple(
        msgspec.structs.replace(pad, buttons={key: what for key, what in pad.buttons.items() if what in USED})
        for pad in rig.pads
    )
    return msgspec.structs.replace(rig, keys=keys, pads=pads, start=msgspec.structs.replace(rig.start, by="press"))


def _say_nothing(line: str) -> None:
    """Take the place of what says how a match went: of a preview other things are told."""
