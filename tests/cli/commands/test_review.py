"""``tocsin review``: one sentence first, then an answer a line, what is not known yet, what was left out; as data."""

import json
import re
from pathlib import Path

import jsonschema
import pytest

import tocsin.features.review
from tests.cli.commands.test_preview import on_a_terminal
from tests.support.analysis.dealt_seasons import BREAK_OFF, exact
from tests.support.analysis.dealt_seasons import season_rows as season_of_lots
from tests.support.journal.recorded_rounds import record_rounds
from tests.support.journal.recorded_runs import record_push
from tocsin.analysis.review.headline import headline
from tocsin.cli.commands.review import parser, request_of
from tocsin.cli.main import main
from tocsin.config import bundle
from tocsin.features.records.run_list import Wanted
from tocsin.features.records.season_rows import season_rows
from tocsin.features.review.chosen import ReviewRequest, reviewed
from tocsin.features.review.look import look_lines
from tocsin.journal.people import People
from tocsin.model.project import Project, Question

Output = pytest.CaptureFixture[str]
SCHEMA = json.loads(Path(tocsin.features.review.__file__).with_name("schema.json").read_text("utf-8"))


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with two evenings of one drill, one of another, and one with a single match."""
    runs = tmp_path_factory.mktemp("season") / "runs"
    ann = People(runs).keep("Ann")
    record_rounds(runs, "break_off", 12, day=8, people={"driver": ann}, label="Ann tries")
    record_rounds(runs, "break_off", 12, seed=2, day=15)
    record_rounds(runs, "turn", 4, seed=3, day=15, minute=30)
    record_push(runs, 1, 2.0, drill=False)
    return runs


def told(capsys: Output, runs: Path, *arguments: str) -> str:
    capsys.readouterr()
    assert main(["review", "--runs", str(runs), *arguments]) == 0
    return capsys.readouterr().out


def data(capsys: Output, runs: Path, *arguments: str):
    found = json.loads(told(capsys, runs, "--json", *arguments))
    jsonschema.Draft202012Validator(SCHEMA).validate(found)
    return found


def refused(capsys: Output, runs: Path, *arguments: str) -> str:
    capsys.readouterr()
    assert main(["review", "--runs", str(runs), *arguments]) == 2
    return " ".join(capsys.readouterr().err.split())


def test_the_sentence_that_matters_comes_first(season: Path, capsys: Output) -> None:
    rows = season_rows([season], pytest.fail)
    first, *_ = reviewed(rows, ReviewRequest())
    lines = told(capsys, season).splitlines()
    assert lines[0] == headline(first.review)
    assert lines[2] == "Break off, evening of Sat 2031-03-15"
    assert lines[3].startswith("  10 of 10 rounds count.")
    assert "Contact in " in lines[4]
    assert any(line.startswith("  Not yet: ") for line in lines)
    assert "Left out:\n  4 rounds: of the drill Turn\n  2 rounds: driven at half speed" in "\n".join(lines)


def test_an_evening_by_its_date(season: Path, capsys: Output) -> None:
    assert "evening of Sat 2031-03-08" in told(capsys, season, "--evening", "2031-03-08")
    assert "the newest: 2031-03-15, 2031-03-08" in refused(capsys, season, "--evening", "2031-03-09")


def test_the_newest_evening_has_its_season_in_three_lines(season: Path, capsys: Output) -> None:
    *_, blank, head, said, more, change = told(capsys, season).splitlines()
    assert blank == ""
    assert head == "Break off, 2 evenings: Sat 2031-03-08 to Sat 2031-03-15"
    assert said.startswith("  ")
    assert "`tocsin review --season`" in more
    assert change == "What to change: `tocsin advise`."
    assert told(capsys, season, "--season").count("tocsin advise") == 1
    assert [one["scope"] for one in data(capsys, season)["reviews"]] == ["evening", "season"]
    assert [one["scope"] for one in data(capsys, season, "--evening", "2031-03-08")["reviews"]] == ["evening"]


def test_a_season_and_all_matches(season: Path, capsys: Output) -> None:
    (found,) = data(capsys, season, "--season")["reviews"]
    assert (found["scope"], found["evenings"]) == ("season", ["2031-03-08", "2031-03-15"])
    (found,) = data(capsys, season, "--season", "--since", "2031-03-09")["reviews"]
    assert found["evenings"] == ["2031-03-15"]
    (found,) = data(capsys, season, "--matches")["reviews"]
    assert (found["scope"], found["drills"], found["evenings"]) == ("matches", [], ["2031-03-01"])
    assert "Matches, 1 evening: Sat 2031-03-01" in told(capsys, season, "--matches")


def test_the_question_is_the_projects_and_another_one_is_a_look() -> None:
    month = Project(name="Bell crew", question=Question(asks="coach", since="2031-03-01"))

    def asked(*arguments: str, project: Project | None = month) -> tuple[Question | None, str | None, str]:
        wish = request_of(parser().parse_args(arguments), project, Wanted())
        return wish.question, wish.look, wish.of

    assert asked() == (month.question, None, "newest")
    assert asked("--question", "coach") == (month.question, "coach", "season")
    assert asked("--question", "plan") == (month.question, "plan", "season"), "named when evenings are in view"
    assert asked("--question", "plan", "--matches", project=None) == (None, "plan", "matches")


def test_what_is_typed_changes_no_evidence_and_no_verdict(capsys: Output) -> None:
    """Seen: the same runs were told as better, or not yet, by the question on the command line."""
    told, data = {}, {}
    for asked in ("", "coach", "setup", "shift", "draw_out", "plan"):
        more = ["--question", asked] if asked else ["--season"]
        capsys.readouterr()
        assert main(["review", "--example", *more]) == 0
        told[asked] = capsys.readouterr().out.splitlines()
        assert main(["review", "--example", "--json", *more]) == 0
        data[asked] = capsys.readouterr().out
    assert len(set(data.values())) == 1
    look = {asked: [line for line in lines if line not in told[""]] for asked, lines in told.items() if asked}
    for asked, more in look.items():
        assert all(line.startswith("  Not yet: ") for line in more[1:]), asked
    assert look["coach"][0] == "Your question of the month, `coach`:"
    assert look["setup"][0] == "A look at `setup`, not your question of the month:"
    assert look["plan"] == ["A look at `plan`: no drill here dealt it by lot, so nothing compares it."]
    for asked, lines in look.items():
        assert told[asked].index(lines[0]) == 3


def test_a_look_says_that_what_nobody_asked_needs_more_evidence() -> None:
    rows = tuple(season_of_lots(BREAK_OFF, 3, lambda row: exact(4.0 - 0.6 * (row.coach == "calling"))))
    for question, needs_more in ((Question(asks="setup", since="2031-01-01"), True),
                                 (Question(asks="coach", since="2031-01-01"), False)):  # fmt: skip
        wish = ReviewRequest(of="season", question=question, look="coach")
        (chosen,) = reviewed(rows, wish)
        said = " ".join(look_lines(chosen, wish))
        assert ("(Not your question of the month: it needs more evidence.)" in said) == needs_more
        assert ("is better" in said or "surely better" in said) != needs_more


def test_the_example_is_told_without_any_runs_or_project(capsys: Output) -> None:
    for more in ([], ["--season"], ["--matches"], ["--drill", "turn"]):
        capsys.readouterr()
        assert main(["review", "--example", *more]) == 0
        said = capsys.readouterr()
        assert said.out.splitlines()[1] == "An invented team: nobody drove these rounds."
        assert [line for line in said.err.splitlines() if not line.endswith(" new runs read")] == []
    assert main(["review", "--example", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(SCHEMA).validate(found)
    assert found["invented"] is True


def test_a_season_says_what_followed_a_change_of_the_lead_and_what_that_cannot_tell(capsys: Output) -> None:
    assert main(["review", "--example", "--season"]) == 0
    (line,) = [one for one in capsys.readouterr().out.splitlines() if "The lead went from 3 to 4 s" in one]
    assert "Before: Contact in 19 of 100 rounds" in line
    assert "After: Contact in 9 of 260 rounds" in line
    assert line.endswith(
        "This was not drawn by lot: people, robots and opponents differ too. These lines count contacts alone; `tocsin "
        "advise` also counts the play that a longer lead costs, so it may want another one."
    )


def test_filters_choose_as_those_of_runs_do(season: Path, capsys: Output) -> None:
    (first, *_) = data(capsys, season, "--drill", "turn")["reviews"]
    assert first["drills"] == ["Turn"]
    (first, *_) = data(capsys, season, "--until", "2031-03-10")["reviews"]
    assert first["evenings"] == ["2031-03-08"]
    found = data(capsys, season, "--who", "Ann")
    assert found["reviews"][0]["evenings"] == ["2031-03-08"]
    assert found["filter"]["person"] == People(season).key_of("Ann")
    assert data(capsys, season, "--crew", "B")["reviews"] == []
    assert told(capsys, season, "--crew", "B") == "No run fits. `tocsin runs` lists what there is.\n"
    assert main(["review", "--example", "--until", "2000-01-01"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("No run of the invented team fits")
    assert "tocsin runs" not in said


@pytest.mark.parametrize("name", ["break_off", "Break off", "BREAK"])
def test_a_drill_is_named_as_its_file_or_as_people_call_it(name: str, season: Path, capsys: Output) -> None:
    (first, *_) = data(capsys, season, "--season", "--drill", name)["reviews"]
    assert first["drills"] == ["Break off"]


def test_a_key_may_stand_for_a_name_that_is_on_another_laptop(season: Path, capsys: Output) -> None:
    key = People(season).key_of("Ann")
    assert data(capsys, season, "--who", key)["reviews"][0]["evenings"] == ["2031-03-08"]


def test_no_name_and_no_label_without_being_asked(season: Path, capsys: Output) -> None:
    for more in ([], ["--json"], ["--who", "Ann"], ["--who", "Ann", "--json"], ["--evening", "2031-03-08"]):
        assert not re.search(r"\bann\b", told(capsys, season, *more), re.IGNORECASE)
    assert "crew A: Ann" in told(capsys, season, "--evening", "2031-03-08", "--names")


def test_several_folders_are_counted_together(season: Path, tmp_path: Path, capsys: Output) -> None:
    record_rounds(tmp_path / "second", "break_off", 12, seed=5, day=22)
    (first, *_) = data(capsys, season, "--runs", str(tmp_path / "second"))["reviews"]
    assert first["evenings"] == ["2031-03-22"]
    (first, *_) = data(capsys, season, "--runs", str(tmp_path / "second"), "--evening", "2031-03-08")["reviews"]
    assert first["evenings"] == ["2031-03-08"]


# -- as a page

BEGINS = {"pdf": b"%PDF", "png": b"\x89PNG", "svg": b"<?xml"}


@pytest.mark.parametrize("form", BEGINS)
@pytest.mark.parametrize("of", [[], ["--season"], ["--matches"], ["--evening", "2031-03-08"]], ids=" ".join)
def test_a_page_is_of_what_was_asked_for_and_equal_runs_give_equal_bytes(
    form: str, of: list[str], season: Path, capsys: Output
) -> None:
    assert told(capsys, season, *of, "-o", f"one.{form}") == f"wrote one.{form}\n"
    told(capsys, season, *of, "-o", f"two.{form}")
    pages = [Path(f"{name}.{form}").read_bytes() for name in ("one", "two")]
    assert pages[0] == pages[1]
    assert pages[0].startswith(BEGINS[form])


def test_the_page_of_a_question_is_that_question_s(capsys: Output) -> None:
    for number, more in enumerate(([], ["--question", "coach"], ["--question", "setup"])):
        assert main(["review", "--example", "--season", *more, "-o", f"{number}.svg"]) == 0
    season, coach, setup = (words_of(Path(f"{number}.svg")) for number in range(3))
    assert "Your question of the month, `coach`:" in coach
    assert "A look at `setup`, not your question of the month:" in setup
    assert "Within an evening" in season
    for page in (coach, setup):
        assert "Within an evening" not in page
        assert "The way home" not in page


@pytest.mark.parametrize("form", BEGINS)
def test_a_page_of_ours_is_drawn_anew_and_nobody_elses_file_is_touched(
    form: str, season: Path, capsys: Output
) -> None:
    out = Path(f"page.{form}")
    told(capsys, season, "-o", str(out))
    told(capsys, season, "--evening", "2031-03-08", "-o", str(out))
    out.write_bytes(b"a holiday picture")
    assert "Tocsin did not make it" in refused(capsys, season, "-o", str(out))
    assert out.read_bytes() == b"a holiday picture"


def words_of(page: Path) -> str:
    """Return what stands in a page: beside its outlined letters SVG has comments that say each line."""
    return " ".join(re.findall("<!-- (.*?) -->", page.read_text("utf-8"), re.DOTALL))


def test_a_page_has_names_only_if_they_are_asked_for(season: Path, capsys: Output) -> None:
    key, page = People(season).key_of("Ann"), Path("page.svg")
    told(capsys, season, "--evening", "2031-03-08", "-o", str(page))
    assert not re.search(r"\bann\b", page.read_text("utf-8"), re.IGNORECASE)
    assert key not in page.read_text("utf-8")
    told(capsys, season, "--evening", "2031-03-08", "--names", "-o", str(page))
    assert "Ann" in words_of(page)
    assert key in page.read_text("utf-8"), "by which it is found if the name is forgotten"


def test_a_page_of_the_example_says_that_it_is_invented(capsys: Output) -> None:
    for number, more in enumerate(([], ["--season"], ["--size", "phone"])):
        assert main(["review", "--example", *more, "-o", f"{number}.svg"]) == 0
        assert "invented" in words_of(Path(f"{number}.svg")).lower()


@pytest.mark.parametrize(("arguments", "says"), [
    (["-o", "page.doc"], "a page ends in .pdf or .png or .svg"),
    (["-o", "."], ". is a folder"),
    (["--size", "phone"], "--size is for a page"),
    (["--crew", "B", "-o", "page.pdf"], "there is nothing to draw"),
    (["-o", "taken/page.pdf"], "cannot be"),
])  # fmt: skip
def test_what_cannot_be_drawn_is_refused(arguments: list[str], says: str, season: Path, capsys: Output) -> None:
    Path("taken").write_text("a file in the way")
    assert says in refused(capsys, season, *arguments)
    assert not list(Path().glob("page.*"))


def test_nothing_recorded_yet_is_no_mistake(tmp_path: Path, capsys: Output) -> None:
    (tmp_path / "none").mkdir()
    said = told(capsys, tmp_path / "none")
    assert said.startswith("Nothing is recorded yet in ")
    assert "`tocsin evening`" in said
    assert data(capsys, tmp_path / "none")["reviews"] == []


@pytest.mark.parametrize(("arguments", "says", "mends"), [
    (["--evening", "yesterday"], "'yesterday' is no evening", "write its date"),
    (["--evening", "2031-13-40"], "'2031-13-40' is no evening", "write its date"),
    (["--evening", "2031-03-08", "--question", "coach"], "an evening alone compares nothing", "leave out --evening"),
    (["--since", "March"], "'March' is not a date", "2026-03-14"),
    (["--season", "--since", "2031-13-40"], "'2031-13-40' is not a date", "2026-03-14"),
    (["--season", "--until", "2031-02-29"], "'2031-02-29' is not a date", "2026-03-14"),
    (["--season", "--since", "2031-03-15", "--until", "2031-03-08"], "2031-03-15 is after --until", "the first day"),
    (["--drill", "nope"], "no round of a drill 'nope' was played", "played: Break off, Turn"),
    (["--runs", "nowhere"], "there is no folder nowhere", "that holds your runs"),
    (["--evening", "2031-03-08", "--since", "2031-03-01"], "are for several evenings", "leave them out"),
    (["--json", "--names"], "--json never holds names", "leave out --names"),
    (["--matches", "--drill", "turn"], "use --matches or --drill, not both", "of no drill"),
    (["--example"], "has runs of its own", "leave out --runs"),
    (["--who", "Zoe"], "nobody is called 'Zoe' here", "known: Ann"),
])  # fmt: skip
def test_what_does_not_fit_is_refused_with_a_way_out(
    arguments: list[str], says: str, mends: str, season: Path, capsys: Output
) -> None:
    told = refused(capsys, season, *arguments)
    assert says in told
    assert mends in told


def test_a_run_that_cannot_be_read_is_told_and_left_out(season: Path, tmp_path: Path, capsys: Output) -> None:
    runs = tmp_path / "runs"
    record_rounds(runs, "break_off", 3)
    broken = sorted(runs.iterdir())[0] / "journal.jsonl"
    broken.write_bytes(b"nonsense\n")
    capsys.readouterr()
    assert main(["review", "--runs", str(runs)]) == 0
    assert broken.parent.name in capsys.readouterr().err


@pytest.mark.parametrize("arguments", [["--season", "--matches"], ["--question", "luck"], ["--crew", "D"],
                                       ["--plan-season", "abc"]])  # fmt: skip
def test_what_cannot_be_meant_is_told_in_a_line(arguments: list[str], season: Path, capsys: Output) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["review", "--runs", str(season), *arguments])
    assert ended.value.code == 2
    said = capsys.readouterr().err
    assert "`tocsin review --help` shows examples" in said
    assert "--plan-season" not in arguments or "expected a number of evenings" in said


@pytest.mark.devices
def test_all_fits_eighty_columns(season: Path) -> None:
    for words in (["--help"], ["--runs", str(season)], ["--example", "--season"]):
        said = on_a_terminal("80", "review", *words)
        assert max(map(len, said.splitlines())) <= 80
    assert "In brackets" in said


def test_equal_runs_give_equal_bytes(season: Path, capsys: Output) -> None:
    assert told(capsys, season, "--json") == told(capsys, season, "--json")
    assert told(capsys, season) == told(capsys, season)


def ahead(capsys: Output, *arguments: str) -> list[str]:
    capsys.readouterr()
    assert main(["review", "--plan-season", *arguments]) == 0
    return capsys.readouterr().out.splitlines()


def test_before_a_season_it_says_what_evenings_can_show(capsys: Output) -> None:
    """No run is asked, and none need be there."""
    lines = ahead(capsys)
    assert lines[0] == "12 evenings of Break off, 10 rounds each that count."
    assert any(line.startswith("Coach, by when pushes end: 1.0 s after evening 4;") for line in lines)
    assert ahead(capsys, "20", "--drill", "turn")[0] == "20 evenings of Turn, 8 rounds each that count."


def test_the_season_ahead_is_that_of_the_projects_own_drill_and_crews(
    capsys: Output, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drill = bundle.find("drills", "break_off").read_text("utf-8")
    (tmp_path / "own.toml").write_text(drill.replace('name = "Break off"', 'name = "Own"'), "utf-8")
    (tmp_path / "tocsin.toml").write_text(
        'format = "tocsin-project/1"\nname = "Kelp"\ndrills = ["own.toml"]\n[crew.A]\ndriver = "0a1b2c3d"\n'
        '[crew.B]\ndriver = "1a1b2c3d"\n', "utf-8",
    )  # fmt: skip
    monkeypatch.setenv("TOCSIN_PROJECT", str(tmp_path / "tocsin.toml"))
    assert ahead(capsys)[0] == "12 evenings of Own, 20 rounds each that count."


def test_what_is_of_runs_is_not_for_the_season_ahead(season: Path, capsys: Output) -> None:
    assert "--runs is not for it" in refused(capsys, season, "--plan-season")
    capsys.readouterr()
    for arguments, said in ((["--json"], "--json is not for it"), (["-o", "a.pdf"], "no page"),
                            (["--since", "2031-01-01"], "--since"),
                            (["--drill", "nope"], "there is no bundled drill 'nope'")):  # fmt: skip
        assert main(["review", "--plan-season", *arguments]) == 2
        assert said in capsys.readouterr().err
    for evenings in ("0", "101"):
        assert main(["review", "--plan-season", evenings]) == 2
        assert "a season has 1 to 100 evenings" in capsys.readouterr().err
