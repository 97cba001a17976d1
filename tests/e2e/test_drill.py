"""Drills as whole processes: twelve rounds whose results are worked out anew, and an evening with all that can happen.

Both evenings are played beside each other, each with people, a pad and a Tocsin of its own: a round takes as long as it
takes.
"""

import csv
import io
import json
import subprocess
from concurrent.futures import ThreadPoolExecutor

import msgspec
import pytest

from tests.support.people import eventful_evening, twelve_rounds
from tests.support.people.eventful_evening import BEGINS_S, COUNT_IN_NS, LATE_NS, MATCH_END_S, Eventful
from tests.support.people.reckoned_round import told
from tests.support.people.twelve_rounds import (
    BATTERY_AFTER,
    HALF_SPEED,
    LEAD_S,
    RATE,
    ROUNDS,
    RULE,
    SEED,
    WINDOW_S,
    Played,
    begins_s,
)
from tests.support.stands.stand import TOCSIN
from tocsin.analysis.rounds.variation import conditions
from tocsin.config.drills import load_drill_texts
from tocsin.features.records.round_report import reports_of
from tocsin.journal.reader import read
from tocsin.units import NS_PER_MS, NS_PER_S

pytestmark = pytest.mark.devices

NUMBERS = range(1, ROUNDS + 1)
EVENINGS = {"played": twelve_rounds.play, "eventful": eventful_evening.play}


@pytest.fixture(scope="module")
def evenings(request, tmp_path_factory):
    """Begin the evenings that the chosen tests look at."""
    asked = {name for item in request.session.items if item.module is request.module for name in item.fixturenames}
    with ThreadPoolExecutor(len(EVENINGS)) as pool:
        yield {
            name: pool.submit(play, tmp_path_factory.mktemp(name)) for name, play in EVENINGS.items() if name in asked
        }


@pytest.fixture(scope="module")
def played(evenings) -> Played:
    return evenings["played"].result()


@pytest.fixture(scope="module")
def eventful(evenings) -> Eventful:
    return evenings["eventful"].result()


def notes(rows, what):
    return [row["text"] for row in rows if row["kind"] == "note" and row["what"] == what]


def of_kind(rows, kind):
    return [row for row in rows if row["kind"] == kind]


def reports(played):
    return list(reports_of([read(folder) for folder in played.evening.folders()], played.loaded))


# -- twelve rounds


def test_all_rounds_are_played_and_each_has_its_journal(played):
    assert played.code == 0
    assert len(played.evening.folders()) == ROUNDS
    for folder in played.evening.folders():
        journal = read(folder)
        assert (journal.flaws, journal.torn, journal.end.outcome) == ((), b"", "over")
        kinds = {record.__struct_config__.tag for record in journal.records}
        assert {"header", "note", "state", "origin", "firing", "device", "mark", "end"} <= kinds


def test_results_are_those_that_the_presses_come_to(played):
    assert [told(report.result) for report in reports(played)] == [played.reckoned(number) for number in NUMBERS]


def test_these_rounds_are_clean_and_not_and_doubtful(played):
    """Else the comparison above would say little."""
    found = [played.reckoned(number) for number in NUMBERS]
    assert {one.clean for one in found} == {True, False, None}
    assert {bool(one.contacts) for one in found} == {bool(one.overlap_ns) for one in found} == {True, False}
    assert {one.home for one in found} == {"home", ""}
    assert any(one.cost < one.cost_at_most for one in found)
    assert any(one.gain < one.gain_at_most for one in found)
    assert any(one.turn_ns and one.turn_ns > RULE.turned_ns for one in found)
    assert any(one.break_off_margin_ns is None for one in found)


def test_no_round_counts_at_another_rate_and_the_reasons_are_said(played):
    for number, report in enumerate(reports(played), 1):
        half = ("driven at half speed",) if number <= HALF_SPEED else ()
        assert report.result.uncounted == (*half, f"the clock ran at {RATE} times its speed")
        assert (report.result.counted, report.result.error_ms) == (False, 240)


def test_every_result_that_people_saw_is_that_of_the_record(played):
    said = [line.strip() for line in played.evening.lines]
    at = 0
    for number, report in enumerate(reports(played), 1):
        at = said.index(next(line for line in said[at:] if line.startswith(f"Round {number} of {ROUNDS}")), at)
        at = said.index(report.rows[0], at)
        assert said[at : at + len(report.rows)] == list(report.rows)
    assert any(line.startswith("So far ○ ○ ○ ○ ○  ○ ○ ○ ○ ○  ○ ○   ") for line in said)


def test_headers_say_which_round_it_was(played):
    known = conditions(played.loaded.drill, SEED)
    for number in NUMBERS:
        said = played.facts(number)
        changes = [after for after in BATTERY_AFTER if after < number]
        assert (said["round"], said["seed"], said["key"]) == (number, SEED, played.facts(1)["key"])
        assert (said["battery"], said["crew"]) == (number - 1 - max(changes, default=0), "A")
        assert said["half_speed"] == (number <= HALF_SPEED)
        assert said["condition"] == msgspec.to_builtins(known[number - 1])


def test_each_round_is_of_the_plan_that_was_dealt_to_it_and_nobody_was_told(played):
    dealt = [played.facts(number)["condition"]["plan"] for number in NUMBERS]
    for number, plan in zip(NUMBERS, dealt, strict=True):
        header, *rest = played.evening.records(number - 1)
        loaded = load_drill_texts(read(played.evening.folders()[number - 1]).header.files)
        assert [found.plan.name for found in loaded.files.plans] == ["Full", "Mine"]
        assert header["options"]["plan_no"] == ["full", "mine.toml"].index(plan)
        assert header["timeline"]["plan"] == ("Mine" if plan == "mine.toml" else "Full")
        shown = {row["cue"] for row in of_kind(rest, "firing") if row["channel"] == "screen"}
        assert ("only_mine" in shown) == (plan == "mine.toml")
    cards = [line for line in played.evening.lines if "Mine" in line or "mine.toml" in line or "Full" in line]
    assert not cards


def runs(played, *arguments):
    command = [*TOCSIN, "runs", "--runs", str(played.evening.runs), *arguments]
    return subprocess.run(command, capture_output=True, check=True, timeout=120).stdout


def in_s(ns):
    return None if ns is None else round(ns / NS_PER_S, 3)


def test_the_table_holds_what_the_presses_come_to(played):
    text = runs(played, "--csv").decode()
    assert text.count("\r\n") == text.count("\n") == ROUNDS + 1
    table = list(csv.DictReader(io.StringIO(text, newline="")))
    objects = json.loads(runs(played, "--json"))
    for number, row, one in zip(NUMBERS, reversed(table), reversed(objects), strict=True):
        found, said, condition = played.reckoned(number), played.facts(number), played.facts(number)["condition"]
        seconds = {
            "break_off_margin_s": in_s(found.break_off_margin_ns), "turn_s": in_s(found.turn_ns),
            "way_s": in_s(found.travel_ns), "home_margin_s": in_s(found.home_margin_ns),
            "contact_s": in_s(found.overlap_ns), "shift_s": in_s(condition["shift_ns"]),
            "earlier_s": in_s(condition["earlier_ns"]),
        }  # fmt: skip
        counts = {
            "contacts": found.contacts, "cost_points": found.cost, "gain_points": found.gain,
            "net_points": found.gain - found.cost, "cost_at_most_points": found.cost_at_most,
            "gain_at_most_points": found.gain_at_most, "unclear_marks": len(found.unclear),
            "open_marks": found.open_marks, "battery_rounds": said["battery"], "round": number,
        }  # fmt: skip
        texts = {
            "home": found.home, "setup": condition["setup"], "coach": condition["coach"], "crew": "A",
            "plan_dealt": condition["plan"], "draw_out": "", "session": said["key"],
        }  # fmt: skip
        assert {name: one[name] for name in (*seconds, *counts, *texts)} == {**seconds, **counts, **texts}
        assert {name: row[name] for name in seconds} == {
            name: "" if value is None else f"{value:.3f}" for name, value in seconds.items()
        }
        assert {name: row[name] for name in (*counts, *texts)} == {
            name: str(value) for name, value in {**counts, **texts}.items()
        }
        assert row["clean"] == {True: "yes", False: "no", None: "unknown"}[found.clean]
        assert (row["counted"], row["half_speed"]) == ("no", "yes" if number <= HALF_SPEED else "no")
        assert f"the clock ran at {RATE} times its speed" in row["not_counted_because"]


def test_a_drill_is_shown_by_its_key_with_how_often_each_value_was_dealt(played):
    key = played.facts(1)["key"]
    conditions_said = [played.facts(number)["condition"] for number in NUMBERS]
    shown = json.loads(runs(played, "--show", key, "--json"))
    assert [row["round"] for row in shown["rows"]] == list(NUMBERS)
    expected = {
        (factor, in_s(one[name]) if factor.endswith("_s") else one[name])
        for factor, name in (("setup", "setup"), ("coach", "coach"), ("shift_s", "shift_ns"), ("plan_dealt", "plan"))
        for one in conditions_said
    }
    assert {(one["factor"], one["value"]) for one in shown["dealt"]} == expected
    assert {one["factor"]: one["dealt"] for one in shown["dealt"]} == {
        "setup": 6, "coach": 6, "shift_s": 4, "plan_dealt": 6
    }  # fmt: skip
    assert all((one["counted"], one["clean"]) == (0, 0) for one in shown["dealt"])
    text = runs(played, "--show", key).decode()
    assert "mine.toml" in text
    assert "plan dealt" in text
    newest = runs(played, "--show", played.evening.folders()[-1].name).decode()
    assert f"plan {conditions_said[-1]['plan']}" in newest
    assert f"runs --show {key}" in newest


def test_what_varies_is_balanced_and_played(played):
    said = [played.facts(number)["condition"] for number in NUMBERS]
    assert sorted(one["shift_ns"] for one in said) == [-NS_PER_S] * 4 + [0] * 4 + [NS_PER_S] * 4
    for name in ("setup", "coach", "plan"):
        values = [one[name] for one in said]
        assert {values.count(value) for value in values} == {ROUNDS // 2}
    pressed = {press.begin_ns for press in played.presses if press.action == "start"}
    for number, one in enumerate(said, 1):
        rows = played.evening.records(number - 1)
        starts = {row["starts_ns"] for row in of_kind(rows, "origin") if row["anchor"] == "match"}
        assert starts == {played.clock(number).real_ns(begins_s(one))}
        assert starts <= pressed                        # a countdown's start is taken as it was pressed
        home = {row["match_ns"] for row in of_kind(rows, "firing") if row["cue"] == "home"}
        assert home == {(WINDOW_S - LEAD_S) * NS_PER_S - one["shift_ns"]}
        assert played.evening.hearing(f"Set-up: {one['setup']}")


def test_the_rest_between_rounds_is_counted_down_and_begins_nothing(played):
    """People here go on before it is over: it is theirs to decide."""
    left = [int(line.split("Rest: ")[1].split(" s")[0]) for line in played.evening.hearing("Rest: ")]
    assert left
    assert set(left) <= set(range(1, 10))
    first = played.evening.lines.index(played.evening.hearing("next round")[0])
    assert not [line for line in played.evening.lines[:first] if "Rest: " in line]


def test_answers_and_the_field_clear_stand_before_each_round(played):
    for number in NUMBERS:
        rows = played.evening.records(number - 1)
        changed = number - 1 in BATTERY_AFTER
        assert notes(rows, "safety") == (["Is the field empty? yes"] if changed or number == 1 else [])
        assert notes(rows, "field clear") == [""]
        assert (len(notes(rows, "battery")), notes(rows, "crew")) == (changed, [])
        assert notes(rows, "drill ended") == (["all rounds played"] if number == ROUNDS else [])


def test_marks_are_where_people_pressed(played):
    """Each mark has the times of its button, and no press is lost."""
    pressed = [press for press in played.presses if press.action.startswith("mark.")]
    rows = [row for number in NUMBERS for row in of_kind(played.evening.records(number - 1), "mark")]
    marks = [(f"mark.{row['label']}", row["begin_ns"], row["end_ns"]) for row in rows]
    held = [press.end_ns - press.begin_ns >= 300 * NS_PER_MS for press in pressed]
    wanted = [(p.action, p.begin_ns, p.end_ns if long else None) for p, long in zip(pressed, held, strict=True)]
    assert sorted(marks) == sorted(wanted)
    assert set(held) == {True, False}
    assert not any(row["pointlike"] for row in rows), "a pad's button tells when it comes up"


# -- an evening with all that can happen: 1, 1 again, 2 scrapped, 2, the other crew's 1 cut short, and again


def drill_facts(rows):
    return rows[0]["options"]["drill"]


def ends(evening):
    return [next(row["outcome"] for row in evening.records(n) if row["kind"] == "end") for n in range(6)]


def test_rounds_that_were_repeated_scrapped_or_cut_short_come_again(eventful):
    numbers = [drill_facts(eventful.after.records(n))["round"] for n in range(len(eventful.after.folders()))]
    assert numbers == [1, 1, 2, 2, 1, 1]
    assert ends(eventful.after) == ["over", "over", "scrapped", "over", "crashed", "over"]
    assert notes(eventful.after.records(0), "repeated") == [""]


def test_nothing_begins_before_the_questions_and_the_field_clear(eventful):
    assert eventful.began_unasked == 0
    assert notes(eventful.after.records(0), "safety") == [
        "Glasses on? no", "Glasses on? yes", "Is the field empty? yes",
    ]  # fmt: skip


def test_home_tapped_twice_is_half_home_and_may_be_taken_back_later(eventful):
    marks = of_kind(eventful.after.records(0), "mark")
    said = [(mark["label"], mark["takes_back"]) for mark in marks]
    assert said == [
        ("contact", None), ("contact", 0), ("home", None), ("home", 2), ("home_half", None), ("home_half", 4),
    ]  # fmt: skip
    assert eventful.half_home == "Not clean: the robot came home only half."
    assert eventful.taken_back == "Not judged: nobody marked this."


def test_a_key_held_down_over_the_end_is_an_open_mark(eventful):
    (mark,) = of_kind(eventful.after.records(1), "mark")
    assert (mark["label"], mark["open"], mark["end_ns"]) == ("contact", True, None)
    assert eventful.before.hearing("1 mark never ended: counted until the turn or home, else to the end.")


def test_a_dropped_round_says_why_and_is_not_played_again(eventful):
    assert notes(eventful.after.records(3), "dropped") == ["robot or field failed"]


def test_a_crash_loses_nothing_of_the_round_that_it_cut_short(eventful):
    rows = eventful.after.records(4)
    (mark,) = of_kind(rows, "mark")
    pressed = [press[1:] for press in eventful.before.presses() if press.action == "mark.contact"]
    assert (mark["begin_ns"], mark["end_ns"]) in pressed
    assert notes(rows, "dropped") == ["cut short"]
    assert (notes(rows, "crew"), len(notes(rows, "battery"))) == (["B"], 1)
    assert of_kind(rows, "end")[0]["why"] == "the drill was cut short"


def test_the_drill_goes_on_with_the_same_round_after_a_crash(eventful):
    cut_short, again = (drill_facts(eventful.after.records(n)) for n in (4, 5))
    assert cut_short == again
    assert (again["round"], again["crew"], again["battery"]) == (1, "B", 0)
    assert notes(eventful.after.records(5), "safety") == [], "nobody is asked twice in an evening"
    assert not eventful.after.hearing("Glasses on?")


def test_a_crew_that_comes_in_later_has_a_series_of_its_own(eventful):
    """The first crew has one round that was not clean and counts, the other one that was, after the crash."""
    assert not eventful.after.hearing("1 of 2 clean")
    assert not eventful.after.hearing("So far")


def test_leaving_early_keeps_everything_and_ends_the_drill(eventful):
    assert eventful.code == 0
    rows = eventful.after.records(5)
    assert notes(rows, "drill ended") == ["ended early"]
    assert len(notes(rows, "field clear")) == 2          # of this round, and of the one that they left before
    assert eventful.after.hearing(f"runs --show {eventful.after.records(5)[0]['options']['drill']['key']} ")
    assert eventful.nothing_left_code == 22
    assert eventful.nothing_left.hearing("there is no drill to go on with")


def test_a_late_start_begins_late_and_nobody_is_told(eventful):
    for number in range(6):
        origins = {row["anchor"]: row for row in of_kind(eventful.after.records(number), "origin")}
        pressed_ns = origins["count_in"]["origin_ns"]
        begins_ns = pressed_ns + COUNT_IN_NS + LATE_NS
        assert origins["match"]["starts_ns"] == begins_ns
        assert origins["match"]["origin_ns"] == begins_ns - (MATCH_END_S - BEGINS_S) * NS_PER_S
    told_to_people = "\n".join(eventful.before.lines + eventful.after.lines)
    for of_signals in ("late by", "too late"):                         # on a busy machine
        told_to_people = told_to_people.replace(of_signals, "")
    assert "late" not in told_to_people
    assert "400" not in told_to_people
