"""The published JSON Schema of the export: a contract. It accepts and refuses what the types do, whatever a library
would make of them, and it changes only together with the format."""

import copy
import hashlib
import json
from pathlib import Path
from typing import get_args

import jsonschema
import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import tocsin.export
from tests.support.export.any_document import ELSE, documents, holder, mutations, places, shortened
from tests.support.export.exported_plans import BUNDLED, bundled
from tocsin.export.json_document import Format, PlanDocument, json_text

SCHEMA = json.loads(Path(tocsin.export.__file__).with_name("schema.json").read_text("utf-8"))
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)

LEFT_OUT = object()

#: The digest of what the schema demands, by format. Who must change it changes the format too.
DEMANDS = {"tocsin-export/2": "ac1a3acd9335cf749ed83157d87bc35279561ba01221aa2c4ac42bb0c34ce8e7"}


def schema_accepts(document):
    return VALIDATOR.is_valid(document)


def types_accept(document):
    try:
        msgspec.json.decode(json.dumps(document), type=PlanDocument)
    except msgspec.ValidationError:
        return False
    return True


def demands(schema):
    """Return the schema without what is only for people."""
    if isinstance(schema, list):
        return [demands(one) for one in schema]
    if not isinstance(schema, dict):
        return schema
    for_people = {"title", "description"}
    return {
        key: demands(value) for key, value in schema.items() if not (key in for_people and isinstance(value, str))
    }  # fmt: skip


def exported(name):
    return json.loads(json_text(bundled(name)))


@pytest.fixture(scope="module")
def full():
    return exported("full")


def test_it_is_a_schema_by_the_standards_own():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_it_changes_only_with_the_format():
    digest = hashlib.sha256(json.dumps(demands(SCHEMA), sort_keys=True).encode()).hexdigest()
    assert [digest] == [DEMANDS[name] for name in get_args(Format)]


@pytest.mark.parametrize("name", BUNDLED)
def test_exports_are_valid(name):
    VALIDATOR.validate(exported(name))


@given(document=documents())
def test_what_the_types_describe_is_valid(document):
    assert types_accept(document)
    VALIDATOR.validate(document)


@settings(max_examples=3 * settings.default.max_examples)
@given(document=mutations(st.sampled_from([shortened(exported(name)) for name in BUNDLED]) | documents()))
def test_what_is_changed_is_refused_by_both_or_by_neither(document):
    assert schema_accepts(document) == types_accept(document)


def kind_of(way):
    """Return what kind of place a path leads to: which one of a list's items it is plays no part."""
    return tuple("" if isinstance(part, int) else part for part in way)


def test_each_place_refuses_what_its_type_refuses():
    """Each key left out, and each value replaced by one of each kind: all verdicts are the same."""
    seen = set()
    differ = []
    refused = 0
    for name in ("full", "doors"):              # between them they have something of everything
        document = shortened(exported(name))
        for way in places(document):
            if (kind := (*kind_of(way), type(holder(document, way)[way[-1]]))) in seen:
                continue
            seen.add(kind)
            for value in (*ELSE, LEFT_OUT):
                changed = copy.deepcopy(document)
                inner = holder(changed, way)
                if value is LEFT_OUT:
                    del inner[way[-1]]
                else:
                    inner[way[-1]] = value
                accepted = types_accept(changed)
                refused += not accepted
                if schema_accepts(changed) != accepted:
                    differ.append((way, value))
    assert not differ
    assert refused > 1000


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format",), "tocsin-export/1"),
        (("game", "sha256"), "short"),
        (("game", "digits"), "round"),
        (("firings", 0, "begin", "offset_ns"), "30s"),
        (("firings", 0, "channel"), "smell"),
        (("calls", 0, "roles"), ["nobody"]),
        (("calls", 0, "patterns"), {"smell": "long"}),
    ],
)
def test_it_refuses_what_is_wrong(path, value, full):
    """A schema and types that take anything would pass the tests above."""
    wrong = copy.deepcopy(full)
    holder(wrong, path)[path[-1]] = value
    with pytest.raises(jsonschema.ValidationError):
        VALIDATOR.validate(wrong)


def test_the_one_known_difference_is_that_of_the_standard(full):
    """JSON Schema calls 1.0 an integer (draft 2020-12, validation, 6.1.1). Our types refuse it, and no
    export says it."""
    full = copy.deepcopy(full)
    full["firings"][0]["no"] = 1.0
    assert schema_accepts(full)
    assert not types_accept(full)


def test_descriptions_name_what_json_has():
    text = json.dumps(SCHEMA)
    assert "null" in text
    assert "None" not in text
