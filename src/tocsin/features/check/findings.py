"""Find all risks in files without mistakes, compared with the devices, words and runs."""

from pathlib import Path
from typing import NamedTuple

from tocsin.channels.installed import not_installed
from tocsin.channels.light.forms import colours_at, jumps_ns
from tocsin.channels.light.protocol import (
    BOARD_MA,
    current_ma,
    frame_interval_ns,
    frame_wire_ns,
    limited,
    most_ma,
)
from tocsin.channels.screen.field import FRAME_SHARE, SIDE_SHARE, field_colours, full_until_ns
from tocsin.config.checking import Checked
from tocsin.features.check.places import Spot, Spots
from tocsin.features.records.measured_leads import measured_leads, to_tenths
from tocsin.journal.reader import OnBroken
from tocsin.lint.drills import inspect_drill
from tocsin.lint.finding import Finding
from tocsin.lint.inspect import inspect, inspect_rig
from tocsin.lint.messages import message
from tocsin.lint.subject import Devices, MeasuredLead, Subject
from tocsin.model.plan import Plan
from tocsin.model.rig import Rig
from tocsin.speech.cache import Spoken, WordCache
from tocsin.speech.engines import engine_of_system


class LocatedFinding(NamedTuple):
    """A finding and where it stands."""

    finding: Finding
    file: str
    spot: Spot


def devices() -> Devices:
    """Return the channels' functions for drawing and sending."""
    return Devices(
        strip_colours=colours_at, strip_jumps_ns=jumps_ns, field_colours=field_colours, full_until_ns=full_until_ns,
        frame_share=FRAME_SHARE, side_share=SIDE_SHARE,
        current_ma=current_ma, limited=limited, most_ma=most_ma, board_ma=BOARD_MA,
        frame_wire_ns=frame_wire_ns, frame_interval_ns=frame_interval_ns,
        not_installed=not_installed,
    )  # fmt: skip


def found_in(
    checked: Checked, runs: Path | None = None, shelf: WordCache | None = None, on_broken: OnBroken = lambda _: None
) -> list[LocatedFinding]:
    """Return all findings in files without mistakes, in the order of files and lines.

    Plans are compared with the rig if there is exactly one: with several, nobody knows which is for which plan. If
    ``runs`` is given, leads are compared with the times that its runs in the same game needed. Words on the ``shelf``
    have their real length, others an estimate. ``on_broken`` gets each broken run.
    """
    parts = devices()
    games = {plan.loaded.timeline.game for plan in checked.plans}
    needed = {name: _needed(runs, name, on_broken) for name in games}
    rig, rig_document = checked.rigs[0] if len(checked.rigs) == 1 else (None, None)
    told: dict[tuple[object, ...], LocatedFinding] = {}
    for plan in checked.plans:
        game, whole, timeline = plan.loaded
        spots = {"plan": Spots(plan.document)} | ({"rig": Spots(rig_document)} if rig_document else {})
        subject = Subject(
            game, whole, timeline, parts, rig=rig, own=plan.own, measured=needed[timeline.game],
            said_ns=_said_ns(shelf, whole, rig),
        )
        for finding in inspect(subject):
            _tell(told, finding, spots[finding.file])
    for one, document in checked.rigs:
        for finding in inspect_rig(one, parts):
            _tell(told, finding, Spots(document))
    for drill, document in checked.drills:
        for finding in inspect_drill(drill):
            _tell(told, finding, Spots(document))
    places = {file: place for place, file in enumerate(dict.fromkeys(one.file for one in told.values()))}
    return sorted(told.values(), key=lambda one: (places[one.file], one.spot.line, one.spot.column))


def _needed(runs: Path | None, game: str, on_broken: OnBroken) -> dict[str, MeasuredLead]:
    """Return what runs in a game have shown to be needed of leads, by their names."""
    found = measured_leads(runs, game, on_broken) if runs is not None else {}
    return {lead: to_tenths(one) for lead, one in found.items()}


def _said_ns(shelf: WordCache | None, plan: Plan, rig: Rig | None) -> dict[str, int]:
    """Return how long the words of a plan are that have been made on this laptop, in nanoseconds."""
    engine = engine_of_system()
    if shelf is None or engine is None:
        return {}
    voice = rig.sound.voice if rig is not None and rig.sound is not None else ""
    words = {cue.say for cue in plan.cues if cue.say}
    found = {word: shelf.lasts_ns(Spoken(engine.name, voice, plan.language, word)) for word in words}
    return {word: ns for word, ns in found.items() if ns is not None}


def _tell(told: dict[tuple[object, ...], LocatedFinding], finding: Finding, spots: Spots) -> None:
    one = LocatedFinding(finding, spots.file, spots.of(finding.path))
    told.setdefault((one.file, one.spot, finding.code, message(finding)), one)
