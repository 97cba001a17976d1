"""All that people read stands in one list: it is as the source says, and nothing is said that stands outside of it."""

import ast
import calendar
import os
import re
import subprocess
import sys
from html import unescape

import pytest

from tests.support import texts
from tests.support.shown_texts import written_words
from tocsin.cli.main import COMMANDS
from tocsin.features.records.example_season import example_rows
from tocsin.journal.place import run_folders
from tocsin.journal.short_name import short_names
from tocsin.model.plan import CHANNELS, ROLES
from tocsin.translation import tr, trn

# What may stand as it is where people read: commands, options, keys, files, and figures with their units.
_FREE = re.compile(
    r"tocsin|--?[a-z]+|\{[a-z0-9_,:|]+\}|[A-Z|=.,\[\]]{2,}|\S+\.(toml|svg|pdf)|\S*/\S*|[a-z]+_[a-z_]+|[\d-]+\S*|"
    + "|".join(COMMANDS)
)
def _of_example():
    """Return the words by which the drills of the invented season name themselves and their set-ups."""
    return {word for row in example_rows() for text in (row.drill, row.setup) for word in text.split()}


_CHANNELS = ("rumble", "light", "screen", "sound")


def calls(name):
    """Return each call of a function of ``translation``, with its file."""
    for path in texts.files():
        if path.suffix == ".py":
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                if isinstance(node, ast.Call) and getattr(node.func, "id", "") == name:
                    yield f"{path.name}:{node.lineno}", node


def test_the_list_is_as_the_source_says():
    assert texts.LIST.read_text("utf-8") == texts.written(), "run: python -m tests.support.texts"


def test_each_place_of_a_text_is_given_its_fact():
    wrong = []
    for where, call in calls("tr"):
        facts = {keyword.arg for keyword in call.keywords}
        if facts and None not in facts and isinstance(call.args[0], ast.Constant):
            wrong += [where] if texts.fields(call.args[0].value) != facts else []
    for where, call in calls("trn"):
        facts = {"count", *(keyword.arg for keyword in call.keywords)}
        places = [texts.fields(text.value) for text in call.args[:2]]
        wrong += [where] if places[0] | places[1] | {"count"} != facts else []
    assert not wrong


def test_each_marked_text_stands_in_the_list():
    """The list's maker reads none within an f-string, nor in a call that is itself a fact of another text."""
    said = {form for message in texts.catalogue() if message.id for form in texts.forms(message)}
    wrong = []
    for name, forms in (("tr", 1), ("trn", 2), ("marked", None)):
        for where, call in calls(name):
            marked = [text.value for text in call.args[:forms] if isinstance(text, ast.Constant)]
            wrong += [(where, text) for text in marked if texts.words(text) and text not in said]
    assert not wrong


def test_facts_have_telling_names():
    assert not [where for name in ("tr", "trn") for where, call in calls(name)
                if any(re.fullmatch(r"part(_\d)?", keyword.arg or "") for keyword in call.keywords)]  # fmt: skip


def test_no_text_is_a_bare_command_or_a_line_of_a_file():
    said = [text for message in texts.catalogue() if message.id for text in texts.forms(message)]
    assert len(said) > 2000
    assert not [text for text in said if re.match(r"(tocsin|pip|sudo) \S+$|[a-z_]+ = \S+$|bold ", text)]
    assert not [text for text in said if not texts.words(text)]


def test_a_text_and_one_for_so_many():
    assert tr("{name} is gone", name="Pad 2") == "Pad 2 is gone"
    assert [trn("{count} round", "{count} rounds", count) for count in (0, 1, 2)] == ["0 rounds", "1 round", "2 rounds"]
    with pytest.raises(KeyError):
        tr("{name} is gone", other=1)


def python(code, **variables):
    """Run a program, and return what it prints to both streams."""
    variables = {**os.environ, **variables}
    done = subprocess.run([sys.executable, *code], env=variables, capture_output=True, text=True, timeout=300)
    return done.stdout + done.stderr


@pytest.mark.devices
def test_without_a_translation_nothing_is_loaded_for_it():
    assert "gettext" not in python(["-X", "importtime", "-c", "import tocsin.translation"], TOCSIN_LOCALE="")


@pytest.mark.devices
def test_a_translation_that_cannot_be_read_is_told_and_english_is_spoken(tmp_path):
    (tmp_path / "en" / "LC_MESSAGES").mkdir(parents=True)
    (tmp_path / "en" / "LC_MESSAGES" / "tocsin.mo").write_bytes(b"no catalogue at all")
    told = python(["-m", "tocsin", "nonsense"], TOCSIN_LOCALE=str(tmp_path), LANGUAGE="en")
    assert "the translation cannot be read" in told
    assert "there is no command 'nonsense'" in told


# Texts that are filled as they are looked up, and texts that are filled by what finds them in a table.
_FILLED = """
from tocsin.cli.commands.check import facts_of
from tocsin.lint.messages import explained_facts
from tocsin.model.display.view_model import _PROMPTS
from tocsin.translation import form, tr, trn
print(tr("there is no command '{name}'", name="x"))
print(trn("{count} round", "{count} rounds", 2), form("{count} round", "{count} rounds", 1))
print(explained_facts("red_flash")["message"])
print(facts_of("unknown_key")["message"])
print(_PROMPTS["press"].format(key="s", count="5 s"))
"""


@pytest.mark.devices
@pytest.mark.parametrize("wrong", ["{nobody} knows that", "open {", "{}", "{0}", "{name!x} {count:d}"])
def test_a_translation_with_other_places_stops_nothing(tmp_path, wrong):
    messages = [message for message in texts.catalogue() if message.id]
    found = {message.id: (wrong, wrong) if message.pluralizable else wrong for message in messages}
    told = python(["-c", _FILLED], **texts.translated(tmp_path, "en", found))
    assert told == python(["-c", _FILLED])
    assert "Traceback" not in told


@pytest.mark.devices
def test_a_translation_may_say_less_and_in_another_order(tmp_path):
    code = ["-c", "from tocsin.translation import tr; print(tr('{name} is gone', name='a'), tr('{title} in {wait}'))"]
    said = {"{name} is gone": "weg", "{title} in {wait}": "{wait}: {title}"}
    assert python(code, **texts.translated(tmp_path, "de", said)) == "weg {wait}: {title}\n"


@pytest.fixture(scope="module")
def wrapped(tmp_path_factory):
    """Return the variables of a language in which every text stands between marks, and a folder of its own."""
    folder = tmp_path_factory.mktemp("wrapped")
    bad = 'format = "tocsin-plan/1"\nname = "x"\ngame = "bench"\nfoo = 3\n[[cue]]\nid = "a"\nat = "driver.end-5"\n'
    (folder / "bad.toml").write_text(bad, "utf-8")
    places = dict.fromkeys(("XDG_STATE_HOME", "XDG_DATA_HOME"), str(folder))
    quiet = dict.fromkeys(("SDL_AUDIODRIVER", "SDL_VIDEODRIVER"), "dummy")
    return folder, {**texts.wrapped(folder / "locale"), **places, **quiet, "COLUMNS": "240"}


@pytest.mark.devices
@pytest.mark.parametrize(("words", "others"), [
    ("--help", ()),
    ("nonsense", ("nonsense",)),
    ("run --help", ("key,now", "window,terminal,none", "practice,event", "lan|ADDRESS")),
    ("run --start", ()),
    ("board --address steer", ()),
    ("run --nonsense", ()),
    ("check bad.toml", ("foo", "name", "game", "language", "lead", "cue", "pattern", "at", "driver.end-5", "id")),
    ("check full", ()),
    ("check --explain flash", ("flash", "strip")),           # a code, and a device by its key
    ("run --rig nothing --start now --rate 100 --screen none --runs runs", _CHANNELS),
    ("runs --runs runs", ("Full",)),                         # the plan's own name
    ("review --runs runs", ("none",)),
    ("review --example", _of_example()),                     # drills and set-ups, as their files name them
    ("review --example --season", _of_example()),
    ("init team", ("none", "period", "No", "contact", "cd", "team")),        # answers as typed, a window
    ("check team", ()),
    # Names of the invented game.
    ("advise --example --look --ahead 5", ("Full", "Casting", "Day", "No-touch", "time")),
    ("log", ()),
])  # fmt: skip
def test_what_people_read_stands_in_the_list(wrapped, words, others, monkeypatch):
    folder, variables = wrapped
    monkeypatch.chdir(folder)
    told = python(["-m", "tocsin", *words.split()], **variables)
    assert texts.WRAPPED[0] in told
    assert "Traceback" not in told
    runs = short_names(run_folders(folder / "runs")).values() if (folder / "runs").is_dir() else ()
    free = {*others, *calendar.day_abbr, *runs}
    assert not [word for word in texts.unmarked(told) if word not in free and not _FREE.fullmatch(word)]


@pytest.mark.devices
def test_what_window_and_terminal_show_stands_in_the_list(wrapped, tmp_path):
    """Each state of a match and of a drill, with what stands in the files left out: nobody translates these."""
    told = python(["-m", "tests.support.shown_texts", str(tmp_path)], **wrapped[1])
    assert "Traceback" not in told
    assert told.count(texts.WRAPPED[0]) > 500
    free = written_words()
    assert not [word for word in texts.unmarked(told) if word.lower() not in free]


@pytest.mark.devices
@pytest.mark.parametrize("words", ["preview", "preview --poster a4", "export --to card"])
def test_what_is_printed_on_paper_stands_in_the_list(wrapped, tmp_path, words):
    """Letters are drawn, and beside each line stands a comment that says it."""
    done = python(["-m", "tocsin", *words.split(), "--plan", "full", "-o", str(tmp_path / "sheet.svg")], **wrapped[1])
    free, sheets = written_words() - {*ROLES, *CHANNELS}, sorted(tmp_path.glob("*.svg"))
    assert sheets, done
    for sheet in sheets:
        told = " ".join(unescape(line) for line in re.findall("<!-- (.*?) -->", sheet.read_text("utf-8"), re.S))
        assert told.count(texts.WRAPPED[0]) > 20
        unmarked = [word for word in texts.unmarked(told) if not re.fullmatch("[0-9a-f]{64}", word)]
        assert not [word for word in unmarked if word.lower() not in free]
