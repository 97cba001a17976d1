"""Measure devices' delays: play cues for a film or a microphone, and read a film's table.

Nothing is kept as a run, and no recording: the journal lies in a temporary folder, the sound in memory.
"""

import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import msgspec

from tocsin.analysis.csv_table import MOST_BYTES, TableError
from tocsin.analysis.delays.estimates import reading_of
from tocsin.analysis.delays.film import FilmRow, Reference, film_delays, film_text, read_film
from tocsin.analysis.delays.landing import Delay
from tocsin.channels.light.protocol import shown_after_ns
from tocsin.config.load import Loaded, load
from tocsin.config.write.rig_edit import own_rig
from tocsin.config.writing import demand_writable, write_new
from tocsin.errors import DeviceError, MistakeError, UsageError
from tocsin.features.measure.delays.cues import (
    bare_rig,
    called_ns,
    cues_of,
    devices_of,
    latencies_of,
    rows_of,
    sound_of,
)
from tocsin.features.measure.delays.listening import Listening, listening
from tocsin.features.measure.delays.result import DelayResult, result_of, write_into
from tocsin.features.trial.guided import Guided
from tocsin.features.trial.questions import FLASHES, LOUDNESS, ROBOT_OFF
from tocsin.intake import read_given
from tocsin.journal import records
from tocsin.model.plan import CHANNELS, ChannelName
from tocsin.model.rig import Rig
from tocsin.runner.options import RunOptions
from tocsin.runner.run import Say, alone, play
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

_FIRST_REFERENCES = ("light", "screen", "sound")


class DelayRequest(msgspec.Struct, frozen=True, kw_only=True):
    """The request of the command line. ``frames`` is a film's filled table, ``template`` the path for an empty one;
    ``microphone`` a part of its name, empty for the first, None for none. An empty ``reference`` is chosen
    automatically. ``now`` begins without questions: another program has asked them."""

    rig: str
    only: tuple[ChannelName, ...] | None = None
    times: int = 12
    template: Path | None = None
    microphone: str | None = None
    microphone_ms: float = 0.0
    frames: Path | None = None
    fps: float = 240.0
    reference: str = ""
    reference_ms: float | None = None
    now: bool = False
    write: bool = False


def measure_delays(wish: DelayRequest, say: Say, *, json_output: bool) -> DelayResult:
    """Measure, or read a film's table; return the result, written into the rig if requested and available. Raises
    UsageError, MistakeError with every mistake of a table, DeviceError for a requested device that is missing."""
    path = own_rig(wish.rig) if wish.write else None       # refused before anybody has filmed
    files = load(None, ("full",), wish.rig)
    found = _read(wish, files.rig) if wish.frames is not None else _play(wish, files, say, json_output)
    if path is None or not found.delays:
        return found
    return write_into(path, files.rig, found)


def reference_of(
    rig: Rig, rows: Sequence[FilmRow], name: str = "", given_ms: float | None = None
) -> tuple[Reference, str]:
    """Return the reference of a film's delays, and a sentence on how its own delay is known.

    The strip comes first, since its delay can be computed; for others the rig's figure counts. Raises UsageError for a
    name that the rig does not have.
    """
    seen = [row.device for row in rows if row.frame is not None]
    order = [*(device for device in _FIRST_REFERENCES if device in seen), *seen]
    known_ms = latencies_of(rig)
    device = name or (order[0] if order else "light")
    if device not in known_ms:
        raise UsageError(
            tr("the rig has no '{device}' to measure against", device=device),
            hint=tr("it has {known}", known=", ".join(known_ms)),
        )
    if given_ms is not None:
        return (
            Reference(device, given_ms),
            tr("Compared with {device}; its delay was given as {given:g} ms.", device=device, given=given_ms),
        )
    if device == "light" and rig.light is not None and not rig.light.device:
        delay_ms = shown_after_ns(rig.light) / NS_PER_MS
        told = tr(
            "Compared with light: its {delay:.1f} ms are computed (wire, LED, latch). A slow board adds to it.",
            delay=delay_ms,
        )
        return Reference(device, delay_ms), told
    told = tr(
        "Only differences to {device} were measured; its {known:g} ms come from the rig.", device=device,
        known=known_ms[device],
    )
    return Reference(device, known_ms[device]), told


def _read(wish: DelayRequest, rig: Rig) -> DelayResult:
    assert wish.frames is not None
    devices = devices_of(rig, wish.only or CHANNELS)
    try:
        text = read_given(wish.frames, MOST_BYTES).decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or tr("it is not text in UTF-8")
        raise UsageError(
            tr("{frames} cannot be read: {why}", frames=wish.frames, why=why), hint=tr("`--template FILE` writes one"),
        ) from error
    try:
        rows = read_film(text, devices)
        reference, told = reference_of(rig, rows, wish.reference, wish.reference_ms)
        delays = film_delays(rows, wish.fps, reference)
    except TableError as error:
        problems = "\n".join(f"{wish.frames}: {problem}" for problem in error.problems)
        raise MistakeError(problems, hint=tr("fix these in the table, then read it again")) from error
    return result_of(rig, delays, reference=told)


def _play(wish: DelayRequest, files: Loaded, say: Say, json_output: bool) -> DelayResult:
    """Play the cues; write the film's empty table, hear what a microphone heard."""
    rig, devices = files.rig, devices_of(files.rig, wish.only or CHANNELS)
    _demand_sense(wish, rig, devices)
    if wish.template is not None:
        demand_writable(wish.template)
    channels = tuple(channel for channel in CHANNELS if channel in map(_channel, devices))
    rig_file = next(file for file in files.files if file.kind == "rig")
    cues = cues_of(wish.times, channels, bare_rig(rig), rig_file)
    with alone(), _ear(wish.microphone) as ear:
        programme, code = _played(wish, cues, channels, say, json_output)
    told = dict(_absent(programme, devices))
    if not programme.kept:
        return result_of(rig, (), exit=code, left=True)
    rows = rows_of(programme.kept, devices)
    if not rows:
        raise DeviceError(tr("no device answered"), hint=tr("`tocsin devices` lists what is there and what fixes it"))
    if wish.template is not None:
        write_new(wish.template, film_text(rows), overwrite=True)
    delays, unheard = _heard(wish, ear, programme.kept, cues) if ear is not None else ((), 0)
    return result_of(
        rig, delays, exit=code, absent=told, unheard=unheard, microphone="" if ear is None else ear.name,
        microphone_ms=wish.microphone_ms, template=str(wish.template or ""),
    )  # fmt: skip


def _demand_sense(wish: DelayRequest, rig: Rig, devices: Sequence[str]) -> None:
    """Refuse what would come to nothing, or to harm, before anything lights up. Raises UsageError."""
    if wish.template is None and wish.microphone is None:
        hint = tr("--template film.csv for a film, then --frames film.csv; or --microphone for the loudspeaker")
        raise UsageError(tr("say how to measure the delays"), hint=hint)
    if not devices:
        raise UsageError(
            tr("the rig '{name}' has none of these devices", name=rig.name),
            hint=tr("name another with --rig or --only"),
        )
    if wish.microphone is not None and "sound" not in devices:
        raise UsageError(tr("there is no sound for the microphone to hear"), hint=tr("the rig needs a [sound]"))
    if wish.now and rig.drives_robot and "rumble" in map(_channel, devices):
        hint = tr("leave out --now and answer the questions, or leave the pads out: --only light,screen,sound")
        raise UsageError(tr("the rig says that this laptop drives a robot: its pads are not shaken unasked"), hint=hint)
    if wish.write and wish.microphone is None:
        raise UsageError(
            tr("there is nothing to write before the film's table is read"), hint=tr("--frames film.csv --write"),
        )


@contextmanager
def _ear(name: str | None) -> Iterator[Listening | None]:
    if name is None:
        yield None
        return
    with listening(name) as ear:
        yield ear


def _played(
    wish: DelayRequest, cues: Loaded, channels: tuple[ChannelName, ...], say: Say, json_output: bool
) -> tuple[Guided, int]:
    """Let the runner of a match play the cues; return the programme with its records, and the exit code."""
    questions = [ROBOT_OFF] if "rumble" in channels else []
    questions += [FLASHES] if {"light", "screen"} & set(channels) else []
    questions += [LOUDNESS] if "sound" in channels else []
    card = [
        tr("{times} cues, all devices at one instant", times=wish.times),
        tr("It takes some {seconds} s", seconds=round(1.75 * wish.times + 4)),
    ]
    card += [tr("Film them side by side, in slow motion: start the film first")] if wish.template is not None else []
    card += [tr("Quiet now: the microphone listens, nothing is kept of it")] if wish.microphone is not None else []
    with tempfile.TemporaryDirectory(prefix="tocsin-measure-", ignore_cleanup_errors=True) as folder:
        options = RunOptions(
            plans=(tr("measured plan"),), rig=wish.rig, runs=Path(folder), start="now" if wish.now else "key",
            only=channels, asked=wish.only or (),
        )  # fmt: skip
        programme = Guided(cues, options, [] if wish.now else questions, card, say=say)
        summary = play(cues, options, lambda line: None, json_output, programme=programme)
    return programme, summary.exit


def _heard(
    wish: DelayRequest, ear: Listening, kept: Sequence[records.Record], cues: Loaded
) -> tuple[tuple[Delay, ...], int]:
    """Return the sound's delay by the microphone, none if nothing was heard, and how many sounds were not."""
    calls_ns = [at_ns for _, device, at_ns, _ in called_ns(kept) if device == "sound"]
    delays_ms, unheard = ear.delays_ms(calls_ns, sound_of(cues))
    reading = reading_of([ms - wish.microphone_ms for ms in delays_ms])
    if reading is None:
        return (), unheard
    return (Delay(device="sound", method="microphone", reading=reading),), unheard


def _absent(programme: Guided, devices: Iterable[str]) -> Iterator[tuple[str, str]]:
    for device in devices:
        if (why := programme.absent.get(_channel(device))) is not None:
            yield device, why
        elif device == "screen" and not programme.window:
            yield device, tr("a terminal is too slow to be a screen")


def _channel(device: str) -> str:
    return device if device in _FIRST_REFERENCES else "rumble"
