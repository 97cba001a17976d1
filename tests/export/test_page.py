"""The page as text: whole, alike each time, closed against whatever a plan's words hold."""

import base64
import hashlib
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import msgspec
import pytest

import tocsin.export.page as page_module
from tests.support.export.exported_plans import BUNDLED, bundled
from tests.support.export.page_sources import NASTY, nasty
from tocsin.export.json_document import document
from tocsin.export.page import SCRIPT_PARTS, page_html
from tocsin.export.source import CAUTIONS

TEMPLATES = Path(page_module.__file__).with_name("templates")


class Elements(HTMLParser):
    """Reads a page as a browser does: the text of scripts and styles, attributes, comments."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.tags, self.texts, self.comments = [], [], []
        self._open = None
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self._open = (tag, dict(attrs)) if tag in ("script", "style") else None

    def handle_endtag(self, tag):
        self._open = None

    def handle_data(self, data):
        if self._open:
            self.texts.append((*self._open, data))

    def handle_comment(self, data):
        self.comments.append(data)

    def script(self):
        return next(text for tag, attrs, text in self.texts if tag == "script" and "type" not in attrs)

    def style(self):
        return next(text for tag, _, text in self.texts if tag == "style")

    def plan(self):
        return json.loads(next(text for _, attrs, text in self.texts if attrs.get("id") == "plan"))

    def policy(self):
        metas = [attrs for tag, attrs in self.tags if tag == "meta" and "http-equiv" in attrs]
        return dict(rule.strip().split(" ", 1) for rule in metas[0]["content"].split(";"))


def test_words_are_in_the_language_of_the_plan_for_those_who_listen():
    """WCAG 2.2, SC 3.1.2 (language of parts): the page is in English, a plan's words may not be."""
    source = bundled("full")
    german = msgspec.structs.replace(source, plan=msgspec.structs.replace(source.plan, language="de"))
    tags = Elements(page_html(german)).tags
    assert {attrs.get("id", tag): attrs["lang"] for tag, attrs in tags if "lang" in attrs} == {
        "html": "en", "word": "de", "said": "de"
    }  # fmt: skip
    assert Elements(page_html(german)).plan()["plan"]["language"] == "de"


@pytest.mark.parametrize("plan", BUNDLED)
def test_equal_plans_give_equal_pages_that_hold_all_of_the_plan(plan):
    text = page_html(bundled(plan))
    assert text == page_html(bundled(plan))
    assert Elements(text).plan() == json.loads(msgspec.json.encode(document(bundled(plan))))


@pytest.mark.parametrize("made", [*map(bundled, BUNDLED), nasty()], ids=[*BUNDLED, "nasty"])
def test_the_policy_allows_this_style_and_this_script_and_nothing_else(made):
    """Source of the form: W3C Content Security Policy Level 3, hashes over the element's text."""

    def hashed(text):
        return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"

    elements = Elements(page_html(made))
    policy = elements.policy()
    assert policy["default-src"] == "'none'"
    assert policy["connect-src"] == "'none'"
    assert policy["script-src"] == hashed(elements.script())
    assert policy["style-src"] == hashed(elements.style())


@pytest.mark.parametrize(
    ("plan", "quiet", "sounds"), [("full", False, True), ("full", True, False), ("quiet", False, False)]
)
def test_sound_is_off_at_events_and_where_the_plan_has_none(plan, quiet, sounds):
    tags = Elements(page_html(bundled(plan), quiet=quiet)).tags
    assert ["checked" in attrs for _, attrs in tags if attrs.get("id") == "sound-on"] == [sounds]


@pytest.mark.parametrize("plan", BUNDLED)
def test_nothing_is_loaded_from_outside(plan):
    text = page_html(bundled(plan))
    assert not re.search(r"https?://|//\w+\.\w+/", text)
    loads = [attrs for _, attrs in Elements(text).tags if {"src", "href", "srcset", "style", "onclick"} & set(attrs)]
    assert loads == []


def test_words_of_a_plan_cannot_leave_their_place():
    text = page_html(nasty())
    elements = Elements(text)
    assert len([tag for tag, _ in elements.tags if tag == "script"]) == 3
    assert len(elements.comments) == 1
    assert elements.plan()["game"]["name"] == NASTY
    assert "@@" not in text.replace("@@script@@", "")      # the words' own


@pytest.mark.parametrize("plan", BUNDLED)
def test_the_page_says_what_it_is_and_what_it_is_not(plan):
    elements = Elements(page_html(bundled(plan)))
    text = re.sub(r"<[^>]+>", " ", page_html(bundled(plan)))
    for line in (*CAUTIONS, *bundled(plan).origin_lines):
        assert line in text
    for line in bundled(plan).origin_lines:
        assert line in elements.comments[0]
    for word in ("epilepsy", "loud", "pit"):
        assert word in text
    assert ("html", {"lang": "en"}) in elements.tags


def test_the_parts_are_readable_files_of_which_none_is_left_out():
    assert set(SCRIPT_PARTS) == {path.name for path in TEMPLATES.glob("page_*.js")}
    for path in TEMPLATES.glob("page*"):
        lines = path.read_text(encoding="utf-8").splitlines()
        assert len(lines) < 400
        assert path.suffix == ".html" or max(map(len, lines)) <= 120


def test_no_key_that_control_programs_stop_robots_on_is_bound():
    """The keys (from memory of such programs)."""
    controls = (TEMPLATES / "page_controls.js").read_text(encoding="utf-8")
    bound = set(re.findall(r"(\w+): \"", controls[controls.index("const KEYS") : controls.index("const PRESSING")]))
    assert {"PageDown", "s", "x", "p"} <= bound
    assert not {"Enter", "Escape", "Space"} & bound
    assert not [key for key in bound if re.fullmatch(r"F\d+", key)]
