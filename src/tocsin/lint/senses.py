"""Check whether a call reaches everybody it is for, and on more than one sense."""

from collections.abc import Iterator

from tocsin.lint import limits as limit
from tocsin.lint.finding import TELL, WARN, Finding, Kind
from tocsin.lint.hands import DRIVING
from tocsin.lint.limits import SENSES, SIGN_OF_LIFE
from tocsin.lint.subject import Subject
from tocsin.lint.tracks import PlacedFiring, Track
from tocsin.model.plan import CHANNELS, ChannelName, Cue, Role
from tocsin.translation import tr

_DOES: dict[ChannelName, str] = {"rumble": "felt", "light": "a light", "screen": tr("on the screen"), "sound": "heard"}
_DEVICES: dict[ChannelName, str] = {"light": "a strip", "screen": "a screen", "sound": "a loudspeaker"}

KINDS_OF_SENSES: dict[str, Kind] = {
    "rumble_alone": Kind(
        WARN,
        "The cue '{cue}' is only felt: rumble is all that carries it.",
        "With a loose grip you miss it, and nobody sees that it failed.",
        "Add light, screen or sound. If it may be missed, write: priority = 3",
        (limit.FELT, limit.SENSES, limit.SIGN_OF_LIFE),
    ),
    "one_sense": Kind(
        WARN,
        "The cue '{cue}' has one channel only ({does}).",
        "Under pressure one signal gets lost; several together get through.",
        "Add another channel. If it may be missed, write: priority = 3",
        (limit.SENSES, limit.SIGN_OF_LIFE),
    ),
    "role_left_out": Kind(
        WARN,
        "The main call '{cue}' leaves out the {role}, whose pad gives '{other}'.",
        "Who does not get the main call works against those who do.",
        'Write: for = ["driver", "operator"]',
        (limit.MAIN_FOR_ALL,),
    ),
    "rig_lacks": Kind(
        TELL,
        "The plan '{plan}' also asks for what this rig does not have: {missing}.",
        "Those channels stay silent. The others go on.",
        "Add what is missing to the rig if you have it.",
        (limit.RIG,),
    ),
    "reaches_nobody": Kind(
        WARN,
        "This rig has no channel for the cue '{cue}'.",
        "It is given, and nobody notices.",
        "Add a channel that the rig has, or the device to the rig.",
        (limit.RIG, limit.SIGN_OF_LIFE),
    ),
}


def senses(subject: Subject) -> Iterator[Finding]:
    """Yield cues that one channel alone carries, and roles that the main call leaves out."""
    told: set[str] = set()
    for track in subject.tracks:
        for cue, channels in _together(subject, track):
            if cue.id in told or len(channels) >= SENSES.value or cue.priority <= SIGN_OF_LIFE.value:
                continue
            told.add(cue.id)
            channel = next(iter(channels))
            code = "rumble_alone" if channel == "rumble" else "one_sense"
            facts = {"cue": cue.id, "does": _DOES[channel], "when": track.when(_first(track, cue.id).begin_ns)}
            yield Finding(code=code, level="warning", path=subject.at(cue.id, channel), facts=facts)
    yield from _left_out(subject)


def senses_of_rig(subject: Subject) -> Iterator[Finding]:
    """Yield channels that the plan needs and the rig lacks, and cues that have none left there."""
    if subject.rig is None:
        return
    missing = list(_missing(subject))
    if missing:
        facts = {"plan": subject.plan.name, "missing": ", ".join(missing)}
        yield Finding(code="rig_lacks", level="advice", file="rig", path=("name",), facts=facts)
    for cue in subject.plan.cues:
        matters = cue.priority > SIGN_OF_LIFE.value
        if matters and not any(_reaches(subject, channel, cue) for channel in cue.patterns):
            path = subject.at(cue.id)
            yield Finding(code="reaches_nobody", level="warning", path=path, facts={"cue": cue.id})


def _together(subject: Subject, track: Track) -> Iterator[tuple[Cue, set[ChannelName]]]:
    """Yield each cue at each of its times with all channels that speak to its people at that instant."""
    at: dict[int, list[PlacedFiring]] = {}
    for placed in track.placed:
        at.setdefault(placed.begin_ns, []).append(placed)
    for there in at.values():
        cues = {p.firing.cue: subject.cue_of(p) for p in there}
        for cue in cues.values():
            yield cue, {p.firing.channel for p in there if set(cue.roles) & set(cues[p.firing.cue].roles)}


def _first(track: Track, cue: str) -> PlacedFiring:
    return next(p for p in track.placed if p.firing.cue == cue)


def _left_out(subject: Subject) -> Iterator[Finding]:
    main = subject.main
    if main is None or "driver" not in main.roles:
        return
    called = {role: cue.id for cue in reversed(subject.plan.cues) if "rumble" in cue.patterns for role in cue.roles}
    for role in DRIVING:
        if role in called and role not in main.roles:
            facts = {"role": role, "cue": main.id, "other": called[role]}
            yield Finding(code="role_left_out", level="warning", path=subject.at(main.id, "for"), facts=facts)


def _missing(subject: Subject) -> Iterator[str]:
    for channel in CHANNELS:
        cues = [cue for cue in subject.plan.cues if channel in cue.patterns]
        if channel == "rumble":
            roles: dict[Role, None] = dict.fromkeys(role for cue in cues for role in cue.roles)
            yield from (tr("a pad for the {role}", role=role) for role in roles if not subject.pads(role))
        elif cues and getattr(subject.rig, channel) is None:
            yield f"{_DEVICES[channel]} ([{channel}])"


def _reaches(subject: Subject, channel: ChannelName, cue: Cue) -> bool:
    if channel == "rumble":
        return any(subject.pads(role) for role in cue.roles)
    return getattr(subject.rig, channel) is not None
