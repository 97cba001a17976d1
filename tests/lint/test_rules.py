"""What findings say: every code in plain sentences, with its limit and where that comes from."""

import re
from pathlib import Path

import pytest

from tests.lint.test_findings import CASES
from tests.support.lint.cases_rig import FULL, LACKING, PADS
from tests.support.lint.inspected import HEAD, Case, got, look
from tocsin.config import bundle
from tocsin.config.checking import examine
from tocsin.config.load import load
from tocsin.features.check.findings import LocatedFinding, devices, found_in
from tocsin.lint import limits
from tocsin.lint.colours import named
from tocsin.lint.finding import Finding
from tocsin.lint.hands import form_of
from tocsin.lint.inspect import inspect
from tocsin.lint.leads import least_lead_ns
from tocsin.lint.limits import PRACTICE, Limit
from tocsin.lint.messages import example_facts, explained, fix, message, source, why
from tocsin.lint.rules import KINDS
from tocsin.lint.spoken_words import syllables
from tocsin.lint.subject import MeasuredLead, Subject
from tocsin.model.safety import OKABE_ITO
from tocsin.units import NS_PER_S as S

LIMITS = {name: value for name, value in vars(limits).items() if isinstance(value, Limit)}


@pytest.mark.parametrize("code", KINDS)
def test_every_code_names_its_limit_and_the_source(code: str) -> None:
    kind = KINDS[code]
    assert kind.limits
    told = source(Finding(code=code, level=kind.levels[0], path=()))
    for limit in kind.limits:
        assert limit.text.format(value=limit.value) in told
        assert limit.source in told
    assert all(limit.source for limit in kind.limits)


def test_every_limit_is_used() -> None:
    used = {limit for kind in KINDS.values() for limit in kind.limits}
    assert {name for name, limit in LIMITS.items() if limit not in used} == set()


def test_a_limit_that_nobody_published_says_so() -> None:
    published = {limit.source for limit in LIMITS.values() if limit.source != PRACTICE}
    assert all(re.search(r"\d|Gamepad|runs|vendors|SDL|Tocsin", text) for text in published)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_every_sentence_is_whole(case: Case, tmp_path: Path) -> None:
    for one in look(case, tmp_path):
        for text in (message(one.finding), why(one.finding), fix(one.finding)):
            assert text
            assert not re.search(r"[{}]", text)
            assert "  " not in text
        assert message(one.finding)[0].isupper() or message(one.finding)[0] in "'0123456789m"
        assert message(one.finding).endswith(".")


@pytest.mark.parametrize("code", KINDS)
def test_every_code_is_explained(code: str) -> None:
    text = "\n".join(explained(code))
    assert KINDS[code].why in text
    assert not re.search(r"[{}…]", text)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_examples_fill_what_findings_fill(case: Case, tmp_path: Path) -> None:
    for one in look(case, tmp_path):
        assert set(one.finding.facts) <= set(example_facts(one.finding.code))


def test_against_itself_no_priority_helps(tmp_path: Path) -> None:
    (own,) = look(next(case for case in CASES if case.name == "a_cue_cuts_itself"), tmp_path)
    assert fix(own.finding) == "Leave more time between the two, or take a shorter pattern."
    (other,) = look(next(case for case in CASES if case.name == "pads_overlap"), tmp_path)
    assert fix(other.finding) == "Leave more time between the two, or give 'one' the higher priority."


# --- bundled plans ----------------------------------------------------------------------------------------------------


def bundled(*names: str) -> list[LocatedFinding]:
    return found_in(examine(names))


@pytest.mark.parametrize("plan", bundle.names("plans"))
@pytest.mark.parametrize("rig", [(), ("practice_bench",)])
def test_bundled_plans_have_no_error_and_no_warning(plan: str, rig: tuple[str, ...]) -> None:
    assert [one.finding.code for one in bundled(plan, *rig) if one.finding.level != "advice"] == []


def test_the_full_plan_has_no_finding_at_all() -> None:
    assert bundled("full", "quiet", "doors", "dash", "words") == []


def test_a_strip_that_a_usb_port_feeds_may_be_dimmed() -> None:
    # 400 mA are 22 % of what 30 white LEDs draw (20 mA a colour, WS2812B datasheet): as planned, and no news.
    assert [one.finding.code for one in bundled("full", "practice_bench")] == ["rig_lacks"]


def test_a_quiet_plan_reaches_nobody_where_nothing_is_plugged_in() -> None:
    told = bundled("quiet", "nothing")
    assert [one.finding.code for one in told if one.finding.level == "warning"] == ["reaches_nobody"] * 3


def test_what_a_rig_lacks_is_called_by_its_name_and_its_heading(tmp_path: Path) -> None:
    (told,) = look(Case("pads_only", FULL, rig=LACKING + PADS), tmp_path)
    assert "a strip ([light]), a screen ([screen]), a loudspeaker ([sound])" in message(told.finding)


def test_of_several_rigs_nobody_knows_which_one_a_plan_is_for() -> None:
    assert bundled("quiet", "nothing", "practice_bench") == []


# --- leads that runs have shown ---------------------------------------------------------------------------------------


def measured(missing: int = 0, **leads_s: float) -> list[tuple[str, str]]:
    """Return codes and sentences for the full plan, whose lead `break_off` is 4 s, when runs have shown these leads."""
    plan = load(None, ["full"], "nothing").plans[0]
    leads = {lead: MeasuredLead(round(value * S), 22 - missing, missing) for lead, value in leads_s.items()}
    found = inspect(Subject(plan.game, plan.plan, plan.timeline, devices(), measured=leads))
    return [(finding.code, message(finding)) for finding in found]


def test_a_lead_is_held_against_the_bound_that_runs_give() -> None:
    assert measured(break_off=4.0) == []
    [(code, text)] = measured(break_off=4.1)
    assert (code, "4.1s" in text, "22 rounds" in text) == ("lead_below_runs", True, True)


@pytest.mark.parametrize(("missing", "rounds"), [(21, "1 round"), (1, "21 rounds")])
def test_too_few_runs_say_how_many_more_it_takes_and_bound_nothing(missing: int, rounds: str) -> None:
    for seen_s in (3.1, 5.2):
        [(code, text)] = measured(missing, break_off=seen_s)
        assert code == "lead_few_rounds"
        assert all(part in text for part in (f"Your {rounds} ", f"play {missing} more", f"took {seen_s}s"))
    assert measured(missing, home=22.1) == []               # no lead of the plan, and no bound for the call home


def with_break_off(folder: Path, lead: str, measured: dict[str, MeasuredLead]) -> set[str]:
    text = HEAD.replace("game.toml", "casting_day") + f'[lead]\nbreak_off = "{lead}"\n'
    (folder / "plan.toml").write_text(text, encoding="utf-8")
    plan = load(None, [str(folder / "plan.toml")], "nothing").plans[0]
    subject = Subject(plan.game, plan.plan, plan.timeline, devices(), measured=measured)
    return {finding.code for finding in inspect(subject) if finding.code.startswith("lead_")}


def test_what_enough_runs_have_shown_counts_for_more_than_practice(tmp_path: Path) -> None:
    # Three seconds are below what practice says, but not below what these drivers need.
    assert with_break_off(tmp_path, "3s", {"break_off": MeasuredLead(2 * S, 22)}) == set()
    assert with_break_off(tmp_path, "3s", {}) == {"lead_short"}


def test_what_few_runs_have_shown_leaves_practice_as_it_is(tmp_path: Path) -> None:
    few = {"break_off": MeasuredLead(2 * S, 21, 1)}
    assert with_break_off(tmp_path, "3s", few) == {"lead_short", "lead_few_rounds"}
    assert with_break_off(tmp_path, "3500ms", few) == {"lead_few_rounds"}


def test_the_way_home_that_runs_have_shown_counts_for_the_call_home() -> None:
    assert measured(home=22.0) == []                        # the call comes 22 s before the end
    assert [code for code, _ in measured(home=22.1)] == ["return_late"]


# --- estimates --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "count"),
    [("Home", 1), ("No touch", 2), ("Last one", 2), ("Choose", 1), ("Over", 2), ("Swap soon", 2), ("Their bell", 2),
     ("Call home", 2), ("Pads", 1), ("last_five", 2), ("Cable", 2), ("Everyone", 3), ("Return", 2), ("brr", 1),
     ("Rückkehr", 2), ("", 0)],
)
def test_syllables(text: str, count: int) -> None:
    # Counted by ear.
    assert syllables(text) == count


def test_forms_as_hands_tell_them_apart() -> None:
    known = load(None, ["full"], "nothing").plans[0].plan.patterns.rumble
    forms = {name: form_of(pattern) for name, pattern in known.items()}
    assert forms == {"triple": "SSS", "long": "L", "short": "S", "hello": "S", "close": "L", "double": "SS",
                     "ramp": "L", "long_short": "LS"}  # fmt: skip


def test_which_colours_mean_something_else() -> None:
    # Okabe and Ito, Color Universal Design (2002, rev. 2008): how they themselves call these colours.
    assert {name: found for name, colour in OKABE_ITO.items() if (found := named(colour))} == {
        "bluish_green": "green", "blue": "blue", "vermillion": "red"
    }
    assert [named(colour) for colour in ((255, 0, 0), (0, 0, 255), (0, 255, 0), (128, 0, 128))] == [
        "red", "blue", "green", "purple"
    ]


def test_a_finding_of_a_pattern_stands_in_the_plan_that_holds_it_or_at_the_cue(tmp_path: Path) -> None:
    own = '[pattern.rumble.ramp]\nsteps = [ { strong = 1.0, lasts = "100ms" } ]\n'
    cues = "".join(f'[[cue]]\nid = "{name}"\nat = "driver.begin+{at}s"\nrumble = "ramp"\nlight = "home"\n'
                   for name, at in (("one", 10), ("two", 20)))  # fmt: skip
    there = {("moving_stripes", "warning", line, "plan.toml") for line in (8, 13)}
    assert got(look(Case("bundled", cues.replace('"home"', '"queue"')), tmp_path)) == there
    assert got(look(Case("own", cues + own), tmp_path)) == {("short_pulse", "warning", 15, "plan.toml")}


def test_the_least_lead_is_where_findings_begin(tmp_path: Path) -> None:
    """What advice takes as its limit is what check objects to: a lead just so long has no finding, one below has."""
    for shown in (None, MeasuredLead(3 * S, 9, 13), MeasuredLead(3 * S, 24), MeasuredLead(41 * S // 10, 24)):
        least_ns = least_lead_ns("break_off", shown)
        measured = {} if shown is None else {"break_off": shown}
        for lasts_ns, short in ((least_ns, False), (least_ns - S // 10, True)):
            found = with_break_off(tmp_path, f"{lasts_ns // 10**6}ms", measured)
            assert bool(found & {"lead_short", "lead_below_runs"}) is short
    assert least_lead_ns("home") == 0
