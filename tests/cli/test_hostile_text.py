"""What others wrote reaches no terminal as it is: in any field of any file or journal, through any command."""

import json
import re
import sys
import unicodedata
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import msgspec
import pytest

from tests.support.journal.recorded_runs import record_push
from tocsin.cli.main import main
from tocsin.cli.source import source_of
from tocsin.config import bundle
from tocsin.config.drills import load_drill
from tocsin.export.page import page_html
from tocsin.features.records.round_files import RoundFacts
from tocsin.journal import records
from tocsin.journal.reader import read
from tocsin.runner.options import ROUND

Output = pytest.CaptureFixture[str]
# A title of the window, a colour, letters turned round, C1's own introducer, NUL, an overwritten line, letters that
# nobody sees, mark-up, ends of comments and of scripts, a formula.
HOSTILE = (
    "=1\x1b]0;own\x07\x1b[31m\u202egnp\u2066\x9b2J\0\r\b\u200b[bold]x[/bold]"
    "</script>--><bold>*/ \\u002a/ \x7f{0}%s\tübung"
)
# What of it files are allowed to hold.
TAKEN = "".join(char for char in HOSTILE if char.isprintable())
FILES = {"games": "casting_day", "plans": "full", "rigs": "practice_bench", "drills": "break_off"}
TEXT = re.compile(r'"[^"\n]*"')


def in_toml(text: str) -> str:
    """Return a text as a string of TOML."""
    plain = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + re.sub(r"[^ -~]", lambda found: f"\\u{ord(found[0]):04x}", plain) + '"'


def hidden(text: str) -> set[str]:
    """Return what of a text steers or hides; a newline does neither."""
    return {char for char in text if unicodedata.category(char) in ("Cc", "Cf", "Cs", "Zl", "Zp")} - {"\n"}


def demand_clean(capsys: Output, *arguments: str, besides: str = "") -> tuple[int, str]:
    """Run a command; return its exit code and what it printed on stdout."""
    try:
        code = main(list(arguments))
    except SystemExit as left:
        code = int(left.code or 0)
    out, err = capsys.readouterr()
    assert "fault of Tocsin" not in err, err
    assert hidden(out) - set(besides) == set(), arguments
    assert hidden(err) == set(), arguments
    return code, out


def texts_of(kind: str) -> list[tuple[int, int]]:
    """Return where the texts of a bundled file stand: of each key under each heading the first and the last."""
    text = bundle.find(kind, FILES[kind]).read_text(encoding="utf-8")
    text = re.sub("#.*", lambda cut: " " * len(cut[0]), text)
    places: dict[tuple[str, str], list[tuple[int, int]]] = {}
    heading = key = ""
    for found in re.finditer(rf"^(\[.*\])$|([\w-]+)(?= *=)|{TEXT.pattern}", text, re.MULTILINE):
        if found[0].startswith('"'):
            places.setdefault((heading, key), []).append(found.span())
        else:
            heading, key = found[1] or heading, found[2] or ""
    return sorted({place for alike in places.values() for place in (alike[0], alike[-1])})


@pytest.fixture
def team(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder with a copy of each kind of file; where the system takes it, with a hostile name."""
    name = "te\x1b[31mam\udcff\u202e" if sys.platform == "linux" else "team"
    folder = tmp_path / name
    folder.mkdir()
    monkeypatch.chdir(folder)
    for kind, file in FILES.items():
        (folder / kind).mkdir()
        (folder / kind / f"{file}.toml").write_bytes(bundle.find(kind, file).read_bytes())
    return folder


def put(folder: Path, kind: str, place: tuple[int, int] | None, hostile: str = HOSTILE, before: str = "") -> None:
    """Write a copy with a hostile text in one place, or everywhere where words for people stand."""
    text = bundle.find(kind, FILES[kind]).read_text(encoding="utf-8")
    if place is None:
        words = r'^((?:name|title|say|why|about|text|voice|description) *= *)"[^"\n]*"'
        text = re.sub(words, lambda found: found[1] + in_toml(hostile), text, flags=re.MULTILINE)
    else:
        text = f"{text[: place[0]]}{in_toml(hostile)}{text[place[1] :]}"
    (folder / kind / f"{FILES[kind]}.toml").write_text(before + text, encoding="utf-8")


@pytest.mark.parametrize("kind", FILES)
def test_any_text_of_any_file_is_shown_escaped_by_check(team: Path, capsys: Output, kind: str) -> None:
    for place in texts_of(kind):
        for hostile in (HOSTILE, TAKEN):
            put(team, kind, place, hostile)
            demand_clean(capsys, "check", str(team / kind / f"{FILES[kind]}.toml"))
    put(team, kind, None, before=f"{in_toml(HOSTILE)} = 1\n# {HOSTILE}\n")
    demand_clean(capsys, "check", str(team))


def test_the_words_of_a_plan_are_shown_escaped_by_what_shows_it(team: Path, capsys: Output) -> None:
    for kind in FILES:
        put(team, kind, None, TAKEN)
    ours = ["--plan", str(team / "plans" / "full.toml"), "--game", str(team / "games" / "casting_day.toml")]
    for command in (["check", str(team)], ["preview", *ours], ["preview", *ours, "--json"]):
        code, out = demand_clean(capsys, *command)
        assert code in (0, 20), out
        assert out.count("übung") > 1
    code, out = demand_clean(capsys, "preview", *ours, "--csv", besides="\r")
    assert out.count("\r") == out.count("\r\n")
    assert "'=1" in out, "no formula"
    for to in ("card", "java", "python", "c", "page", "json"):
        code, out = demand_clean(capsys, "export", "--to", to, *ours)
        assert code == 0
        _demand_whole(to, out)


def tags_of(page: str) -> list[tuple[str, Any]]:
    """Return the tags of a page, as a browser finds them."""
    found: list[tuple[str, Any]] = []
    parser = HTMLParser()
    parser.handle_starttag = lambda tag, attributes: found.append((tag, attributes))     # type: ignore[method-assign]
    parser.feed(page)
    return found


def _demand_whole(to: str, text: str) -> None:
    """Make sure that an export is what it should be: nothing broke out of a comment, a string or a tag."""
    match to:
        case "card":
            ElementTree.fromstring(text.encode())
        case "java" | "c":
            if to == "java":                   # it resolves these before all else, but for doubled backslashes
                text = re.sub(r"(?<!\\)(?:\\\\)*\\u([0-9a-f]{4})", lambda found: chr(int(found[1], 16)), text)
            code = re.sub(r'/\*.*?\*/|//[^\n]*|"(?:\\.|[^"\\])*"', "", text, flags=re.DOTALL)
            assert "bold" not in code
            assert "*/" not in code
        case "python":
            compile(text, "cues.py", "exec")
        case "page":
            assert not [tag for tag, _ in tags_of(text) if tag in ("bold", "owned")]
            assert len(tags_of(text)) == len(tags_of(page_html(source_of("full", None))))
        case _:
            json.loads(text)


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Yield the path of each text below a value, and of each key of a table."""
    if isinstance(value, str):
        yield path
    for key, inner in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
        yield from leaves(inner, (*path, key))


def with_text(value: Any, path: tuple[Any, ...]) -> Any:
    """Return a copy of a value with the hostile text at a path."""
    if not path:
        return HOSTILE
    copy = dict(value) if isinstance(value, dict) else list(value)
    copy[path[0]] = with_text(value[path[0]], path[1:])
    return copy


def test_any_text_of_a_journal_is_shown_escaped_by_what_reads_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    monkeypatch.chdir(tmp_path)
    runs = tmp_path / "runs"
    record_push(runs, 1, 3)
    (folder,) = runs.glob("2*")
    facts = RoundFacts(name="Break off", key="k", seed=1, round=1, crew="A", battery=1, half_speed=False)
    files = tuple(
        records.FileRecord.of(file.name, file.text) for file in load_drill("break_off", "nothing").files.files
    )
    found = [*read(folder).records, records.Note(at_ns=1, what="dropped", text="why")]
    found[0] = msgspec.structs.replace(
        found[0], files=files, label="late", versions={"tocsin": "1"},
        options={ROUND: msgspec.to_builtins(facts), "people": {"driver": "abcd"}, "source": "observed"},
    )  # fmt: skip
    lines = [json.loads(records.encode(one)) for one in found]
    kinds = {type(one): number for number, one in enumerate(found)}           # records of one kind have the same texts
    for number, line in enumerate(lines):
        if number not in kinds.values():
            continue
        for path in leaves(line | {"timeline": None, "files": line.get("files", [])[:1]}):
            if path[0] == "timeline" or (path[0] == "files" and path[-1] == "text"):
                continue
            changed = [*lines[:number], with_text(line, path), *lines[number + 1 :]]
            (folder / "journal.jsonl").write_text("".join(f"{json.dumps(one)}\n" for one in changed), encoding="utf-8")
            for command in (["runs"], ["runs", "--json"], ["runs", "--show", folder.name], ["mark", folder.name]):
                demand_clean(capsys, *command, "--runs", str(runs))
    everywhere = lines[0] | {"label": HOSTILE, "timeline": lines[0]["timeline"] | {"game": HOSTILE, "plan": HOSTILE}}
    (folder / "journal.jsonl").write_text("".join(f"{json.dumps(one)}\n" for one in [everywhere, *lines[1:]]))
    (runs / "people.json").write_text(json.dumps({"format": "x", "people": {"abcd": HOSTILE}}), encoding="utf-8")
    for command in (["runs"], ["runs", "--show", folder.name], ["runs", "--who", "Ann"], ["mark", folder.name]):
        demand_clean(capsys, *command, "--runs", str(runs))
    for command in (["run", "--resume"], ["runs", "--forget", "abc"]):
        demand_clean(capsys, *command, "--runs", str(runs))


@pytest.mark.parametrize(
    "arguments",
    [[HOSTILE], ["run", HOSTILE], ["run", "--plan", HOSTILE], ["run", "--rig", f"{HOSTILE}.toml"], ["mark", HOSTILE],
     ["run", "--rate", HOSTILE], ["run", "--from", HOSTILE], ["check", HOSTILE], ["check", "--explain", HOSTILE],
     ["preview", "--plan", "\udcff.toml"], ["export", "--to", HOSTILE], ["devices", "--only", HOSTILE],
     ["runs", "--who", HOSTILE], ["log", "--video", "\udcff.csv", "--seen", "0:01=driver.begin"],
     ["mark", "\x1b" * 5000], ["run", "--who", HOSTILE], ["drill", HOSTILE], ["react", "--plan", HOSTILE]],
    ids=lambda arguments: arguments[0][:8] + (arguments[1][:9] if len(arguments) > 1 else ""),
)  # fmt: skip
def test_arguments_are_shown_escaped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output, arguments: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    arguments = [argument.replace("\0", "") for argument in arguments]         # no system takes that in an argument
    assert demand_clean(capsys, *arguments)[0] in (2, 20, 22)
