"""An event day on a stage without processes: what a drive team reads, presses, and finds in its runs."""

import json
from datetime import date

import msgspec
import pytest

from tests.support.runner.stage_stand import NOW_NS, Desk, ready, stage_for
from tocsin.channels.device import Event
from tocsin.channels.rumble.channel import PREFLIGHT_APART_NS
from tocsin.config.load import load
from tocsin.features.event.day import PIT, EventDay
from tocsin.features.event.preflight import STEP_NS
from tocsin.features.event.rules import EventRules
from tocsin.features.event.run import at_event
from tocsin.journal import records
from tocsin.journal.place import EVENT_RULES_NAME
from tocsin.journal.reader import read
from tocsin.runner.options import RunOptions
from tocsin.runner.power import Battery
from tocsin.runner.stage import Front
from tocsin.runner.status import status_of
from tocsin.units import NS_PER_S as S
from tocsin.workers.protocol import Command

FIRST = date(2031, 3, 1)               # the day of the stand's desk


class Team:
    """A drive team at its laptop on an event day."""

    def __init__(self, tmp_path, day=FIRST, charge=80.0, rig="practice_bench", interactive=True, **options):
        self.day = day
        self.runs = tmp_path / "runs"
        options = RunOptions(plans=("full",), rig=rig, runs=self.runs, rate=100.0, **options)
        self.options = msgspec.structs.replace(at_event(options), match=options.match)
        rules = EventRules(self.runs, tmp_path / "tocsin.toml")
        files = load(None, ("full",), rig)
        day_of = EventDay(files, self.options, rules, lambda: self.day, lambda: Battery(charge, plugged=False))
        self.desk = Desk(day_of, stage_for(day_of, self.options, tmp_path))
        self.desk.stage.front = Front(opened=True, interactive=interactive)
        self.desk.after(0.25)
        self.titles = []               # of the results that stood

    def press(self, *keys):
        notice = self.desk.press(*keys)
        self.desk.after(0.25)
        return notice

    def plug_in(self, *roles):
        for role in roles:
            event = Event(kind="device", at_ns=NOW_NS, what=role, state="ready", name=f"Pad of {role}")
            self.desk.stage.device_states.take("rumble", event)
        ready(self.desk.stage, "rumble", "light", "screen")

    @property
    def card(self):
        return "\n".join(self.desk.card).replace("\N{NO-BREAK SPACE}", " ")

    def play(self):
        self.press("s")
        assert self.desk.phase == "waiting"
        self.desk.end_match()
        journal = read(self.desk.stage.last_folder)
        self.titles.append(self.desk.programme.picture().title)
        self.press("s")
        self.desk.go_on()
        self.desk.after(0.25)
        return journal


@pytest.fixture
def team(tmp_path):
    return Team(tmp_path, match=14)


def test_an_event_has_no_sound_and_says_so_on_the_screen_and_in_the_journal(team):
    assert "sound" not in team.options.only
    assert "sound off" in team.card
    facts = {fact.what: (fact.state, fact.text) for fact in team.desk.stage.device_states.facts()}
    assert facts["sound"] == ("off", "off at an event")
    assert team.desk.stage.rig.sound is not None       # whatever the rig says
    team.press("y")
    journal = team.play()
    notes = {note.what: note.text for note in journal.records if isinstance(note, records.Note)}
    assert notes["event"] == "sound off"
    assert journal.header.options["at"] == "event"


def test_a_key_that_would_make_it_louder_says_why_it_does_not(team):
    team.press("y", "s")
    assert team.press("up") == "sound is off at an event"
    shown = {key.action for key in status_of(team.desk.stage, team.desk.programme, (), team.desk.now_ns).keys}
    assert not shown & {"mute", "louder", "softer"}


def test_the_number_counts_on_behind_a_match_and_stands_in_its_header(team):
    team.press("y")
    assert [team.play().header.options["match"] for _ in range(3)] == [14, 15, 16]
    assert "match 17" in team.card
    assert team.titles == ["Match 14", "Match 15", "Match 16"]


@pytest.mark.parametrize(
    ("keys", "number"), [("up", 15), ("down", 13), ("right", 24), ("left", 4), ("left left", 1), ("1 2 3", 14)]
)
def test_the_number_is_changed_by_keys_that_are_no_digits(team, keys, number):
    team.press("y", *keys.split())
    assert f"match {number}, sound" in team.card
    assert team.play().header.options["match"] == number


def test_no_number_is_no_hindrance_and_is_said(tmp_path):
    team = Team(tmp_path)
    assert "match not numbered" in team.card
    assert "right +10" in team.card
    team.press("y")
    assert team.play().header.options["match"] is None
    assert "match not numbered" in team.card
    team.press("right", "up")
    assert team.play().header.options["match"] == 11


def test_a_match_that_was_cancelled_comes_again_with_its_number(team):
    team.press("y", "s", "x", "x")
    assert team.desk.phase == "scrapped"
    team.desk.end_match()
    team.press("s")
    team.desk.go_on()
    assert "match 14" in team.card


# -- the event's rules


def test_the_rules_are_asked_before_the_first_start_and_once_a_day(tmp_path):
    team = Team(tmp_path, match=1)
    assert "Rules asked" in team.desk.ask
    assert team.press("s") == "say first whether the event's rules were asked"
    assert team.desk.phase == "standby"
    team.press("y")
    assert team.desk.ask == ""
    assert "allowed at the field" in team.card
    assert Team(tmp_path, match=2).desk.ask == ""
    assert "Rules asked" in Team(tmp_path, match=2, day=date(2031, 3, 2)).desk.ask


def test_the_answer_is_private_and_holds_no_words(tmp_path):
    Team(tmp_path, match=1).press("n")
    path = tmp_path / "runs" / EVENT_RULES_NAME
    assert path.stat().st_mode & 0o077 == 0
    [answer] = json.loads(path.read_text())["answers"]
    assert (answer["day"], answer["allowed"]) == ("2031-03-01", False)
    assert str(tmp_path) not in path.read_text()


def test_another_project_is_asked_for_itself(tmp_path):
    rules = EventRules(tmp_path, tmp_path / "a.toml")
    rules.answer(FIRST, allowed=True)
    other = EventRules(tmp_path, tmp_path / "b.toml")
    assert other.allowed(FIRST) is None
    other.answer(FIRST, allowed=False)
    assert EventRules(tmp_path, tmp_path / "a.toml").allowed(FIRST) is True
    assert EventRules(tmp_path, tmp_path / "b.toml").allowed(FIRST) is False


@pytest.mark.parametrize("text", ["", "{", "[1]", '{"answers": [{"day": 3}]}', "\0"])
def test_a_file_of_answers_that_is_broken_asks_anew(tmp_path, text):
    (tmp_path / EVENT_RULES_NAME).write_text(text)
    rules = EventRules(tmp_path, None)
    assert rules.allowed(FIRST) is None
    assert rules.answer(FIRST, allowed=True) == ""
    assert EventRules(tmp_path, None).allowed(FIRST) is True


def test_an_answer_that_cannot_be_written_holds_for_now_and_says_so(tmp_path):
    (tmp_path / EVENT_RULES_NAME).mkdir()
    rules = EventRules(tmp_path, None)
    assert EVENT_RULES_NAME in rules.answer(FIRST, allowed=True)
    assert rules.allowed(FIRST) is True


def test_where_it_may_not_stand_the_standby_says_pit_and_card_and_a_rehearsal_there_is_possible(team):
    team.press("n")
    assert f"{PIT}\ntocsin export --to card --plan full -o card.pdf" in team.card
    team.play()
    assert PIT in team.card
    team.press("y")
    assert PIT not in team.card


def test_nobody_is_asked_who_cannot_answer(tmp_path):
    deserted = Team(tmp_path, interactive=False, start="key", match=3)
    assert deserted.desk.ask == ""
    assert deserted.desk.programme.refuses_start() == ""
    scripted = Team(tmp_path, start="now", match=3)
    assert scripted.desk.ask == ""


def test_the_laptop_that_stood_over_night_asks_in_the_morning(team):
    team.press("y")
    assert team.desk.ask == ""
    team.day = date(2031, 3, 2)
    team.desk.after(0.25)
    assert "Rules asked" in team.desk.ask


# -- preflight


def tried(team):
    return [
        (process.channel, message)
        for process in team.desk.stage.supervisor.processes()
        for message in process.said
        if message == Command("preflight")
    ]


def test_one_key_walks_through_all_that_must_be_there_within_ten_seconds(team):
    team.plug_in("driver", "operator")
    team.press("y")
    lines, begin_ns = [], team.desk.now_ns
    team.press("t")
    while "Preflight 1" in team.card or " of " in team.card:
        lines.append(next(line for line in team.card.splitlines() if line.startswith("Preflight")))
        team.desk.after(0.25)
    assert team.desk.now_ns - begin_ns <= 10 * S
    told_of = list(dict.fromkeys(line.split(": ")[1] for line in lines))
    assert told_of == ["driver", "operator", "light", "screen", "sound", "clock", "battery", "plan", "rules"]
    assert any("driver: Pad of driver, 4 calls in this plan, felt?" in line for line in lines)
    assert any("sound: off at an event" in line for line in lines)
    assert any("clock: ± 0." in line for line in lines)
    assert "Preflight: all there; tried: driver, operator, light, screen" in team.card
    assert sorted({channel for channel, _ in tried(team)}) == ["light", "rumble", "screen"]
    assert len(tried(team)) == 3                       # the pads' worker shakes one after another by itself


def test_a_line_of_a_pad_lasts_as_long_as_its_turn():
    assert STEP_NS == PREFLIGHT_APART_NS


def test_what_is_missing_is_named_with_its_fix_and_stands_in_the_journal(tmp_path):
    team = Team(tmp_path, match=14, charge=12.0)
    event = Event(kind="device", at_ns=NOW_NS, what="operator", state="absent", why="plug in the second pad")
    team.desk.stage.device_states.take("rumble", event)
    team.plug_in("driver")
    team.press("t")
    team.desk.after(10)
    assert "Preflight: MISSING operator, battery, rules; tried: driver, light, screen" in team.card
    assert "operator MISSING: plug in the second pad" in team.card
    assert "battery MISSING: 12 %: plug it in" in team.card
    assert "rules MISSING: not asked" in team.card
    team.press("y")
    notes = {note.what: note.text for note in team.play().records if isinstance(note, records.Note)}
    assert notes["preflight"] == "MISSING operator, battery, rules; tried: driver, light, screen"
    assert "Preflight not done" in team.card           # for the next match


def test_a_start_in_the_middle_of_the_walk_is_no_hindrance(team):
    team.plug_in("driver")
    team.press("y", "t")
    journal = team.play()
    assert "preflight" not in {note.what for note in journal.records if isinstance(note, records.Note)}
