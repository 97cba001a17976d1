"""Names as people write them are found and taken out; what a file says beside them stays to the letter."""

import tomllib
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.config import bundle
from tocsin.journal.name import REMOVED, Name
from tocsin.journal.toml_words import with_words


@pytest.mark.parametrize(
    ("name", "text", "left"),
    [
        ("Ann", "with ann and ANN", f"with {REMOVED} and {REMOVED}"),
        ("Ann", "annual, Joann, ann2", "annual, Joann, ann2"),
        ("ann other", "Ann  Other, ann_other, ann-other.toml", f"{REMOVED}, {REMOVED}, {REMOVED}.toml"),
        ("ann", "contact_by_ann", f"contact_by_{REMOVED}"),
        (unicodedata.normalize("NFC", "Zoë"), unicodedata.normalize("NFD", "é Zoë é"), None),
        (unicodedata.normalize("NFD", "Zoë"), unicodedata.normalize("NFC", "é Zoë é"), None),
        (unicodedata.normalize("NFC", "한나"), unicodedata.normalize("NFD", "é 한나 é"), None),
        ("Zoe", "Zoë", "Zoë"),
        ("STRASSE", "Straße", REMOVED),
        ("Ann", "Ａｎｎ", REMOVED),
        ("a.*b", "a.*b axxb", f"{REMOVED} axxb"),
        ("(", "a ( b", f"a {REMOVED} b"),
        ("removed", "was removed", "was -"),
        ("x", "x̂ x", f"x̂ {REMOVED}"),
    ],
)  # fmt: skip
def test_a_name_is_found_as_people_write_it(name, text, left):
    if left is None:
        accent = text[: text.index(" ")]
        left = f"{accent} {REMOVED} {accent}"
    assert Name(name).taken_out(text) == left
    assert not Name(name).stands_in(left)


def test_a_name_of_blanks_is_none():
    with pytest.raises(ValueError, match="blanks"):
        Name("  ")


@given(st.text(min_size=1).filter(str.strip), st.text(), st.text())
def test_no_name_is_left_in_any_text(name, before, behind):
    left = Name(name).taken_out(f"{before} {name} {behind}")
    assert not Name(name).stands_in(left)
    short = Name(name).taken_out(f"{before} {name} {behind}", no_longer=True)
    assert not Name(name).stands_in(short)
    assert len(short) <= len(f"{before} {name} {behind}")


FILE = '''\
# Ann's file, "Ann"
name = "Ann's plan" # for Ann
[[cue]]
id = "ann"
at = "ann.begin-4s"
for = ["ann", # who? Ann
  'coach']
why = """Ann said
"so", and Ann means it"""
say = 'Ann # no comment'
until = { name = "Ann", at = "ann" }
[[pad]] # Ann's
name = "Ann"
[other]
"title" = "Ann"
'''


def test_only_words_of_a_file_change_and_it_reads_on():
    new = with_words(FILE, Name("Ann").taken_out, Name("Ann").taken_out)
    was, now = tomllib.loads(FILE), tomllib.loads(new)
    assert now["cue"][0] == {
        **was["cue"][0], "why": f'{REMOVED} said\n"so", and {REMOVED} means it', "say": f"{REMOVED} # no comment",
        "until": {"name": REMOVED, "at": "ann"},
    }  # fmt: skip
    assert (now["name"], now["pad"], now["other"]) == (f"{REMOVED}'s plan", was["pad"], {"title": REMOVED})
    comments = [line.partition("# ")[2] for line in new.splitlines() if "# " in line and "no comment" not in line]
    assert comments == [f'{REMOVED}\'s file, "{REMOVED}"', f"for {REMOVED}", f"who? {REMOVED}", f"{REMOVED}'s"]
    assert with_words(FILE, str, str) == FILE


@pytest.mark.parametrize(("kind", "name"), [(kind, name) for kind in bundle.KINDS for name in bundle.names(kind)])
def test_bundled_files_stay_to_the_letter_but_for_their_words(kind, name):
    text = (bundle.root() / kind / f"{name}.toml").read_text(encoding="utf-8")
    assert with_words(text, str, str) == text
    was, now = tomllib.loads(text), tomllib.loads(with_words(text, added, added))
    assert shape(now) == shape(was)


def added(words):
    return f"x{words}"


def shape(value, key=""):
    """Return a file's values without those that are words."""
    if isinstance(value, dict):
        return {inner: shape(one, inner) for inner, one in value.items()}
    if isinstance(value, list):
        return [shape(one, key) for one in value]
    return None if key in ("name", "title", "why", "say") else value


def test_a_file_that_is_no_toml_is_all_words():
    assert with_words("Ann = = [", Name("Ann").taken_out, str) == f"{REMOVED} = = ["
