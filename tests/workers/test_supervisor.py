"""The rules of restart, silence, replay and end, with workers that are no processes and a clock that the test moves."""

import pytest

from tests.support.runner.workers_made import TURN_NS, Stand, firing, load, origins, ready
from tocsin.units import NS_PER_MS, NS_PER_S
from tocsin.workers.protocol import UNSAFE, Arm, Busy, Fired, Give, Heartbeat, Opened, TimelineLoaded
from tocsin.workers.suspicion import STILL_NS

FIRED = Fired(0, 0, "played", "", 0, 0, 0, run=1)


def test_a_worker_that_ends_is_started_again_and_told_what_its_predecessor_knew():
    stand = Stand("light")
    messages = load(firing(0, 5)), Arm("raised"), origins(stand.now_ns), Give((0,), 1)
    for message in messages:
        stand.supervisor.send(message)
    stand.open()
    stand.done = ((0, 0),)
    stand.newest.dies()
    stand.turn()
    assert stand.kinds() == ["fault", "restart"]
    told = stand.newest.said
    assert told[0].done == ((0, 0),)
    assert told[1:] == [messages[1], Give((0,), 1), messages[2]]
    assert stand.newest.inherited                      # the device is made safe first
    assert stand.made[0].left                          # and nothing is kept of the predecessor


def test_a_first_worker_leaves_a_device_alone_that_nobody_has_driven():
    assert not Stand("rumble").newest.inherited


def test_origins_of_another_timeline_are_not_replayed():
    stand = Stand("light")
    stand.supervisor.send(load(firing(0, 5)))
    stand.supervisor.send(origins(stand.now_ns))
    stand.supervisor.send(load(firing(0, 9), run=2))
    stand.newest.dies()
    stand.turn()
    assert [type(message).__name__ for message in stand.newest.said] == ["Load"]


def test_the_fourth_death_within_ten_seconds_makes_the_channel_failed_and_tried_every_ten_seconds():
    stand = Stand("light")
    for _ in range(4):
        stand.newest.dies()
        stand.turns(2)
    assert stand.kinds() == ["fault", "restart"] * 3 + ["fault", "failed"]
    assert len(stand.made) == 4
    stand.turns(7.5)
    assert len(stand.made) == 4
    stand.turns(1)
    assert len(stand.made) == 5


def test_deaths_that_lie_apart_never_make_a_channel_failed():
    stand = Stand("light")
    for _ in range(9):
        stand.newest.dies()
        stand.turns(5.1)
    assert "failed" not in stand.kinds()


def test_a_system_that_starts_no_process_fails_the_channel_and_not_the_program():
    stand = Stand("light")
    stand.refuses = 1
    stand.newest.dies()
    stand.turn()
    assert stand.kinds() == ["fault", "failed"]
    assert "no worker could be started" in stand.notes[-1][2]
    stand.turns(11)
    assert stand.kinds()[-1] == "restart"


def test_a_predecessors_last_words_count_its_signs_of_life_do_not():
    stand = Stand("light")
    stand.supervisor.send(load(firing(0, 5)))
    stand.newest.says(Opened(now_ns=stand.now_ns))
    old = stand.newest
    old.dies()
    stand.turn()
    stand.heard.clear()
    for message in (FIRED, TimelineLoaded(), Opened(now_ns=1), Heartbeat(now_ns=1)):
        old.says(message)
    stand.turn()
    assert stand.heard == [("light", FIRED)]
    assert not stand.supervisor.opened("light")


# -- silence

HANGING = {"a call that blocks": lambda made: None, "a loop": lambda made: made.works(50, 0, "untold")}


@pytest.mark.parametrize("hangs", HANGING.values(), ids=HANGING)
def test_a_worker_that_hangs_is_replaced_within_two_seconds(hangs):
    stand = Stand("light")
    stand.open()
    stand.turns(1.9, each=lambda: hangs(stand.made[0]))
    assert stand.made[0].killed
    assert stand.kinds() == ["fault", "restart"]


def test_a_stopped_worker_is_replaced_after_half_a_second():
    stand = Stand("light")
    stand.open()
    stand.newest.works(0, 0, "stopped")
    stand.turns(0.5)
    assert not stand.made[0].killed
    stand.turn()
    assert stand.made[0].killed


@pytest.mark.parametrize("turn_ms", [50, 400])
def test_a_healthy_worker_that_waits_for_the_processor_is_left_alone(turn_ms):
    """Every second it gets its two milliseconds, and has nothing to say yet."""
    stand = Stand("light")
    stand.open()
    stand.newest.works(0, 0, "untold")
    for _ in range(20):
        stand.newest.works(2, 1, "untold")
        stand.turns(1, turn_ms * NS_PER_MS)
    assert not stand.notes


def test_a_worker_that_speaks_is_never_weighed():
    stand = Stand("light")
    stand.open()
    stand.turns(10, each=lambda: stand.newest.says(Heartbeat(now_ns=stand.now_ns)))
    assert not stand.notes


def test_a_channel_that_has_announced_a_driver_call_is_given_five_seconds():
    stand = Stand("rumble")
    stand.open("rumble")
    stand.newest.says(Busy(True))
    stand.turns(4.9)
    assert not stand.notes
    stand.turns(0.6)
    assert stand.kinds() == ["fault", "restart"]


def test_much_to_make_ready_is_no_hanging():
    stand = Stand("sound")
    stand.open()
    stand.supervisor.send(load(firing(0, 50, channel="sound")))
    stand.turns(14, each=lambda: stand.newest.works(50, 1, "untold"))
    assert not stand.notes


def hung(stand, *firings, waits_s=0.45):
    """Let the match begin, and the worker hang from just now on."""
    stand.supervisor.send(load(*firings))
    stand.open()
    stand.supervisor.send(origins(stand.now_ns))
    stand.turns(waits_s, each=lambda: stand.newest.says(Heartbeat(now_ns=stand.now_ns)))


def killed_after_s(stand, limit_s=5):
    """Return after how long the first worker is killed."""
    began_ns = stand.now_ns
    while not stand.made[0].killed and stand.now_ns - began_ns < limit_s * NS_PER_S:
        stand.turn()
    return (stand.now_ns - began_ns) / NS_PER_S


SURELY_S = 0.5 + STILL_NS / NS_PER_S + 2 * TURN_NS / NS_PER_S


def test_a_worker_is_not_killed_just_before_a_firing_that_a_fresh_one_would_miss():
    stand = Stand("light")
    hung(stand, firing(0, 1.7), firing(1, 30))
    assert killed_after_s(stand) == pytest.approx(1.7 + 0.15 - 0.45, abs=0.11)


def test_a_worker_is_killed_at_once_where_a_fresh_one_can_still_show_what_is_left():
    stand = Stand("light")
    hung(stand, firing(0, 1.7, until_s=5))
    assert killed_after_s(stand) <= SURELY_S


def test_a_firing_that_is_recorded_already_spares_nobody():
    stand = Stand("light")
    stand.done = ((0, 0),)
    hung(stand, firing(0, 1.7))
    assert killed_after_s(stand) <= SURELY_S


def test_cues_that_follow_each_other_spare_a_worker_that_hangs_for_a_second_only():
    stand = Stand("light")
    hung(stand, *(firing(no, 0.1 * no) for no in range(100)))
    assert SURELY_S < killed_after_s(stand) <= SURELY_S + 1


def test_no_cue_spares_a_worker_that_was_stopped():
    stand = Stand("light")
    hung(stand, *(firing(no, 0.1 * no) for no in range(100)))
    stand.newest.works(0, 0, "stopped")
    assert killed_after_s(stand) <= 0.6


def test_a_spared_worker_that_speaks_again_lives():
    stand = Stand("light")
    hung(stand, firing(0, 1.7))
    stand.turns(1)
    stand.turns(10, each=lambda: stand.newest.says(FIRED))
    assert not stand.notes


# -- ready

def test_a_device_is_ready_once_its_worker_can_play_what_it_was_given():
    stand = Stand("sound")
    stand.supervisor.send(load(firing(0, 5, channel="sound")))
    stand.newest.says(Opened(now_ns=stand.now_ns))
    stand.newest.says(ready(stand.now_ns))
    stand.turn()
    assert not any(message == ready(stand.now_ns) for _, message in stand.heard)
    assert not stand.supervisor.opened("sound")
    stand.newest.says(TimelineLoaded())
    stand.turn()
    assert [type(message).__name__ for _, message in stand.heard] == ["Opened", "TimelineLoaded", "Event"]
    assert stand.supervisor.opened("sound")


def test_a_device_that_is_absent_or_lost_meanwhile_is_told_at_once():
    stand = Stand("sound")
    stand.supervisor.send(load(firing(0, 5, channel="sound")))
    stand.newest.says(ready(1))
    stand.newest.says(ready(2, "lost"))
    stand.newest.says(TimelineLoaded())
    stand.turn()
    assert [message.state for _, message in stand.heard if message != TimelineLoaded()] == ["lost"]


def test_of_two_timelines_the_last_one_counts():
    stand = Stand("sound")
    stand.supervisor.send(load(run=1))
    stand.supervisor.send(load(run=2))
    stand.newest.says(Opened(now_ns=stand.now_ns))
    stand.newest.says(TimelineLoaded())
    stand.turn()
    assert not stand.supervisor.opened("sound")


# -- the end

def finished(*channels, **keywords):
    """Return a stand whose workers have opened their devices."""
    stand = Stand(*channels, **keywords)
    for channel, made in zip(channels, tuple(stand.made), strict=True):
        made.says(Opened(now_ns=stand.now_ns))
        made.says(ready(stand.now_ns))
        stand.turn(0)
        assert stand.supervisor.opened(channel)
    return stand


def test_workers_that_end_by_themselves_have_made_their_devices_safe():
    stand = finished("rumble", "light", "sound")
    assert stand.supervisor.finish(stand.now_ns) == []
    assert len(stand.made) == 3
    assert all(made.left for made in stand.made)


@pytest.mark.parametrize("channel", ["rumble", "light"])
@pytest.mark.parametrize("way", ["dead", "given up", "hangs", "throws"])
def test_the_last_that_a_driven_device_sees_is_a_worker_that_makes_it_safe(channel, way):
    stand = finished(channel, ends_with=(None if way == "hangs" else 70 if way == "throws" else 0, 0))
    if way == "given up":
        for _ in range(4):
            stand.newest.dies()
            stand.turn()
        assert stand.kinds()[-1] == "failed"
    if way == "dead":
        stand.newest.dies()
    before = len(stand.made)
    notes = stand.supervisor.finish(stand.now_ns)
    assert [kind for kind, _, _ in notes] == ["fault"]
    assert len(stand.made) == before + 1
    assert stand.newest.inherited
    assert stand.newest.exit == 0


def test_nobody_waits_at_the_end_for_a_worker_that_was_stopped():
    stand = finished("light")
    stand.newest.works(0, 0, "stopped")
    stand.supervisor.finish(stand.now_ns)
    assert stand.made[0].killed
    assert stand.newest.exit == 0


def test_sound_and_screen_end_with_their_process():
    stand = finished("sound", "screen", ends_with=(None,))
    assert stand.supervisor.finish(stand.now_ns) == []
    assert len(stand.made) == 2


def test_a_last_worker_that_dies_is_followed_by_another():
    stand = finished("light", ends_with=(None, 70, 0))
    stand.supervisor.finish(stand.now_ns)
    assert [made.exit for made in stand.made] == [-9, 70, 0]


def test_what_could_not_be_made_safe_is_told():
    stand = finished("light", ends_with=(UNSAFE,))
    (note,) = stand.supervisor.finish(stand.now_ns)
    assert "unplug it" in note[2]
    assert len(stand.made) == 1                        # it has looked for the device as long as another would


def test_a_channel_that_something_else_plays_has_no_end_any_more():
    stand = finished("screen")
    stand.supervisor.dismiss("screen")
    assert stand.made[0].left
    assert stand.supervisor.finish(stand.now_ns) == []


def test_workers_of_a_life_that_was_cut_short_may_have_left_devices_driven():
    stand = Stand("light")
    stand.supervisor.start(stand.now_ns, ("light",))
    assert stand.newest.inherited
