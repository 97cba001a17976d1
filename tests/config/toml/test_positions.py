"""The scanner tells places and no values, tomllib values and no places: here they are held together."""

import tomllib
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from tocsin.config.toml.positions import line_and_column, line_starts, scan, within
from tocsin.model.diagnostics import Path

BARE = st.text("abcxyz_-019", min_size=1, max_size=5)
TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=8)


def _basic(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


KEYS = st.one_of(BARE, TEXTS.map(_basic), st.text("ab .#=", max_size=4).map(lambda text: f"'{text}'"))
SCALARS = st.one_of(
    st.integers(-10**6, 10**6).map(str),
    st.floats(allow_nan=False, allow_infinity=False, width=32).map(lambda number: f"{number:.6f}"),
    st.sampled_from(["true", "false", "inf", "nan", "0x1F", "1_000", "07:32:00", "1979-05-27 07:32:00Z", "'C:\\x'"]),
    TEXTS.map(_basic),
    st.sampled_from(['"\\u0041\\n\\"b"']),
    st.sampled_from(['"""\nlong "quoted"\n text"""', "'''\nraw ''x''\n'''", '"""a\\\n  b"""', '""""q""""']),
)
GAP = st.sampled_from(["", " ", "\t"])
BREAK = st.sampled_from([" ", "\n ", " # note ] }\n", ""])


def _lists(values: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    def build(drawn: tuple[list[str], str, bool]) -> str:
        items, gap, tail = drawn
        return "[" + gap + ("," + gap).join(items) + ("," if tail and items else "") + gap + "]"

    return st.tuples(st.lists(values, max_size=3), BREAK, st.booleans()).map(build)


def _tables(values: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    def build(drawn: tuple[list[tuple[str, str]], str]) -> str:
        entries, gap = drawn
        return "{" + gap + ", ".join(f"{key}{gap}={gap}{value}" for key, value in entries) + gap + "}"

    return st.tuples(st.lists(st.tuples(KEYS, values), max_size=3), GAP).map(build)


VALUES = st.recursive(SCALARS, lambda inner: st.one_of(_lists(inner), _tables(inner)), max_leaves=6)
DOTTED = st.lists(KEYS, min_size=1, max_size=3).map(" . ".join)
LINES = st.one_of(
    st.tuples(DOTTED, GAP, VALUES, st.sampled_from(["", " # note"])).map(lambda d: f"{d[0]}{d[1]}={d[1]}{d[2]}{d[3]}"),
    DOTTED.map(lambda key: f"[{key}]"),
    DOTTED.map(lambda key: f"[[ {key} ]] # note"),
    st.sampled_from(["", "# note", "  "]),
)


def _leaves(value: Any, path: Path = ()) -> dict[Path, Any]:
    if isinstance(value, dict):
        inner = {p: leaf for key, item in value.items() for p, leaf in _leaves(item, (*path, key)).items()}
    elif isinstance(value, list):
        inner = {p: leaf for number, item in enumerate(value) for p, leaf in _leaves(item, (*path, number)).items()}
    else:
        return {path: value}
    return {path: None, **inner} if path else inner


@given(st.lists(LINES, max_size=8).map("\n".join))
def test_every_value_and_key_that_tomllib_reads_is_placed_where_it_stands(text: str) -> None:
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        scan(text)                                      # must come to an end on any text
        return
    places = scan(text)
    leaves = _leaves(data)
    assert places.stopped is None
    assert set(places.values) == set(leaves)
    for path, leaf in leaves.items():
        place = places.values[path]
        if leaf is not None:
            assert repr(tomllib.loads(f"v = {text[place.begin:place.end]}")["v"]) == repr(leaf)
        if isinstance(path[-1], str):
            key = places.keys[path]
            assert list(tomllib.loads(f"{text[key.begin:key.end]} = 1")) == [path[-1]]


@given(st.text('[]{}="\'#\n ,.ab1\\', max_size=30))
def test_the_scanner_ends_on_any_text(text: str) -> None:
    places = scan(text)
    assert places.stopped is None or 0 <= places.stopped <= len(text)


@given(TEXTS, st.data())
def test_a_span_within_a_text_counts_its_characters(value: str, data: st.DataObject) -> None:
    begin = data.draw(st.integers(0, len(value)))
    end = data.draw(st.integers(begin, len(value)))
    text = f"v = {_basic(value)}"
    place = within(text, scan(text).values[("v",)], (begin, end))
    if end > begin:
        assert tomllib.loads(f'v = "{text[place.begin:place.end]}"')["v"] == value[begin:end]


def test_lines_and_columns_count_from_one() -> None:
    starts = line_starts("ab\n\ncd")
    assert [line_and_column(starts, offset) for offset in (0, 2, 3, 4, 5)] == [(1, 1), (1, 3), (2, 1), (3, 1), (3, 2)]


def test_a_table_of_an_array_stands_at_its_heading() -> None:
    text = '[[cue]]\nid = "a"\n[[cue]]\nid = "b"\n[cue.x]\ny = 1\n'
    places = scan(text)
    assert places.values[("cue", 1)].begin == text.index("[[cue]]", 5)
    assert text[slice(*places.values[("cue", 1, "x", "y")])] == "1"
