"""``tocsin advise``: real journals in, one change out, or each of the reasons why there is none."""

import json
import math
import random
from datetime import date, timedelta
from pathlib import Path

import pytest

from tests.support.journal.recorded_evenings import record_evening
from tocsin.analysis.decisions.posterior import drawn_from
from tocsin.cli.main import main
from tocsin.config import bundle
from tocsin.config.load import load
from tocsin.model.mark import VIDEO
from tocsin.units import NS_PER_S

Output = pytest.CaptureFixture[str]
TODAY = date.today()
LAG_S = 0.55
# A second is worth 0.7 to 0.8 points, and a push is on at the call in half of all matches.
SAID = ["--second", "0.7..0.8", "--pushes", "0.5"]


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder of one's own, with a plan of one's own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))      # no runs of whoever tests
    write_plan("4s")
    return tmp_path


def write_plan(lead: str) -> None:
    """Write the bundled plan with another lead to break off."""
    text = (bundle.root() / "plans" / "full.toml").read_text("utf-8")
    Path("ours.toml").write_text(text.replace('break_off = "4s"', f'break_off = "{lead}"         # ours'), "utf-8")


def play(
    took_s: float, *, evenings: int = 6, rounds: int = 12, spread: float = 0.1, newest: int = 2, seed: int = 1,
    **rest: object,
) -> None:  # fmt: skip
    """Record a crew that needs so long in the middle; a scribe marks each end late, a video not. The newest evening
    was so many days ago, others 3 days before each other."""
    rng = random.Random(seed)
    for evening in range(evenings):
        lags = [0.0 if rest.get("source") == VIDEO else rng.gauss(LAG_S, 0.1) for _ in range(rounds)]
        times = [took_s * math.exp(rng.gauss(0, spread)) + lag for lag in lags]
        day = TODAY - timedelta(days=newest + 3 * (evenings - 1 - evening))
        record_evening(Path("runs"), day, times, plan="ours.toml", **rest)      # type: ignore[arg-type]


def advise(capsys: Output, *more: str) -> str:
    assert main(["advise", "--plan", "ours.toml", "--runs", "runs", *more]) == 0
    told = capsys.readouterr()
    # A busy machine says how far it is with new runs.
    assert [line for line in told.err.splitlines() if not line.endswith(" new runs read")] == []
    return told.out


def told(capsys: Output, *more: str) -> dict[str, object]:
    found = json.loads(advise(capsys, "--json", *more))
    assert found["format"] == "tocsin-advice/1"
    lead: dict[str, object] = found["leads"][0]
    return lead


def test_a_lead_that_is_half_a_second_too_short_is_made_longer_and_the_line_gives_that_plan(
    folder: Path, capsys: Output
) -> None:
    """Pushes last 3.75 s in the middle, by a video: at 4 s ahead one in four is still on."""
    play(3.75, source=VIDEO)
    assert main(["check", "ours.toml", "--runs", "runs", "--json"]) == 0
    before = {one["code"] for one in json.loads(capsys.readouterr().out)["findings"]}
    text = advise(capsys, *SAID)
    first, *rest = text.splitlines()
    assert first.startswith("One change: call 0.5 s earlier. Lead break_off: 4 s now, then 4.5 s. It wins about ")
    drawn_from.cache_clear()
    assert text == advise(capsys, *SAID), "equal inputs give equal bytes"
    where = rest.index("In ours.toml, line 20, write this. Tocsin changes nothing itself.")
    line = rest[where + 1]
    # A coach types what is printed in place of what stands there.
    plan = folder / "ours.toml"
    lines = plan.read_text("utf-8").split("\n")
    lines[19] = line.strip()
    plan.write_text("\n".join(lines), "utf-8")
    assert load(None, ["ours.toml"], "nothing").plans[0].plan.leads["break_off"] == 45 * NS_PER_S // 10
    assert main(["check", "ours.toml", "--runs", "runs", "--json"]) == 0
    after = {one["code"] for one in json.loads(capsys.readouterr().out)["findings"]}
    assert after <= before
    # It was changed just now: what it does is seen first.
    assert refusal(capsys, *SAID) == "not settled"


def test_a_scribes_crew_that_is_far_too_late_is_called_a_second_earlier(capsys: Output) -> None:
    play(4.4)
    found = told(capsys, *SAID)
    change = found["change"]
    assert isinstance(change, dict)
    assert (change["lead_s"], found["refused"]) == (5.0, None)
    assert change["low"] < change["gain"] < change["high"]
    assert change["contacts"] > 0
    assert change["plan_line"] == {"file": "ours.toml", "line": 20, "text": 'break_off = "5s"'}
    assert (len(found["runs"]), len(found["evenings"])) == (72, 6)      # type: ignore[arg-type]


def refusal(capsys: Output, *more: str) -> str:
    found = told(capsys, *more)
    assert found["change"] is None
    refused = found["refused"]
    why = refused["code"] if isinstance(refused, dict) else found["unfit"]
    assert isinstance(why, str)
    return why


def test_without_runs_and_with_few_it_says_how_many_are_missing(folder: Path, capsys: Output) -> None:
    (folder / "runs").mkdir()
    assert "0 pushes were on at the call so far; 24 more are needed. 3 more evenings are needed." in advise(capsys)
    play(4.4, evenings=2)
    assert refusal(capsys, *SAID) == "too few"
    text = advise(capsys, *SAID)
    assert text.startswith("Not yet: 1 more evening is needed.\n")
    assert "line 20" not in text


def test_just_before_an_event_it_still_says_what_is_missing(folder: Path, capsys: Output) -> None:
    (folder / "runs").mkdir()
    text = advise(capsys, "--event", (TODAY + timedelta(days=3)).isoformat())
    assert text.startswith("FROZEN: ")
    assert "0 pushes were on at the call so far; 24 more are needed." in text
    assert main(["advise", "--plan", "ours.toml", "--event", (TODAY - timedelta(days=1)).isoformat()]) == 2
    assert " is over: today is " in capsys.readouterr().err


def test_old_rounds_are_not_enough(capsys: Output) -> None:
    play(4.4, newest=25)
    assert "older than 28 days" in advise(capsys, *SAID)
    assert refusal(capsys, *SAID) == "too few"


@pytest.mark.parametrize(("days", "frozen"), [(0, True), (7, True), (8, False)])
def test_just_before_an_event_nothing_is_changed_but_the_curve_can_be_looked_at(
    capsys: Output, days: int, frozen: bool
) -> None:
    play(4.4, evenings=3, rounds=9)
    event = ["--event", (TODAY + timedelta(days=days)).isoformat()]
    text = advise(capsys, *SAID, *event)
    assert text.startswith("FROZEN: the event is on ") is frozen
    assert (told(capsys, *SAID, *event)["curve"] is None) is frozen
    looked = advise(capsys, *SAID, *event, "--look")
    assert looked.count("FROZEN") == frozen, "once"
    assert "Points a match against today" in looked
    assert "    4 s   +0.0  (+0.0 .. +0.0)  now" in looked
    assert ("write this" in looked) is not frozen


@pytest.mark.parametrize("bad", [{"error_ms": 800}, {"dropped": 5}])
def test_bad_records_say_nothing(capsys: Output, bad: dict[str, int]) -> None:
    play(4.4, **bad)      # type: ignore[arg-type]
    assert refusal(capsys, *SAID) == "bad records"
    assert advise(capsys, *SAID).startswith("Not yet: the records are not good enough. ")


def test_pushes_that_nobody_saw_end_are_bad_records(capsys: Output) -> None:
    for evening in range(3):
        times = [None] * 3 + [4.4 + 0.1 * n for n in range(9)]
        record_evening(Path("runs"), TODAY - timedelta(days=2 + evening), times, plan="ours.toml")
    assert "In 9 of 36 rounds nobody knows when it ended" in advise(capsys, *SAID)


def test_rounds_that_did_not_count_are_told_by_their_number(capsys: Output) -> None:
    play(4.4, evenings=1, rounds=3, dropped=3)
    assert "3 of 3 rounds did not count; a third is the most." in advise(capsys, *SAID)


def test_what_would_make_it_surer_has_a_line_of_its_own(capsys: Output) -> None:
    play(4.4)
    (line,) = (line for line in advise(capsys, *SAID).splitlines() if line.startswith("to learn"))
    assert "Mark 8 pushes by key and from a video: they show how late key marks come." in line
    assert "Mark 8 matches: they show how often a push is on at the call." in line


def test_a_lead_that_was_just_changed_is_looked_at_first(capsys: Output) -> None:
    write_plan("3.5s")
    play(4.4, evenings=5, newest=5)
    write_plan("4s")
    play(4.4, evenings=1, newest=2)
    assert refusal(capsys, *SAID) == "not settled"
    assert "Play 1 more evening with 4 s first" in advise(capsys, *SAID)


def test_at_the_best_lead_there_is_nothing_to_win(capsys: Output) -> None:
    write_plan("5.5s")
    play(4.4, spread=0.1)
    assert refusal(capsys, *SAID) == "nothing to win"
    assert advise(capsys, *SAID).startswith("Leave break_off at 5.5 s: ")


def test_it_hangs_on_how_often_pushes_are_on_until_matches_show_it(capsys: Output) -> None:
    play(4.4)
    said = ["--second", "0.7..0.8", "--pushes", "0.01..0.5"]
    assert told(capsys, *said)["refused"]["hangs_on"] == ["pushes"]      # type: ignore[index]
    assert "a push is on at the call in " in advise(capsys, *said)
    record_evening(Path("runs"), TODAY - timedelta(days=1), [4.5] * 12, plan="ours.toml", match=True)
    found = told(capsys, *said)
    assert (found["pushes_seen"], found["refused"]) == ([12, 12], None)


def test_it_hangs_on_what_a_second_is_worth(capsys: Output) -> None:
    write_plan("6s")
    play(3.6)
    text = advise(capsys, "--second", "0.05..0.8", "--pushes", "0.5")
    assert text.startswith("Not sure of break_off. It turns where a second is worth ")


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("break_off", "early", "no lead"),
        ('at = "no_contact.begin-break_off"', 'at = "no_contact.begin-4s"', "no call"),
    ],
)
def test_a_plan_whose_lead_moves_no_call_home(folder: Path, capsys: Output, old: str, new: str, why: str) -> None:
    plan = folder / "ours.toml"
    plan.write_text(plan.read_text("utf-8").replace(old, new), "utf-8")
    (folder / "runs").mkdir()
    assert refusal(capsys) == why
    assert advise(capsys).startswith("No advice")


def test_a_game_that_charges_no_contact_and_a_plan_that_calls_home_by_its_own_lead(
    folder: Path, capsys: Output
) -> None:
    (folder / "runs").mkdir()
    assert main(["advise", "--plan", "dash", "--runs", "runs"]) == 0
    assert capsys.readouterr().out.startswith("Not yet: of no round anybody noted when the robot was home.")
    write_plan("4s")
    plan = folder / "ours.toml"
    game = (bundle.root() / "games" / "casting_day.toml").read_text("utf-8").replace("points = 9\n", "points = 0\n")
    (folder / "kind.toml").write_text(game.replace("points = 14\n", "points = 0\n"), "utf-8")
    plan.write_text(plan.read_text("utf-8").replace('game = "casting_day"', 'game = "kind.toml"'), "utf-8")
    assert refusal(capsys) == "no stake"
    assert "no contact costs points" in advise(capsys)


def test_the_example_shows_it_all_within_seconds(capsys: Output) -> None:
    assert main(["advise", "--example", "--look", "--ahead", "-5"]) == 0
    text = capsys.readouterr().out
    assert text.startswith("An invented team: nobody drove these rounds.\nOne change: call 0.5 s later. ")
    assert "rests on" in text
    # What turns it is where the program falls silent: with that it does.
    assert "turns if     A second is worth less than 0.69 points." in text
    assert main(["advise", "--example", "--second", "0.67..1"]) == 0
    assert "\nNot sure of break_off. " in capsys.readouterr().out
    assert "flat" not in text
    assert "    3 s   +0.7  (+0.5 .. +0.8)  about as good as the best" in text
    assert "  3.5 s   +0.4  (+0.3 .. +0.4)  advised" in text
    assert "`tocsin check` wants 3.3 s or more." in text
    assert main(["advise", "--example", "--event", "2030-01-01"]) == 2
    assert "the event 2030-01-01 is over: the example's today is 2031-0" in capsys.readouterr().err
    assert "Behind by 5: " in text
    assert main(["advise", "--example", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["invented"] is True
    assert main(["advise", "--example", "--event", "2031-02-28"]) == 0
    assert "\nFROZEN: " in capsys.readouterr().out
    assert main(["advise", "--example", "--runs", "runs"]) == 2


def test_runs_of_several_folders_are_asked_for_as_review_does(folder: Path, capsys: Output) -> None:
    play(3.0)
    Path("more").mkdir()
    once = advise(capsys)
    assert advise(capsys, "--runs", "more") == once
    with pytest.raises(SystemExit, match="2"):
        main(["advise", "--plan", "ours.toml", "--runs", "runs", "more"])


def test_check_and_advise_mean_the_same_by_what_the_crew_needs(capsys: Output) -> None:
    """Nine times in ten, by the same rounds and the same estimator: what check asks for is what advise stays above."""
    play(4.1)
    assert main(["check", "ours.toml", "--runs", "runs", "--json"]) == 0
    (short,) = json.loads(capsys.readouterr().out)["findings"]
    assert short["code"] == "lead_below_runs"
    least_s = told(capsys, *SAID)["least_s"]
    assert f"by your 72 rounds, 9 times in 10 you need up to {least_s}s." in short["message"]
    assert "tocsin advise" in short["mend"]


def test_a_page_is_written_and_nobody_elses_file_is_overwritten(folder: Path, capsys: Output) -> None:
    for name, begin in (("advice.pdf", b"%PDF"), ("advice.png", b"\x89PNG"), ("advice.svg", b"<?xml")):
        assert main(["advise", "--example", "-o", name, "--size", "phone"]) == 0
        out = capsys.readouterr().out
        assert out.startswith("One change: ")
        assert out.endswith(f"wrote {name}\n")
        assert (folder / name).read_bytes().startswith(begin)
    (folder / "mine.pdf").write_bytes(b"my own")
    for wrong in (["-o", "mine.pdf"], ["-o", "advice.txt"], ["--size", "a4"]):
        assert main(["advise", "--example", *wrong]) == 2
    assert (folder / "mine.pdf").read_bytes() == b"my own"


@pytest.mark.parametrize("wrong", [["--event", "soon"], ["--event", "2031-02-30"], ["--runs", "no"], ["--plan", "no"]])
def test_what_does_not_fit_is_usage(wrong: list[str], capsys: Output) -> None:
    assert main(["advise", *wrong]) == 2
    assert capsys.readouterr().out == ""


def test_a_range_below_0_is_told_and_not_taken_for_an_option(capsys: Output) -> None:
    for wrong in (["--second", "-1..1"], ["--pushes", "-0.5..1"]):
        with pytest.raises(SystemExit):
            main(["advise", *wrong])
        assert f"{wrong[1]} is not within 0.." in capsys.readouterr().err
    with pytest.raises(SystemExit):
        main(["advise", "--example", "--json", "-o", "advice.pdf"])
    assert "not allowed with argument" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (["--second", "1..0.5"], "1..0.5 is not within 0..10, the smaller one first"),
        (["--second", "0..1000"], "0..1000 is not within 0..10, the smaller one first"),
        (["--second", "nan"], "nan is not within 0..10"),
        (["--second", "x"], "'x' is not a number, or two as 0.5..1"),
        (["--pushes", "0.5..2"], "0.5..2 is not within 0..1, the smaller one first"),
    ],
)  # fmt: skip
def test_ranges_that_are_none_are_usage(wrong: list[str], says: str, capsys: Output) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["advise", *wrong])
    assert ended.value.code == 2
    assert capsys.readouterr().err.startswith(f"tocsin advise: argument {wrong[0]}: {says}")


@pytest.mark.parametrize("form", ["pdf", "svg", "png"])
def test_advice_takes_no_file_of_a_review_nor_a_review_one_of_advice(form: str, capsys: Output) -> None:
    """Both are pages of ours: each is drawn anew only by what drew it."""
    for first, second in (("advise", "review"), ("review", "advise")):
        out = Path(f"{first}.{form}")
        draw = ["--example", "--size", "phone", "-o", str(out)]
        assert main([first, *draw]) == 0
        page = out.read_bytes()
        capsys.readouterr()
        assert main([second, *draw]) == 2
        err = capsys.readouterr().err
        assert f"{out} is there, and `tocsin {first}` made it" in err
        assert "choose another name" in err
        assert out.read_bytes() == page
        assert main([first, *draw]) == 0, "an earlier one of its own"
