"""The JSON export: against its published JSON Schema, by a library that knows the standard; and complete."""

import json

import jsonschema
import pytest
from exported_plans import BUNDLED, bundled

from tocsin.export.document import SCHEMA, json_text, schema_text


@pytest.fixture(scope="module")
def validator():
    schema = json.loads(SCHEMA.read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)        # the standard's own meta-schema
    return jsonschema.Draft202012Validator(schema)


@pytest.mark.parametrize("name", BUNDLED)
def test_exports_are_valid(name, validator):
    validator.validate(json.loads(json_text(bundled(name))))


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format",), "tocsin-export/2"),
        (("game", "sha256"), "short"),
        (("game", "digits"), "round"),
        (("firings", 0, "begin", "offset_ns"), "30s"),
        (("firings", 0, "channel"), "smell"),
        (("calls", 0, "roles"), ["nobody"]),
    ],
)
def test_the_schema_refuses_what_is_wrong(path, value, validator):
    """A schema that takes anything would pass the test above."""
    wrong = json.loads(json_text(bundled("full")))
    *way, last = path
    inner = wrong
    for step in way:
        inner = inner[step]
    inner[last] = value
    with pytest.raises(jsonschema.ValidationError):
        validator.validate(wrong)


def test_the_published_schema_is_made_from_the_types():
    """Two sources of truth held together: after a change of the types write ``schema_text()`` to the file anew."""
    assert SCHEMA.read_text("utf-8") == schema_text()


@pytest.mark.parametrize("name", BUNDLED)
def test_nothing_is_left_out(name):
    made = bundled(name)
    read = json.loads(json_text(made))
    assert [(f["cue"], f["n"], f["channel"], f["role"], f["begin"]) for f in read["firings"]] == [
        (f.cue, f.n, f.channel, f.role, {"anchor": f.begin.anchor, "offset_ns": f.begin.offset_ns})
        for f in made.timeline.firings
    ]
    for firing in read["firings"]:
        assert firing["pattern"] in read["plan"]["patterns"][firing["channel"]]
    assert {call["cue"] for call in read["calls"]} == {cue.id for cue in made.plan.cues}
    assert read["plan"]["sha256"] == made.plan_sha256


def test_equal_plans_give_equal_bytes():
    assert json_text(bundled("full")) == json_text(bundled("full"))
