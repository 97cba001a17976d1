"""Names that were called otherwise are read where teams wrote them, unless the team itself has something so called."""

import shutil
from pathlib import Path

import msgspec
import pytest

from tests.support import PROJECT
from tocsin.config import bundle
from tocsin.config.checking import check, examine
from tocsin.config.drills import load_drill
from tocsin.config.file_cache import FileCache, Shared
from tocsin.config.load import DiagnosticsError, Loaded, load, load_rig, load_texts
from tocsin.config.older_names import BUNDLED, FORMS, PATTERNS
from tocsin.config.project import read_project
from tocsin.config.renamed import protocol_notes
from tocsin.config.write.newer import newer_files, together
from tocsin.model.pattern import LightPattern
from tocsin.model.plan import CHANNELS

BEFORE = PROJECT / "tests" / "cases" / "folder_before"
GAME = """\
format = "tocsin-game/1"
name = "Kiln"
digits = "ceil"
[[period]]
id = "drive"
kind = "driver"
title = "Drive"
lasts = "70s"
"""
PLAN = """\
format = "tocsin-plan/1"
name = "Ours"
game = "kiln.toml"
"""
RIG = 'format = "tocsin-rig/1"\nname = "Ours"\ndrives_robot = false\n[light]\nport = "COM5"    # on the shelf\n'
HEAD = 'format = "tocsin-patterns/1"\nname = "Ours"\n'


def light(name: str, form: str) -> str:
    """Return a pattern of the strip that is good for every form."""
    colours = {"plain": '["yellow"]', "solid": '["yellow"]'}.get(form, '["yellow", "black"]')
    return f'[pattern.light.{name}]\nform = "{form}"\ncolours = {colours}\ncycle = "2s"\nlasts = "3s"\nlevel = 0.37\n'


def cues(**patterns: str) -> str:
    """Return a cue for each pattern, `rumble = "blip"` as rumble="blip"."""
    named = enumerate(patterns.items(), 1)
    return "".join(
        f'[[cue]]\nid = "c{n}"\nat = "drive.begin+{4 * n}s"\n{channel} = "{name}"\n' for n, (channel, name) in named
    )


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "kiln.toml").write_text(GAME, encoding="utf-8")
    return tmp_path


def loaded(folder: Path, plan: str, *shared: Path) -> Loaded:
    """Return a plan of this text, with these files of patterns below it."""
    (folder / "ours.toml").write_text(PLAN + plan, encoding="utf-8")
    return load(None, [str(folder / "ours.toml")], "nothing", FileCache(Shared(shared)))


def test_each_older_name_leads_to_one_that_there_is() -> None:
    forms = set(msgspec.inspect.type_info(LightPattern).fields[0].type.values)     # type: ignore[attr-defined]
    assert set(FORMS.values()) <= forms
    assert not set(FORMS) & forms
    patterns = load(None, ["quiet"], "nothing").plans[0].plan.patterns
    for channel, names in PATTERNS.items():
        assert set(names.values()) <= set(getattr(patterns, channel))
        assert not set(names) & set(getattr(patterns, channel))
    for kind, names in BUNDLED.items():
        for older, newer in names.items():
            assert len({older, newer} & set(bundle.names(kind))) == 1          # type: ignore[arg-type]


@pytest.mark.parametrize(("older", "newer"), FORMS.items())
def test_a_form_by_its_older_name_is_the_form(folder: Path, older: str, newer: str) -> None:
    by_older, by_newer = (
        loaded(folder, cues(light="mine") + light("mine", form)).plans[0] for form in (older, newer)
    )
    assert by_older.plan.patterns == by_newer.plan.patterns
    assert by_older.timeline == by_newer.timeline
    assert by_newer.plan.patterns.light["mine"].form == newer


@pytest.mark.parametrize(("channel", "older", "newer"), [
    (channel, older, newer) for channel, names in PATTERNS.items() for older, newer in names.items()
])  # fmt: skip
def test_a_bundled_pattern_by_its_older_name_is_that_pattern(
    folder: Path, channel: str, older: str, newer: str
) -> None:
    by_older, by_newer = (loaded(folder, cues(**{channel: name})).plans[0] for name in (older, newer))
    assert by_older == by_newer
    assert by_older.plan.cues[0].patterns == {channel: newer}


def test_what_a_team_calls_so_itself_is_meant(folder: Path) -> None:
    mine = light("keep_off", "solid")
    own = loaded(folder, cues(light="keep_off") + mine).plans[0]
    assert own.timeline.firings[0].pattern == "keep_off"
    assert own.plan.patterns.light["keep_off"].form == "plain"
    assert own.plan.patterns.light["no_touch"] == loaded(folder, "").plans[0].plan.patterns.light["no_touch"]
    (folder / "lights.toml").write_text(HEAD + mine, encoding="utf-8")
    shared = loaded(folder, cues(light="keep_off"), folder / "lights.toml").plans[0]
    assert shared.timeline.firings[0].pattern == "keep_off"
    assert shared.plan.patterns.light["keep_off"].form == "plain"


def test_a_teams_pattern_in_place_of_a_bundled_one_still_takes_its_place(folder: Path) -> None:
    """In a file that lies below all plans; bundled plans name the newer id now."""
    (folder / "lights.toml").write_text(HEAD + light("keep_off", "solid"), encoding="utf-8")
    plan = loaded(folder, cues(light="no_touch"), folder / "lights.toml").plans[0].plan
    assert (plan.patterns.light["no_touch"].form, plan.patterns.light["no_touch"].level) == ("plain", 0.37)
    both = light("keep_off", "solid") + light("no_touch", "shuttle")
    (folder / "lights.toml").write_text(HEAD + both, encoding="utf-8")
    plan = loaded(folder, cues(light="no_touch"), folder / "lights.toml").plans[0].plan
    assert plan.patterns.light["no_touch"].form == "shuttle"


def test_only_newer_names_are_offered(folder: Path) -> None:
    with pytest.raises(DiagnosticsError) as raised:
        loaded(folder, cues(rumble="blipp", light="keep_of", screen="kep_off") + light("mine", "solidd"))
    told = str(raised.value)
    assert told.count("There is no") == 3
    listed = told.replace("'blipp'", "").replace('"blipp"', "")
    for older in ("blip", "chase", "blink", "keep_off", "solid,", "breathe", "sweep", "fill", "stripes"):
        assert f"{older}," not in listed
        assert f" {older}\n" not in listed
    assert "hello" in listed
    assert "no_touch" in listed
    assert "swell" in listed


def test_the_files_of_an_older_run_are_read(folder: Path) -> None:
    """Its header keeps the texts, bundled ones too: their patterns are called otherwise, their forms as well."""
    now = loaded(folder, cues(rumble="hello", light="no_touch", screen="no_touch"))
    texts = []
    for file in now.files:
        text = file.text
        for newer, name in (("hello", "blip"), ("no_touch", "keep_off")):
            text = text.replace(f'"{newer}"', f'"{name}"').replace(f".{newer}]", f".{name}]")
        for name, newer in FORMS.items():
            text = text.replace(f'form = "{newer}"', f'form = "{name}"')
        texts.append(msgspec.structs.replace(file, text=text))
    assert any('"breathe"' in file.text for file in texts)
    then = load_texts(texts).plans[0]
    assert [f.pattern for f in then.timeline.firings] == ["blip", "blip", "keep_off", "keep_off"]
    for firing in then.timeline.firings:
        assert firing.pattern in getattr(then.plan.patterns, firing.channel)
    # A plan alone, as an exported page keeps it, on the patterns of today.
    plan = [file if file.kind == "plan" else today for file, today in zip(texts, now.files, strict=True)]
    assert load_texts(plan).plans == now.plans


def test_a_bundled_file_is_found_by_its_older_name(folder: Path) -> None:
    assert load_rig("driver_station") == load_rig("beside_robot")
    assert check(["driver_station"]) == ()
    text = 'format = "tocsin-project/1"\nname = "Ours"\nrig = "driver_station"\n'
    (folder / "tocsin.toml").write_text(text, encoding="utf-8")
    found = read_project(folder / "tocsin.toml").found
    assert found is not None
    assert found.rig == "beside_robot"
    (folder / "rigs").mkdir()
    (folder / "rigs" / "driver_station.toml").write_text(RIG, encoding="utf-8")
    found = read_project(folder / "tocsin.toml").found
    assert found is not None
    assert found.rig == str(folder / "rigs" / "driver_station.toml")
    assert not newer_files(folder)


def test_check_says_where_they_stand_and_what_rewrites_them(folder: Path) -> None:
    loaded(folder, cues(rumble="blip", light="keep_off", screen="keep_off") + light("mine", "fill"))
    (told,) = examine(["ours.toml"]).older
    assert told[0] == "ours.toml"
    assert [(one.line, one.older, one.newer) for one in told[1]] == [
        (7, "blip", "hello"), (11, "keep_off", "no_touch"), (15, "keep_off", "no_touch"), (17, "fill", "ebb"),
    ]  # fmt: skip
    loaded(folder, cues(rumble="hello", light="no_touch") + light("mine", "ebb"))
    assert examine(["ours.toml"]).older == ()


def test_rewritten_an_older_folder_is_the_same(tmp_path: Path) -> None:
    team = tmp_path / "team"
    shutil.copytree(BEFORE, team)
    (team / "first_long_way.txt").unlink()
    plans = sorted((team / "plans").glob("*.toml"))
    drills = sorted((team / "drills").glob("*.toml"))
    before = [load(None, [str(plan)], "nothing").plans for plan in plans]
    rounds = [load_drill(str(drill), "nothing") for drill in drills]
    newer = newer_files(team)
    assert sorted(newer) == [f"plans/{plan.name}" for plan in plans]
    for name, text in together(team, newer, {}).items():
        was = (team / name).read_text("utf-8")
        assert len(was.splitlines()) == len(text.splitlines())
        assert "keep_off\"" not in text.replace('id = "keep_off', "")
        (team / name).write_text(text, encoding="utf-8")
    assert [load(None, [str(plan)], "nothing").plans for plan in plans] == before
    after = [load_drill(str(drill), "nothing") for drill in drills]
    assert [one.drill for one in after] == [one.drill for one in rounds]
    assert [one.files.plans for one in after] == [one.files.plans for one in rounds]
    assert not newer_files(team)


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_all_but_the_names_stays_as_people_wrote_it(folder: Path, line_end: str) -> None:
    text = PLAN + """
# solid, blip and keep_off in a comment stay
[[cue]]
id    =   "keep_off"
at = "drive.begin+4s"
rumble = 'blip'          # felt
light  = "mine"   # ours
say = "blip"
[[cue]]
id = "c2"
at = "drive.begin+9s"
light = "chase"     # six
screen = "keep\\u005Foff"
[pattern]
light.mine = { form = "breathe", colours = ["yellow"],cycle = "2s", lasts = "3s" }
[pattern.rumble.blip2]
steps = [ { strong = 1.0, lasts = "300ms" } ]
""" + "".join(light(f"f{place}", form) for place, form in enumerate(FORMS))
    wanted = text.replace("rumble = 'blip'          #", "rumble = 'hello'         #")
    wanted = wanted.replace('light = "chase"', 'light = "queue"').replace('"keep\\u005Foff"', '"no_touch"')
    wanted = wanted.replace('form = "breathe", ', 'form = "swell", ')
    for older, newer in FORMS.items():
        wanted = wanted.replace(f'form = "{older}"\n', f'form = "{newer}"\n')
    (folder / "ours.toml").write_bytes(text.replace("\n", line_end).encode())
    before = load(None, ["ours.toml"], "nothing").plans
    newer = newer_files(folder)["ours.toml"]
    assert newer.text == wanted.replace("\n", line_end)
    (folder / "ours.toml").write_bytes(newer.text.encode())
    assert load(None, ["ours.toml"], "nothing").plans == before
    assert not newer_files(folder)


def test_a_file_with_mistakes_is_not_touched(folder: Path) -> None:
    (folder / "ours.toml").write_text(PLAN + cues(rumble="blip") + "lats = 3\n", encoding="utf-8")
    assert newer_files(folder) == {}


def test_files_that_name_others_are_rewritten_too(folder: Path) -> None:
    text = 'format = "tocsin-project/1"\nname = "Ours"\nrig = "driver_station"     # beside it\n'
    (folder / "tocsin.toml").write_text(text, encoding="utf-8")
    newer = newer_files(folder)
    assert newer["tocsin.toml"].text == text.replace('"driver_station"     #', '"beside_robot"       #')


# -- the strip's protocol ---------------------------------------------------------------------------------------------


def protocol_of(folder: Path, more: str = "") -> str:
    (folder / "rig.toml").write_text(RIG + more, encoding="utf-8")
    light = load_rig(str(folder / "rig.toml")).light
    assert light is not None
    return light.protocol


def test_a_strips_protocol_is_tpm2_and_where_it_was_another_one_people_are_told(folder: Path) -> None:
    assert protocol_of(folder) == "tpm2"
    (note,) = examine(["rig.toml"]).unsaid
    assert note.startswith("rig.toml, line 4: [light] names no protocol, so the strip is sent TPM2.")
    assert 'protocol = "adalight"' in note
    loaded(folder, cues(light="home"))
    run = load(None, ["ours.toml"], "rig.toml")
    assert tuple(protocol_notes(run.files)) == (note,)                    # as each run says it
    assert newer_files(folder) == {}                                      # which one is right people know alone
    for stated in ("tpm2", "adalight"):
        assert protocol_of(folder, f'protocol = "{stated}"\n') == stated
        assert examine(["rig.toml"]).unsaid == ()


def test_a_strip_that_people_saw_by_adalight_stays_on_it(folder: Path) -> None:
    """Since a confirmed strip's protocol is written beside the day, a day without one is from before."""
    assert protocol_of(folder, "confirmed = 2031-03-01\n") == "adalight"
    checked = examine(["rig.toml"])
    assert checked.unsaid == ()
    ((name, (one,)),) = checked.older
    assert (name, one.line, one.older, one.newer) == ("rig.toml", 4, "", "adalight")
    before = load_rig("rig.toml")
    text = newer_files(folder)["rig.toml"].text
    assert text == RIG + 'confirmed = 2031-03-01\nprotocol = "adalight"\n'
    (folder / "rig.toml").write_text(text, encoding="utf-8")
    assert load_rig("rig.toml") == before
    assert examine(["rig.toml"]).older == ()


def test_channels_of_the_table_are_channels() -> None:
    assert set(PATTERNS) <= set(CHANNELS)


def test_a_strips_protocol_that_is_wrong_is_no_missing_one(folder: Path) -> None:
    (folder / "rig.toml").write_text(RIG + 'protocol = "sacn"\n', encoding="utf-8")
    checked = examine(["rig.toml"])
    assert ([problem.line for problem in checked.problems], checked.unsaid) == ([6], ())
