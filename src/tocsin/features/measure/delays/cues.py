"""Make the cues that measure devices' delays: all devices called at one instant, a dozen times.

Each cue is short and bright, and shows its number for a film; its sound glides, so that its begin can be found in a
recording.
"""

from collections.abc import Iterable, Iterator, Sequence

import msgspec

from tocsin.analysis.delays.film import FilmRow, cue_times_ns
from tocsin.config.files import FileText
from tocsin.config.load import Loaded
from tocsin.features.trial.answer_keys import bench_keys
from tocsin.features.trial.cue_files import CueSheet, WrittenCue, numbered
from tocsin.features.trial.guided import played_in
from tocsin.journal import records
from tocsin.model.pattern import SoundPattern
from tocsin.model.plan import CHANNELS, ChannelName
from tocsin.model.rig import Rig, Start
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

TAIL_NS = NS_PER_S
_CUE = "measured_"                     # begins the cues' ids
_PATTERN = "once"
# The sound lies within 500 to 2500 Hz; 60 ms stand out of noise and are too short to be taken for a call.
_PATTERNS: dict[ChannelName, str] = {
    "rumble": 'steps = [ { strong = 1.0, weak = 1.0, lasts = "300ms" } ]',
    "light": 'form = "plain"\ncolours = ["white"]\nlevel = 0.6\nlasts = "400ms"',
    "screen": (
        'field = "plain"\ncolours = ["white"]\nletters = "white"\nfull = "600ms"\nframe = "none"\nlasts = "600ms"'
    ),
    "sound": (
        'steps = [ { hz = 800, to_hz = 2400, level = 0.8, lasts = "60ms" } ]\nattack = "2ms"\nrelease = "2ms"'
    ),
}


def bare_rig(rig: Rig) -> Rig:
    """Return a rig whose devices are all called at the instant itself, and whose only keys and buttons are those to
    begin."""
    devices = {
        name: msgspec.structs.replace(device, latency_ns=0)
        for name in ("light", "sound", "screen")
        if (device := getattr(rig, name)) is not None
    }
    pads = tuple(msgspec.structs.replace(pad, latency_ns=0, buttons={}) for pad in rig.pads)
    keys = bench_keys(rig, {})
    return msgspec.structs.replace(rig, keys=keys, pads=pads, start=Start(by="press"), **devices)


def first_pads(rig: Rig) -> dict[str, int]:
    """Return the place, from 0, of each role's first pad: its delay is the role's."""
    found: dict[str, int] = {}
    for place, pad in enumerate(rig.pads):
        found.setdefault(pad.role, place)
    return found


def devices_of(rig: Rig, channels: Iterable[ChannelName] = CHANNELS) -> tuple[str, ...]:
    """Return the devices of a rig that can be measured on these channels: its pads' roles, then light, screen,
    sound."""
    wanted = set(channels)
    roles = tuple(first_pads(rig)) if "rumble" in wanted else ()
    others = tuple(name for name in ("light", "screen", "sound") if name in wanted and getattr(rig, name) is not None)
    return (*roles, *others)


def latencies_of(rig: Rig) -> dict[str, float]:
    """Return the latencies of a rig in milliseconds, by device."""
    pads = {role: rig.pads[place] for role, place in first_pads(rig).items()}
    others = {name: getattr(rig, name) for name in ("light", "screen", "sound") if getattr(rig, name) is not None}
    return {name: device.latency_ns / NS_PER_MS for name, device in {**pads, **others}.items()}


def cues_of(count: int, channels: Sequence[ChannelName], rig: Rig, rig_file: FileText) -> Loaded:
    """Return this many cues, ready to play on these channels; ``rig_file`` is the rig's own file. Raises
    DiagnosticsError if the rig's text is not valid."""
    times_ns = cue_times_ns(count)
    sheet = CueSheet(
        by="tocsin measure delays",
        what="measured",
        game="Measuring",
        plan=tr("Measuring delays"),
        period="Delays",
        lasts_ns=times_ns[-1] + TAIL_NS,
        cues=[
            WrittenCue(
                id=f"{_CUE}{number}", at_ns=at_ns, patterns=dict.fromkeys(channels, _PATTERN), word=f"{number}",
                roles=tuple(first_pads(rig)) or ("driver",),
            )
            for number, at_ns in enumerate(times_ns, 1)
        ],
        patterns=[f"[pattern.{channel}.{_PATTERN}]\n{_PATTERNS[channel]}\n" for channel in channels],
    )  # fmt: skip
    found = sheet.loaded(rig_file)
    return Loaded(found.plans, rig, found.files)


def sound_of(cues: Loaded) -> SoundPattern:
    """Return the sound of the cues, which is searched for in a recording. Raises KeyError if they have none."""
    return cues.plans[0].plan.patterns.sound[_PATTERN]


def called_ns(kept: Iterable[records.Record]) -> Iterator[tuple[int, str, int, int]]:
    """Yield for each played call: the cue's number, from 1; the device; the begin of the call in nanoseconds on the
    shared clock; the same after the begin of the cues. The bare rig has no latency, so call and landing coincide."""
    for played in played_in(kept):
        number = numbered(_CUE, played.cue)
        if number is not None:
            yield number, played.device, played.at_ns, played.after_ns


def rows_of(kept: Iterable[records.Record], devices: Sequence[str]) -> tuple[FilmRow, ...]:
    """Return the rows of the table for a film, cue by cue, as people fill them in."""
    rows = [FilmRow(number, device, after_ns / NS_PER_MS, None) for number, device, _, after_ns in called_ns(kept)]
    return tuple(sorted(rows, key=lambda row: (row.cue, devices.index(row.device))))
