"""The exported page in another language: all that people read on it is marked, and it takes along what it needs."""

import json
import os
import re
import subprocess
import sys

import msgspec
import pytest

from tests.support import texts
from tests.support.export.exported_plans import bundled
from tests.support.export.page_stand import FAKE_PADS, opened
from tocsin.export.json_document import document
from tocsin.export.page import page_html
from tocsin.export.page_texts import script_texts

TEMPLATES = texts.SOURCE / "export" / "templates"
SCRIPTS = sorted([*TEMPLATES.glob("page_*.js"), *TEMPLATES.glob("board_*.js")])
# Digests, versions, figures; and the names of what a browser gave.
_FREE = re.compile(r"[0-9a-f]{64}|\d\S*|bench|pad")
# What no reader of the page sees: names of marks' sources, and what a record's file says.
_UNREAD = {"key ", "button ", "try ", "beat ", "px ", "the wall clock moved by ", "#line [data-act=phone]",
           "#pads button, #others button", "100px ", "Bearer ", "at ", "push "}  # fmt: skip
_WRITE = """
import sys
from tests.support.export.exported_plans import bundled
from tests.support.export.page_stand import write_page
print(write_page(sys.argv[1], bundled(sys.argv[2])))
"""
# All that stands on the page, and what it tells those who listen.
SEEN = """() => {
  const labels = [...document.querySelectorAll('[aria-label]')].map((one) => one.getAttribute('aria-label'));
  const options = [...document.querySelectorAll('option')].map((one) => one.textContent);
  const unseen = ['#said', '#alarm'].map((id) => document.querySelector(id).textContent);
  return [document.body.innerText, ...labels, ...options, ...unseen].join('\\n');
}"""
# What a browser with all that this one has shows seldom: each text by the function that makes it.
SELDOM = """() => [
  ...['ready', 'waits', 'muted', 'absent'].map(soundFact),
  ...[[false, {}], [true, {there: false, index: -1, id: ''}], [true, {there: false, index: 0, id: '1'}],
    [true, {there: true, id: '1'}], [true, {there: true, id: '1', motors: true}]].map(([known, seat]) =>
    padFact(seat, known)),
  screenFact({kept: true}), screenFact({present: true}), screenFact({}),
  ...['driver', 'operator'].flatMap((role) => [{there: false}, {there: true}, {there: true, motors: true}].map(
    (seat) => seatText({role, ...seat}))),
  alarmOf({seats: [{role: 'driver', index: 0, there: false}, {role: 'operator', index: 1, there: false}]}),
  ...Object.values(WHERE), ...Object.keys(SAID).map(wordOf), heldTitle(''), givenText(1, null), givenText(2, null),
  givenText(2, 3), missedText(1), missedText(2), wishOf('?rate=0', page.timeline).notice,
  wishOf('?from=-1', page.timeline).notice, ...page.record.result(), page._nextVariant(0), GO_ON, REMAIN_OUTSIDE,
  ...STAY_OUTSIDE,
]"""


def page_in(folder, variables, plan="full"):
    """Write the page of a bundled plan in another language; return its address."""
    done = subprocess.run([sys.executable, "-c", _WRITE, str(folder), plan], cwd=texts.PROJECT, text=True, timeout=120,
                          env={**os.environ, **variables}, capture_output=True, check=True)  # fmt: skip
    return done.stdout.strip()


def of_plan(source):
    """Return the words that whoever made the game and the plan wrote, in small letters."""
    found, todo = set(), [msgspec.to_builtins(document(source))]
    while todo:
        one = todo.pop()
        if isinstance(one, dict):
            todo += one.values()
            found |= {word for key in ("name", "title", "word", "why") for word in str(one.get(key, "")).split()}
        elif isinstance(one, list | tuple):
            todo += one
    return {word.strip("'\"`()[]<>,;:.?…").lower() for word in found}


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_the_program_finds_the_texts_of_a_script_that_stand_in_the_list(path):
    assert list(script_texts(path.read_text("utf-8"))) == [text for _, text in texts.texts(path)]


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_what_a_script_says_in_several_words_is_marked(path):
    source = path.read_text("utf-8")
    known = {form for text in script_texts(source) for form in ((text,) if isinstance(text, str) else text)}
    code = re.sub(r"^ *//.*|;\s+//.*", "", source, flags=re.M)
    said = {json.loads(literal) for literal in re.findall(r'"(?:[^"\\\n]|\\.)*"', code)}
    assert not [text for text in said - known - _UNREAD if re.search("[a-z] ", text)]


@pytest.mark.parametrize("name", ["page.html", "board.html"])
def test_what_a_template_says_is_marked(name):
    bare = re.sub(r"@@.*?@@|<!--.*?-->|<!DOCTYPE html>", "", (TEMPLATES / name).read_text("utf-8"), flags=re.S)
    labels = re.findall(r"(?:aria-label|title|alt|placeholder)=\"([^\"]+)\"", bare)
    assert labels == []
    assert re.findall(r"[^\W\d_]{2,}", re.sub(r"&\w+;|<[^>]*>", " ", bare)) == []


def test_a_page_in_english_carries_no_translation():
    assert 'id="translation"' not in page_html(bundled("full"))


@pytest.mark.devices
def test_all_that_people_read_on_the_page_is_marked(running, tmp_path):
    address = page_in(tmp_path, texts.wrapped(tmp_path / "locale"))
    free = of_plan(bundled("full"))
    with opened(running, f"{address}?rate=100", FAKE_PADS) as page:
        seen = {"standby": page.ask(SEEN)}
        page.tab.click("[data-act=try]")
        seen["tried"] = page.ask(SEEN)
        page.tab.click("#start-panel .big")
        page.tab.keyboard.press("k")
        seen["counting in"] = page.ask(SEEN)
        page.await_that("page.match.phase === 'running'")
        page.press_at_once("7", "s", "p")
        page.await_that("page.match.phase === 'held'")
        seen["held"] = page.ask(SEEN)
        page.press_at_once("ArrowLeft", "x")
        seen["held, cancel asked for"] = page.ask(SEEN)
        page.press_at_once("p")
        seen["running"] = page.ask(SEEN)
        page.await_that("page.match.phase === 'over'")
        page.await_that("!document.querySelector('#prompt').hidden")
        seen["over"] = page.ask(SEEN)
        seen["seldom"] = "\n".join(page.ask(SELDOM))
        page.press_at_once("PageDown")
        seen["standby again"] = page.ask(SEEN)
    for where, told in seen.items():
        assert texts.WRAPPED[0] in told
        outside = map(str.lower, texts.unmarked(told))
        unmarked = [word for word in outside if word not in free and not _FREE.fullmatch(word)]
        assert " ".join(unmarked) == "", where


@pytest.mark.devices
def test_a_page_counts_as_its_language_does_and_leaves_out_what_it_could_not_fill(running, tmp_path):
    """Polish has three forms: 1; those that end in 2 to 4 but 12 to 14; all others (CLDR 44, plural rules). The words
    are invented."""
    given = ("{count} signal given", "{count} signals given")
    variables = texts.translated(tmp_path / "locale", "pl", {
        given: ("{count} jeden", "{count} kilka", "{count} wiele"),
        "HELD – {title}": "{title} – STOI </script>", "{title} ends": "{nobody} ends", "{title} in {wait}": "{0}",
        "Match over": "Koniec {}", "HELD": "STOI", "Go on": "Dalej",
    })  # fmt: skip
    with opened(running, page_in(tmp_path, variables)) as page:
        counts = [*range(131), 199, 200, 201, 202, 212, 1000, 1001, 1002, 1012, 1122]
        few = {count for count in counts if count % 10 in (2, 3, 4) and count % 100 not in (12, 13, 14)}
        wanted = [f"{n} {'jeden' if n == 1 else 'kilka' if n in few else 'wiele'}" for n in counts]
        assert page.ask("(counts) => counts.map((count) => givenText(count, null))", counts) == wanted
        assert page.ask("[heldTitle('$& {wait}'), heldTitle('')]") == ["$& {wait} – STOI </script>", "STOI"]
        assert page.ask("[tr('{title} ends', {title: 'Pit'}), tr('Match over')]") == ["Pit ends", "Match over"]
        assert page.ask("document.documentElement.lang") == "pl"
        page.tab.keyboard.press("s")
        page.await_that("page.match.phase === 'waiting'")
