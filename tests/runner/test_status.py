"""What people are shown, gathered from a stage without processes; asking changes nothing."""

import copy

import msgspec
import pytest

from tests.support.runner.stage_stand import NOW_NS, plain_stage, ready
from tocsin.model.timeline.timeline import MATCH, Point
from tocsin.runner import status as status_module
from tocsin.runner.options import LEAD_IN_NS
from tocsin.runner.stage import Front
from tocsin.runner.status import BATTERY_NS, StatusReader, status_of
from tocsin.units import NS_PER_S as S


@pytest.fixture
def played(tmp_path):
    return plain_stage(tmp_path, "full", "quiet", label="final 2")


def test_standby_names_plans_devices_and_keys(played):
    programme, stage = played
    ready(stage, "light")
    status = status_of(stage, programme, (), NOW_NS)
    assert (status.phase, status.plan_no, status.label) == ("standby", 0, "final 2")
    assert status.plans == tuple(found.plan.name for found in stage.files.plans)
    assert {fact.what: fact.state for fact in status.devices}["light"] == "ready"
    assert "start" in {key.action for key in status.keys}


def test_no_key_is_named_where_nobody_can_press_one(played):
    programme, stage = played
    stage.front = Front(opened=True)
    assert status_of(stage, programme, (), NOW_NS).keys == ()


def test_a_scribes_keys_are_told_until_the_match_is_over_and_where_somebody_can_press_them(played):
    programme, stage = played
    marks = [("7", "contact"), ("8", "turned"), ("9", "home")]

    def told():
        return [(entry.key, entry.does) for entry in status_of(stage, programme, (), NOW_NS).scribe]

    assert told() == marks
    stage.match.start_now(NOW_NS, LEAD_IN_NS)
    assert told() == marks
    stage.front = Front(opened=True)
    assert told() == []
    stage.front = Front(opened=True, interactive=True)
    stage.match.scrap(NOW_NS)
    assert told() == []


def test_all_keys_are_shown_for_as_long_as_it_was_asked_for(played):
    programme, stage = played
    stage.all_keys_until_ns = NOW_NS + S
    assert status_of(stage, programme, (), NOW_NS + S - 1).all_keys
    assert not status_of(stage, programme, (), NOW_NS + S).all_keys


def test_a_match_shows_its_origins_and_its_error(played):
    programme, stage = played
    stage.match.press_start(NOW_NS, NOW_NS)
    status = status_of(stage, programme, (), NOW_NS)
    assert status.phase == "waiting"
    assert [origin.anchor for origin in status.origins] == [MATCH]
    assert status.error_ms == stage.match.error_ms > 0


def test_it_begins_where_people_see_it_begin(played):
    programme, stage = played
    piece = programme.piece(0)
    stage.reload(piece._replace(at=Point(MATCH, 7 * S), behind_ns=5), NOW_NS)
    assert status_of(stage, programme, (), NOW_NS).begins == Point(MATCH, 7 * S)
    stage.reload(piece._replace(at=Point(MATCH, 7 * S), begins=Point(MATCH, 8 * S)), NOW_NS)
    assert status_of(stage, programme, (), NOW_NS).begins == Point(MATCH, 8 * S)


def test_asking_changes_nothing(played):
    programme, stage = played
    stage.match.start_now(NOW_NS, LEAD_IN_NS)
    before = (copy.deepcopy(stage.match.record.kept), stage.match.changed, stage.unsent, stage.run_no)
    first = status_of(stage, programme, (), NOW_NS + S)
    for _ in range(3):
        programme.piece(0)
        stage.match.over(NOW_NS + 300 * S)
        assert status_of(stage, programme, (), NOW_NS + S) == first
    assert (stage.match.record.kept, stage.match.changed, stage.unsent, stage.run_no) == before


def test_it_is_given_out_only_when_it_has_changed_and_the_battery_is_read_now_and_then(played, monkeypatch):
    programme, stage = played
    read = []
    monkeypatch.setattr(status_module, "battery_text", lambda: read.append(None) or f"{90 - len(read)} %")
    statuses = StatusReader(stage, programme, "kept awake")
    first = statuses.take_new((), NOW_NS)
    assert (first.battery, first.awake) == ("89 %", "kept awake")
    assert statuses.take_new((), NOW_NS + BATTERY_NS) is None
    assert statuses.take_new((), NOW_NS + BATTERY_NS + 1) == msgspec.structs.replace(first, battery="88 %")
    stage.notice("the strip is gone", NOW_NS + BATTERY_NS + 2)
    assert statuses.take_new((), NOW_NS + BATTERY_NS + 2).notice == "the strip is gone"
