"""The cues of a measurement of delays: what is called when, and where in a rig each device's delay stands."""

import pytest

from tocsin.config.files import file_text
from tocsin.config.load import load_texts
from tocsin.features.measure.delays.cues import bare_rig, cues_of, devices_of, first_pads, latencies_of, sound_of
from tocsin.features.measure.delays.result import places_of
from tocsin.model.plan import CHANNELS
from tocsin.model.rig import Light, Pad, Rig, Screen, Sound
from tocsin.model.safety import FlashGuard
from tocsin.units import NS_PER_MS, NS_PER_S

RIG = Rig(
    name="Two pagers",
    pads=(
        Pad(role="driver", latency_ns=80 * NS_PER_MS, buttons={"6": "mark.contact"}),
        Pad(role="operator", latency_ns=90 * NS_PER_MS),
        Pad(role="driver", latency_ns=120 * NS_PER_MS),
    ),
    light=Light(port="none", latency_ns=4 * NS_PER_MS),
    sound=Sound(latency_ns=12 * NS_PER_MS),
    screen=Screen(latency_ns=16 * NS_PER_MS),
)
TEXT = file_text("rig", "rig.toml", 'format = "tocsin-rig/1"\nname = "Two pagers"\n')


def cues(count=4, channels=CHANNELS):
    return cues_of(count, channels, bare_rig(RIG), TEXT)


def test_every_device_is_called_at_one_instant():
    found = {}
    for firing in cues().plans[0].timeline.firings:
        found.setdefault(firing.cue, []).append((firing.role or firing.channel, firing.begin))
    assert len(found) == 4
    for called in found.values():
        assert [device for device, _ in called] == ["driver", "operator", "light", "screen", "sound"]
        assert len({begin for _, begin in called}) == 1


def test_no_device_is_called_ahead_and_no_button_does_anything():
    bare = bare_rig(RIG)
    assert set(latencies_of(bare).values()) == {0}
    assert all(pad.buttons == {} for pad in bare.pads)
    assert bare.keys.hold == bare.keys.earlier == ()
    assert bare.keys.start == RIG.keys.start


def test_nothing_that_is_shown_is_kept_back_by_the_guard_against_flashes():
    """Each cue is one flash; what the guard held back would be seen late."""
    guard = FlashGuard(1)
    white, black = (255, 255, 255), (0, 0, 0)
    for firing in cues(12, ("screen",)).plans[0].timeline.firings:
        at_ns = firing.begin.offset_ns
        assert guard.admit(at_ns, [white]) == [white]
        assert guard.admit(at_ns + 600 * NS_PER_MS, [black]) == [black]


def test_the_sound_lies_where_sounds_may_lie_and_is_like_no_alarm():
    """500 to 2500 Hz (ISO 7731, from memory: energy there); a single short rise, not ISO 8201's three times 0.5 s."""
    (step,) = sound_of(cues()).steps
    assert 500 <= step.hz < step.to_hz <= 2500
    assert step.lasts_ns < 100 * NS_PER_MS
    with pytest.raises(KeyError):
        sound_of(cues(channels=("light",)))


def test_a_roles_delay_stands_with_its_first_pad():
    assert first_pads(RIG) == {"driver": 0, "operator": 1}
    assert latencies_of(RIG) == {"driver": 80, "operator": 90, "light": 4, "sound": 12, "screen": 16}
    assert places_of(RIG, {"operator": 93, "light": 18}) == {("pad", 1, "latency_ms"): 93, ("light", "latency_ms"): 18}


def test_only_what_is_asked_for_and_there_is_measured():
    assert devices_of(RIG) == ("driver", "operator", "light", "screen", "sound")
    assert devices_of(RIG, ("sound", "rumble")) == ("driver", "operator", "sound")
    assert devices_of(Rig(name="Nothing")) == ()


def test_the_cues_fit_into_their_period():
    loaded = load_texts(cues(60).files)
    last = loaded.plans[0].timeline.firings[-1].begin.offset_ns
    assert loaded.plans[0].timeline.periods[-1].end_ns >= last + NS_PER_S
