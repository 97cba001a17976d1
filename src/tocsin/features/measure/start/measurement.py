"""Measure how late, and how surely, a person starts the clock: give starts, take presses, keep nothing."""

import secrets
import tempfile
from collections.abc import Sequence
from pathlib import Path

import msgspec

from tocsin.analysis.delays.start_error import COUNTED, StartError, judge_starts, start_error, start_lines
from tocsin.config.load import Loaded, load
from tocsin.config.write.rig_edit import own_rig, write_values
from tocsin.errors import OVER, DeviceError
from tocsin.features.measure.start.cues import channels_of, landed_ns, start_times_ns, starts_of
from tocsin.features.trial.answer_keys import answers_ns
from tocsin.features.trial.guided import Guided
from tocsin.features.trial.questions import FLASHES, LOUDNESS
from tocsin.model.plan import ChannelName
from tocsin.model.rig import Rig, StartBy
from tocsin.runner.keymap import readable
from tocsin.runner.options import RunOptions
from tocsin.runner.run import Say, alone, play
from tocsin.translation import tr

_DO: dict[StartBy, str] = {
    "count_in": tr("Press as the long low tone begins, not on the short ones before it"),
    "countdown": tr("Press as the count reaches 0"),
    "horn": tr("Press as soon as you hear the tone"),
    "press": tr("Press as soon as you see the start"),
}


class StartRequest(msgspec.Struct, frozen=True, kw_only=True):
    """The request of the command line. ``seed`` None takes a fresh one. ``now`` begins without questions: another
    program has asked them."""

    rig: str
    times: int = 16
    seed: int | None = None
    now: bool = False
    write: bool = False


class StartResult(msgspec.Struct, frozen=True, kw_only=True):
    """The whole result: the start error (None if ended early), each good press in milliseconds after its start, the
    rig's values, and whether the measured ones were written."""

    exit: int = OVER
    rig: str
    by: StartBy
    channels: tuple[ChannelName, ...]
    error: StartError | None = None
    late_ms: tuple[float, ...] = ()
    rig_late_ms: int = 0
    rig_spread_ms: int = 0
    written: bool = False
    lines: tuple[str, ...] = ()


def measure_start(
    wish: StartRequest, say: Say, *, json_output: bool, times_ns: Sequence[int] | None = None
) -> StartResult:
    """Give starts and take presses; return the result, written into the rig if requested and there are enough good
    ones. ``times_ns`` sets the times of the starts. Raises UsageError, MistakeError, DeviceError."""
    path = own_rig(wish.rig) if wish.write else None       # refused before anybody has pressed
    files = load(None, ("full",), wish.rig)
    rig = files.rig
    rig_file = next(file for file in files.files if file.kind == "rig")
    seed = secrets.randbelow(1 << 31) if wish.seed is None else wish.seed
    starts = starts_of(rig, times_ns or start_times_ns(rig.start.by, wish.times, seed), rig_file)
    with alone():
        programme, code = _played(wish, rig, starts, say, json_output)
    found = _result(rig, programme, code)
    if path is None or found.error is None:
        return found
    if not found.error.enough:
        return msgspec.structs.replace(found, lines=(*found.lines, f"Nothing is written into {path}."))
    late_ms, spread_ms = found.error.rig_ms
    write_values(path, {("start", "late_ms"): late_ms, ("start", "spread_ms"): spread_ms})
    line = tr(
        "Wrote into [start] of {path}: late_ms = {late}, spread_ms = {spread}.", path=path, late=late_ms,
        spread=spread_ms,
    )
    return msgspec.structs.replace(found, written=True, lines=(*found.lines, line))


def _played(wish: StartRequest, rig: Rig, starts: Loaded, say: Say, json_output: bool) -> tuple[Guided, int]:
    """Let the runner of a match give the starts; return the programme with its records, and the exit code."""
    channels = channels_of(rig)
    questions = [FLASHES] if {"light", "screen"} & set(channels) else []
    questions += [LOUDNESS] if "sound" in channels and rig.start.by not in COUNTED else []
    keys = " or ".join(readable(key) for key in rig.keys.start[:2])
    what_to_do = f"{_DO[rig.start.by]}: {keys}"
    card = (tr("{times} starts by {replace}", times=wish.times, replace=rig.start.by.replace("_", " ")), what_to_do)
    only: tuple[ChannelName, ...] = (*channels, "rumble") if _has_start_button(rig) else channels
    # The window has the keyboard also where it shows no start.
    only = only if "screen" in only or rig.screen is None else (*only, "screen")
    with tempfile.TemporaryDirectory(prefix="tocsin-measure-", ignore_cleanup_errors=True) as folder:
        options = RunOptions(
            plans=(tr("shown plan"),), rig=wish.rig, runs=Path(folder), start="now" if wish.now else "key", only=only
        )
        programme = Guided(starts, options, [] if wish.now else questions, card, "yes", what_to_do, say)
        summary = play(starts, options, lambda line: None, json_output, programme=programme)
    return programme, summary.exit


def _has_start_button(rig: Rig) -> bool:
    return any("start" in pad.buttons.values() for pad in rig.pads)


def _result(rig: Rig, programme: Guided, code: int) -> StartResult:
    by: StartBy = rig.start.by
    late_ms, spread_ms = rig.start.error_ms
    result = StartResult(
        exit=code, rig=rig.name, by=by, channels=channels_of(rig), rig_late_ms=late_ms, rig_spread_ms=spread_ms
    )
    if not programme.kept:
        return msgspec.structs.replace(result, lines=(tr("Ended before its time: nothing is measured."),))
    landed = landed_ns(programme.kept)
    if not landed:
        why = "; ".join(f"{channel}: {why}" for channel, why in programme.absent.items()) or tr("there is no window")
        raise DeviceError(
            tr("no start could be given ({why})", why=why), hint=tr("`tocsin devices` lists what is there"),
        )
    judged = judge_starts(by, landed, sorted(answers_ns(programme.kept)))
    error = start_error(by, judged)
    return msgspec.structs.replace(
        result, error=error, late_ms=tuple(one.late_ms for one in judged if one.late_ms is not None),
        lines=tuple(start_lines(error, rig.start)),
    )  # fmt: skip
