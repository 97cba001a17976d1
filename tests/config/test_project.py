"""The project file: found from a folder upward, what it names resolved, every mistake at once with its line and fix."""

import sys
from pathlib import Path

import pytest

from tests.support.config.own_project import make_project
from tocsin.config.drills import load_drill, load_drill_texts
from tocsin.config.file_cache import FileCache
from tocsin.config.load import DiagnosticsError, Loaded, load, load_texts
from tocsin.config.project import VARIABLE, find_project
from tocsin.errors import UsageError


def test_the_nearest_file_from_a_folder_upward_is_taken(tmp_path: Path) -> None:
    make_project(tmp_path)
    below = tmp_path / "plans" / "deep"
    below.mkdir()
    found = find_project(below, {})
    assert found is not None
    assert found.path.resolve() == tmp_path / "tocsin.toml"
    assert [Path(plan).stem for plan in found.plans] == ["first", "quiet"]
    assert Path(found.plans[0]).resolve() == tmp_path / "plans" / "first.toml"
    assert found.runs is not None
    assert found.runs.resolve() == tmp_path / "runs"
    assert found.project.event.dates == ("2031-03-14", "2031-03-15")
    assert found.project.crews == {"A": {"driver": "3f2a91bc", "operator": "00000001"}}


def test_a_name_is_first_a_file_of_ones_own_then_a_bundled_one(tmp_path: Path) -> None:
    make_project(tmp_path)
    found = find_project(tmp_path, {})
    assert found is not None
    assert found.rig == str(tmp_path / "rigs" / "practice_bench.toml")
    assert found.drills == ("break_off", str(tmp_path / "drills" / "turn.toml"))
    assert found.own("plans", "calm") == str(tmp_path / "plans" / "calm.toml")
    assert found.own("plans", "full") == "full"


def test_the_variable_overrules_the_search_and_empty_means_none(tmp_path: Path) -> None:
    make_project(tmp_path / "one")
    other = make_project(tmp_path / "other")
    found = find_project(tmp_path / "one", {VARIABLE: str(other)})
    assert found is not None
    assert found.path == other
    assert find_project(tmp_path / "one", {VARIABLE: ""}) is None
    with pytest.raises(UsageError, match="names no file"):
        find_project(tmp_path, {VARIABLE: str(tmp_path / "none.toml")})
    with pytest.raises(UsageError, match="names a folder"):
        find_project(tmp_path, {VARIABLE: str(tmp_path)})


_HOME = '\n[pattern.light.home]\nform = "plain"\ncolours = ["{colour}"]\nlasts = "2s"\n'


def loaded(folder: Path) -> Loaded:
    """Return all that the project in a folder plays."""
    found = find_project(folder, {})
    assert found is not None
    assert found.rig is not None
    return load(found.game, found.plans, found.rig, FileCache(found.shared))


def test_own_patterns_lie_above_the_bundled_ones_and_below_a_plans_own(tmp_path: Path) -> None:
    make_project(tmp_path)

    def colours(plan: int) -> tuple[object, ...]:
        return loaded(tmp_path).plans[plan].plan.patterns.light["home"].colours

    bundled = colours(0)
    ours, first = tmp_path / "patterns" / "ours.toml", tmp_path / "plans" / "first.toml"
    ours.write_text(ours.read_text("utf-8") + _HOME.format(colour="orange"), "utf-8")
    shared = colours(0)
    assert shared == colours(1) != bundled
    first.write_text(first.read_text("utf-8") + _HOME.format(colour="blue"), "utf-8")
    assert colours(1) == shared, "the other plan keeps what is shared"
    assert colours(0) not in (bundled, shared)


def test_the_language_is_that_of_plans_that_name_none(tmp_path: Path) -> None:
    make_project(tmp_path)
    assert loaded(tmp_path).plans[0].plan.language == "de"
    first = tmp_path / "plans" / "first.toml"
    first.write_text(first.read_text("utf-8").replace("[lead]", 'language = "en"\n[lead]'), "utf-8")
    assert loaded(tmp_path).plans[0].plan.language == "en"


def test_a_run_and_a_drill_go_on_from_what_the_journal_keeps(tmp_path: Path) -> None:
    make_project(tmp_path)
    before = loaded(tmp_path)
    assert load_texts(before.files, "de") == before
    found = find_project(tmp_path, {})
    assert found is not None
    drill = load_drill(found.drills[1], "nothing", shared=found.shared)
    assert drill.files.plans[0].plan.name == "First"
    assert load_drill_texts(drill.files.files, "de") == drill


def test_a_mistake_in_shared_patterns_is_told_at_its_place(tmp_path: Path) -> None:
    make_project(tmp_path)
    ours = tmp_path / "patterns" / "ours.toml"
    ours.write_text(ours.read_text("utf-8").replace("orange", "ornge"), "utf-8")
    with pytest.raises(DiagnosticsError) as caught:
        loaded(tmp_path)
    assert ("ours.toml", 5) in {(Path(one.file).name, one.line) for one in caught.value.problems}


@pytest.mark.skipif(sys.platform == "win32", reason="links need a right there that few users have")
def test_links_lead_nowhere_else(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "rig.toml").write_text('format = "tocsin-rig/1"\nname = "Theirs"\n', "utf-8")
    folder = tmp_path / "some" / "where" / "team"
    make_project(folder, 'format = "tocsin-project/1"\nname = "Mine"\nrig = "rigs/link.toml"\nruns = "runs"\n')
    (folder / "rigs" / "link.toml").symlink_to(outside / "rig.toml")
    (folder / "runs").symlink_to(outside)
    with pytest.raises(DiagnosticsError) as caught:
        find_project(folder, {})
    assert [(one.code, one.line) for one in caught.value.problems] == [("reference", 3), ("runs_folder", 4)]
    assert all("link" in one.message for one in caught.value.problems)


# what stands in the file, the code, the line as the hint would have it or a part of what is said
MISTAKES = [
    ('rig = "/etc/rig.toml"', "reference", "not a path from here"),
    ('plan = "../../first.toml"', "reference", "up more than one folder"),
    ('plan = "plans/firts.toml"', "project_names_nothing", 'plan = "plans/first.toml"'),
    ('plan = "qiet"', "project_names_nothing", 'plan = "quiet"'),
    ('plan = "rigs/practice_bench.toml"', "project_names_other", 'format = "tocsin-plan/1"'),
    ('plan = ["full", "quiet", "words", "dash"]', "table_long", "at most 3"),
    ('drills = "break_off, turn"', "list_as_text", 'drills = ["break_off", "turn"]'),
    ('drills = ["turn", "turn"]', "listed_twice", "once"),
    ('runs = "../runs"', "runs_folder", "leads out of the folder"),
    ('runs = "/tmp/runs"', "runs_folder", "not a path from here"),
    ('runs = "tocsin.toml"', "runs_folder", "it is a file"),
    ('[crew.D]\ndriver = "3f2a91bc"', "unknown_key", "Known are: A, B, C."),
    ('[crew.A]\ndriver = "Ann"', "person_key", "--who driver=NAME"),
    ("[crew.A]\ndriver = 12345678", "person_key", 'driver = "12345678"'),
    ('[crew.A]\ndriver = "3F2A91BC"', "person_key", 'driver = "3f2a91bc"'),
    ('[event]\ndates = ["2031-03-14"]', "wrong_type", "dates = [2031-03-14]"),
    ('[question]\nasks = "coach"\nsince = "2031-03-01"', "wrong_type", "since = 2031-03-01"),
    ('[question]\nasks = "coah"', "choice", 'asks = "coach"'),
    ("second = [1.0, 0.5]", "second", "second = [0.5, 1.0]"),
    ("second = [0.5, 1000.0]", "second", "from 0 to 10"),
    ('second = "1"', "wrong_type", "two numbers"),
    ('sekond = 1', "unknown_key", "second"),
]


@pytest.mark.parametrize(("line", "code", "said"), MISTAKES)
def test_a_mistake_is_told_with_its_line_and_fix(tmp_path: Path, line: str, code: str, said: str) -> None:
    make_project(tmp_path, f'format = "tocsin-project/1"\nname = "Mine"\n{line}\n')
    with pytest.raises(DiagnosticsError) as caught:
        find_project(tmp_path, {})
    (problem,) = caught.value.problems
    assert problem.code == code
    assert problem.line >= 3
    assert said in f"{problem.message} {problem.expected} {problem.hint}"
    if fix := problem.fix:                     # whoever types it has a project without a mistake
        path = tmp_path / "tocsin.toml"
        lines = path.read_text("utf-8").split("\n")
        lines[fix.line - 1] = lines[fix.line - 1][: fix.column - 1] + fix.text + lines[fix.line - 1][fix.end - 1 :]
        path.write_text("\n".join(lines), "utf-8")
        assert find_project(tmp_path, {}) is not None


def test_all_mistakes_are_told_at_once_and_hide_none(tmp_path: Path) -> None:
    make_project(tmp_path, """\
format = "tocsin-project/1"
name = "Mine"
rig = "/etc/rig.toml"
plan = ["full", "plans/firts.toml", "rigs/practice_bench.toml", "quiet"]
runs = "../runs"
second = [1.0, 0.5]
[event]
plan = "plans/none.toml"
dates = ["2031-03-14", 2031-03-15]
[question]
asks = "coah"
[crew.A]
driver = "Ann"
[crew.D]
driver = "3f2a91bc"
""")
    with pytest.raises(DiagnosticsError) as caught:
        find_project(tmp_path, {})
    assert [one.line for one in caught.value.problems] == [3, 4, 4, 4, 5, 6, 8, 9, 11, 13, 14]
