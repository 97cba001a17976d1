"""``tocsin react``: what is refused before anything is opened, and before anybody is written down."""

import pytest

from tocsin.cli.main import main

REFUSED = [
    (("--channels", "sound", "--plan", "quiet"), "the plan 'Quiet' has no signal on sound", "it uses rumble, light"),
    (("--plan", "quiet", "--rig", "nothing"), "'Quiet' has no signal for the devices here", "plug a pad"),
    (("--who", "pilot=Ann"), "'pilot=Ann' names nobody", "operator=Ann"),
    (("--who", "driver="), "'driver=' names nobody", "ROLE=NAME"),
    (("--picture", "a.pdf"), "a picture ends in .svg or .png", "a.svg"),
    (("--picture", "nowhere/a.svg"), "there is no folder nowhere", "make it first"),
    (("--plan", "ful"), "there is no bundled plan 'ful'", "full"),
]


@pytest.mark.parametrize(("arguments", "says", "hint"), REFUSED)
def test_what_cannot_be_tested_is_one_line_and_a_hint(arguments, says, hint, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["react", "--runs", "runs", "--who", "Ann", *arguments]) == 2
    captured = capsys.readouterr()
    lines = captured.err.splitlines()
    assert captured.out == ""
    assert len(lines) == 2
    assert says in lines[0]
    assert hint in lines[1]
    assert list(tmp_path.iterdir()) == []


def test_a_folder_is_no_picture(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "shots.svg").mkdir()
    assert main(["react", "--picture", "shots.svg"]) == 2
    assert "shots.svg is a folder" in capsys.readouterr().err


@pytest.mark.parametrize("arguments", [["--channels", "smell"], ["--channels", ""], ["--rate", "0"], ["--seed", "x"]])
def test_arguments_that_do_not_fit_are_told(arguments, capsys):
    with pytest.raises(SystemExit) as left:
        main(["react", *arguments])
    assert left.value.code == 2
    assert "tocsin react --help" in capsys.readouterr().err
