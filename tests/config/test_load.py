"""Loading a run's files, resuming from their texts, and what is said when they are not there."""

import sys
from pathlib import Path

import pytest

from tests.support.config.good_files import GAME, PLAN, RIG
from tocsin.config import bundle
from tocsin.config.checking import check, examine
from tocsin.config.checks.rig import idle_calls
from tocsin.config.file_cache import FileCache
from tocsin.config.load import (
    DiagnosticsError,
    Loaded,
    load,
    load_texts,
)
from tocsin.config.reading import GAME as GAME_FORMAT
from tocsin.errors import MISTAKE, USAGE, MistakeError, UsageError
from tocsin.model.rig import BoardPlace
from tocsin.units import NS_PER_S

_DRILL = (
    'format = "tocsin-drill/1"\nname = "Push"\ntrains = "breaking off"\nplace = "bench"\n'
    'plan = "link.toml"\nrounds = 3\n'
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, text in (("game", GAME), ("plan", PLAN), ("rig", RIG)):
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    return tmp_path


def _load(folder: Path, *plans: str, game: str | None = None) -> Loaded:
    names = [str(folder / name) for name in plans or ("plan.toml",)]
    return load(game and str(folder / game), names, str(folder / "rig.toml"))


def test_a_plan_is_loaded_with_the_game_beside_it(folder: Path) -> None:
    loaded = _load(folder)
    assert loaded.game.name == "Bell Push"
    assert loaded.rig.light is not None
    assert loaded.rig.light.port == "COM3"
    assert loaded.rig.pads[0].latency_ns == 80_000_000
    home = [firing for firing in loaded.plans[0].timeline.firings if firing.cue == "home" and firing.match_ns]
    assert {(f.channel, f.role) for f in home} == {("rumble", "driver"), ("rumble", "operator"), ("light", None)}
    assert {f.match_ns for f in home} == {182 * NS_PER_S}         # 24 + 180 - 18 - 4


def test_a_run_goes_on_from_the_texts_alone(folder: Path) -> None:
    (folder / "short.toml").write_text(GAME.replace("3min", "1min").replace("Bell Push", "Short"), encoding="utf-8")
    (folder / "other.toml").write_text(PLAN.replace("game.toml", "short.toml"), encoding="utf-8")
    loaded = _load(folder, "plan.toml", "other.toml", "plan.toml")
    for file in folder.glob("*.toml"):
        file.unlink()
    assert load_texts(loaded.files) == loaded
    assert [plan.game.name for plan in loaded.plans] == ["Bell Push", "Short", "Bell Push"]


def test_the_game_of_the_command_line_overrides_the_plans(folder: Path) -> None:
    (folder / "short.toml").write_text(GAME.replace("3min", "1min").replace("Bell Push", "Short"), encoding="utf-8")
    loaded = _load(folder, game="short.toml")
    assert loaded.game.name == "Short"
    assert load_texts(loaded.files).game.name == "Short"


def test_mistakes_of_all_files_come_together(folder: Path) -> None:
    for name in ("game", "plan", "rig"):
        path = folder / f"{name}.toml"
        path.write_text(path.read_text(encoding="utf-8") + "\n[extra]\n", encoding="utf-8")
    with pytest.raises(DiagnosticsError) as raised:
        _load(folder)
    assert [Path(problem.file).name for problem in raised.value.problems] == ["game.toml", "plan.toml", "rig.toml"]
    assert str(raised.value).endswith("3 mistakes.")
    assert isinstance(raised.value, MistakeError)
    assert raised.value.exit_code == MISTAKE


def test_a_bundled_name_that_does_not_exist_lists_those_that_do() -> None:
    with pytest.raises(UsageError, match="no bundled rig 'practise_bench'") as raised:
        load(None, ["full"], "practise_bench")
    assert "did you mean practice_bench?" in raised.value.hint
    assert "nothing" in raised.value.hint
    assert raised.value.exit_code == USAGE


def test_a_file_that_does_not_exist_is_a_matter_of_the_command_line(folder: Path) -> None:
    with pytest.raises(UsageError, match="no file") as raised:
        _load(folder, "paln.toml")
    assert "plan.toml" in raised.value.hint


def test_a_folder_in_place_of_a_file_is_said_to_be_one(folder: Path) -> None:
    (folder / "odd.toml").mkdir()
    with pytest.raises(DiagnosticsError, match="it is a folder"):
        _load(folder, "odd.toml")


@pytest.mark.parametrize("text", ["", "\n\n", "# nothing\n"])
def test_an_empty_file_is_a_mistake_with_its_first_line(folder: Path, text: str) -> None:
    (folder / "plan.toml").write_text(text, encoding="utf-8")
    with pytest.raises(DiagnosticsError, match='format = "tocsin-plan/1"'):
        _load(folder)


def test_a_game_that_is_nowhere_is_a_mistake_in_the_plan(folder: Path) -> None:
    (folder / "plan.toml").write_text(PLAN.replace('"game.toml"', '"game"'), encoding="utf-8")
    with pytest.raises(DiagnosticsError) as raised:
        _load(folder)
    (problem,) = raised.value.problems
    assert (problem.code, problem.line, problem.hint) == ("game_unknown", 3, 'Write: game = "game.toml"')


@pytest.mark.parametrize(
    ("stated", "likely"),
    [
        ("games/casting.toml", "games/casting_day.toml"),
        ("games/casting_dya.toml", "games/casting_day.toml"),
        ("gane.toml", "game.toml"),
        ("game", "game.toml"),
        ("casting_dya", "casting_day"),
    ],
)
def test_a_game_that_is_nowhere_suggests_the_near_file_beside_the_plan(stated: str, likely: str, folder: Path) -> None:
    (folder / "games").mkdir()
    (folder / "games" / "casting_day.toml").write_text(GAME, encoding="utf-8")
    (folder / "games" / "short_pour.toml").write_text(GAME, encoding="utf-8")
    (folder / "mine.toml").write_text(PLAN.replace("game.toml", stated), encoding="utf-8")
    (problem,) = check([str(folder / "mine.toml")])
    assert (problem.code, problem.hint) == ("game_unknown", f'Write: game = "{likely}"')


@pytest.mark.parametrize(
    ("line", "undo", "mute", "more"),
    [
        ("", "a", "m", "k"),
        ('marks = { contact = ["c"], home = ["m"], turned = ["a"] }', "z", "u", "k"),
        ('call = { home = ["k"] }\nhold = "a"\nmarks = { left = ["l"] }', "z", "m", "o"),
        ('undo = ["u"]\nmute = []\nall_keys = ["9"]', "u", "", "9"),
        ('undo = "z"\nmarks = { a = ["a"], m = ["m"] }', "z", "u", "k"),
    ],
)
def test_default_keys_that_came_later_make_way_for_what_a_team_has_written(
    folder: Path, line: str, undo: str, mute: str, more: str
) -> None:
    """A rig that loaded before these keys were there loads still, and each of its keys does what it did."""
    text = RIG.partition("[keys]")[0] + f"[keys]\n{line}\n[screen]\n"
    (folder / "rig.toml").write_text(text, encoding="utf-8")
    keys = _load(folder).rig.keys
    assert (*map("".join, (keys.undo, keys.mute, keys.all_keys)),) == (undo, mute, more)


@pytest.mark.parametrize(
    ("table", "place"),
    [("", BoardPlace()), ("[board]\nbeside_robot = true\n", BoardPlace(beside_robot=True)),
     ("[board]\nport = 9000\n", BoardPlace(port=9000))],
)  # fmt: skip
def test_a_rig_says_where_phones_may_come_from(folder: Path, table: str, place: BoardPlace) -> None:
    (folder / "rig.toml").write_text(RIG.partition("[board]")[0] + table, encoding="utf-8")
    assert _load(folder).rig.board == place


@pytest.mark.parametrize(
    ("line", "gives", "takes"),
    [
        ("", "h", "l"), ('call = { home = ["h"] }', "u", "l"), ('marks = { m = ["m"] }', "h", "l"),
        ('phones = ["l"]\nphones_off = []', "l", ""), ('marks = { h = ["h"], u = ["u"], l = ["l"] }', "o", "j"),
    ],
)  # fmt: skip
def test_the_keys_by_which_phones_get_rights_make_way_too(folder: Path, line: str, gives: str, takes: str) -> None:
    text = RIG.partition("[keys]")[0] + f"[keys]\n{line}\n[screen]\n"
    (folder / "rig.toml").write_text(text, encoding="utf-8")
    keys = _load(folder).rig.keys
    assert ("".join(keys.phones), "".join(keys.phones_off)) == (gives, takes)


@pytest.mark.parametrize(("marks", "display"), [("", "c"), ('marks = { contact = ["c"] }', "j")])
def test_the_key_that_leads_to_the_display_makes_way_too(folder: Path, marks: str, display: str) -> None:
    (folder / "rig.toml").write_text(RIG.partition("[keys]")[0] + f"[keys]\n{marks}\n[screen]\n", encoding="utf-8")
    assert _load(folder).rig.keys.display == (display,)


@pytest.mark.skipif(sys.platform == "win32", reason="links need a right of their own there")
@pytest.mark.parametrize("drill", [False, True])
def test_a_link_that_leads_elsewhere_is_not_followed(folder: Path, drill: bool) -> None:
    team = folder / "of_others" / "plans"
    team.mkdir(parents=True)
    (folder / "secret.toml").write_text(PLAN if drill else GAME, encoding="utf-8")
    (team / "link.toml").symlink_to(folder / "secret.toml")
    text = _DRILL if drill else PLAN.replace("game.toml", "link.toml")
    (team / "mine.toml").write_text(text, encoding="utf-8")
    (problem,) = check([str(team / "mine.toml")])
    assert (problem.code, problem.source) == ("reference", next(x for x in text.split("\n") if "link.toml" in x))
    assert "leads elsewhere" in problem.message
    (team / "link.toml").unlink()
    (folder / "secret.toml").rename(team.parent / "game.toml")                     # one folder up it may lie
    (team / "link.toml").symlink_to(team.parent / "game.toml")
    assert "reference" not in {problem.code for problem in check([str(team / "mine.toml")])}


def test_a_rig_given_as_a_plan_is_named_as_one(folder: Path) -> None:
    with pytest.raises(DiagnosticsError, match="This is a rig file") as raised:
        _load(folder, "rig.toml")
    assert "--rig" in str(raised.value)


def test_more_than_three_plans_are_refused(folder: Path) -> None:
    with pytest.raises(UsageError, match="4 plans"):
        _load(folder, *["plan.toml"] * 4)


def test_a_cue_needs_to_be_callable_in_one_of_the_plans_only(folder: Path) -> None:
    (folder / "still.toml").write_text(PLAN.replace("callable = true\n", ""), encoding="utf-8")
    assert len(_load(folder, "still.toml", "plan.toml").plans) == 2
    with pytest.raises(DiagnosticsError, match="may not be given by hand"):
        _load(folder, "still.toml")


_NO_HOME = PLAN.replace('id = "home"', 'id = "come_back"').replace("callable = true\n", "")


@pytest.mark.parametrize("rig", bundle.names("rigs"))
@pytest.mark.parametrize("plan", [_NO_HOME, PLAN.replace("callable = true\n", "")])
def test_a_bundled_rig_may_call_what_a_plan_of_ones_own_lacks(rig: str, plan: str, folder: Path) -> None:
    (folder / "mine.toml").write_text(plan, encoding="utf-8")
    loaded = load(None, [str(folder / "mine.toml")], rig)
    assert list(idle_calls(loaded.rig, [loaded.plans[0].plan]).values()) == ["home"]
    assert load_texts(loaded.files).rig == loaded.rig
    assert check([str(folder / "mine.toml"), rig]) == ()


def test_a_rig_of_ones_own_may_call_what_this_plan_lacks_but_check_says_so(folder: Path) -> None:
    (folder / "mine.toml").write_text(_NO_HOME, encoding="utf-8")
    rig = RIG.replace('6 = "mark.contact"', '6 = "call.home"')
    (folder / "rig.toml").write_text(rig, encoding="utf-8")
    loaded = _load(folder, "mine.toml")
    assert idle_calls(loaded.rig, [loaded.plans[0].plan]) == {"the key h": "home", "the driver's button 6": "home"}
    found = check([str(folder / "mine.toml"), str(folder / "rig.toml")])
    assert [problem.code for problem in found] == ["call_unknown", "call_unknown"]


def test_what_is_on_the_shelf_is_not_read_again(folder: Path) -> None:
    game, plan, rig = (str(folder / f"{name}.toml") for name in ("game", "plan", "rig"))
    before = load(game, [plan], rig)
    shelf = FileCache()
    kept = shelf.parsed(GAME_FORMAT, Path(game))
    Path(game).write_text("broken = [", encoding="utf-8")
    assert load(game, [plan], rig, shelf.copy()) == before
    assert examine([plan], game, shelf.copy()).problems == ()
    assert check([plan], game), "without it the file is read"
    assert shelf.documents() == (kept.document,), "what a copy takes in is its own"
