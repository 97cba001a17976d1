"""Reviews as data: a schema that accepts and refuses what the types do; no label and no name; ids in every language."""

import copy
import json

import jsonschema
import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.analysis.review_schema import PATH, written
from tests.support.export.any_document import ELSE, documents, holder, mutations, places
from tocsin.analysis.review.answer import Answer, Comparison, Figure, Lacking, LeftOut, Review
from tocsin.features.records.run_list import Wanted
from tocsin.features.review.document import ReviewDocument, document_of

SCHEMA = json.loads(PATH.read_text("utf-8"))
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)
LEFT_OUT = object()

EVENING = Review(
    scope="evening", evenings=("2031-03-14.2",), drills=("Break off",), plans=("Full",), leads_s={"push": 4.0},
    answers=(
        Answer(question="contact", figures=(
            Figure(name="contact", unit="share", value=0.3, low=0.11, high=0.6, count=3, rounds=10),
        )),
        Answer(
            question="break_off",
            lacking=(Lacking(question="break_off", figure="margin", counted="pushes", more=5, evenings=1),),
            verdict="not yet", marked=("/home/ann/runs/2031-03-14_18-02-26.535Z.2_ann-left-early",),
        ),
        Answer(question="better", comparisons=(
            Comparison(of="coach", factor="coach", first="silent", second="calling", outcome="break_off", needed=20.0,
                       pairs=7),
        )),
    ),
    left_out=(LeftOut(why="at half speed", rounds=2),),
)  # fmt: skip


def told(*reviews, **facts):
    return json.loads(msgspec.json.encode(document_of(reviews, Wanted(), **facts)))


def types_accept(document):
    try:
        msgspec.json.decode(json.dumps(document), type=ReviewDocument)
    except msgspec.ValidationError:
        return False
    return True


def test_it_is_a_schema_by_the_standards_own():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_it_is_what_the_types_say():
    assert PATH.read_text("utf-8") == written(), "run: python -m tests.support.analysis.review_schema"


def test_what_is_told_of_a_review_is_valid_and_says_all_of_it():
    document = told(EVENING)
    VALIDATOR.validate(document)
    (review,) = document["reviews"]
    assert document["format"] == "tocsin-review/1"
    assert review["answers"][0]["figures"] == [{
        "name": "contact", "unit": "share", "value": 0.3, "of": "", "at_most": None, "low": 0.11, "high": 0.6,
        "count": 3, "rounds": 10, "evenings": 1, "pooled": False,
    }]  # fmt: skip
    assert review["answers"][1]["lacking"][0]["more"] == 5
    assert review["left_out"] == [{"text": "at half speed", "rounds": 2}]
    assert review["leads_s"] == {"push": 4.0}


def test_a_run_is_named_without_its_label_and_without_its_place():
    (_, answer, _) = told(EVENING)["reviews"][0]["answers"]
    assert answer["marked"] == ["2031-03-14_18-02-26.535Z.2"]
    assert "ann" not in json.dumps(told(EVENING))


def test_nothing_to_tell_and_a_made_up_season_are_valid():
    VALIDATOR.validate(told())
    assert told(EVENING, invented=True)["invented"] is True


@given(document=documents(ReviewDocument))
def test_what_the_types_describe_is_valid(document):
    assert types_accept(document)
    VALIDATOR.validate(document)


@settings(max_examples=3 * settings.default.max_examples)
@given(document=mutations(st.just(told(EVENING)) | documents(ReviewDocument)))
def test_what_is_changed_is_refused_by_both_or_by_neither(document):
    assert VALIDATOR.is_valid(document) == types_accept(document)


def test_each_place_refuses_what_its_type_refuses():
    document, differ, refused = told(EVENING), [], 0
    for way in places(document):
        for value in (*ELSE, LEFT_OUT):
            changed = copy.deepcopy(document)
            inner = holder(changed, way)
            if value is LEFT_OUT:
                del inner[way[-1]]
            else:
                inner[way[-1]] = value
            accepted = types_accept(changed)
            refused += not accepted
            if VALIDATOR.is_valid(changed) != accepted:
                differ.append((way, value))
    assert not differ
    assert refused > 300


@pytest.mark.parametrize(("path", "value"), [
    (("format",), "tocsin-review/0"),
    (("reviews", 0, "scope"), "week"),
    (("reviews", 0, "answers", 0, "question"), "luck"),
    (("reviews", 0, "answers", 0, "figures", 0, "unit"), "%"),
    (("reviews", 0, "trusted"), "yes"),
])  # fmt: skip
def test_it_refuses_what_is_wrong(path, value):
    """A schema and types that take anything would pass the tests above."""
    wrong = told(EVENING)
    holder(wrong, path)[path[-1]] = value
    with pytest.raises(jsonschema.ValidationError):
        VALIDATOR.validate(wrong)


def test_descriptions_name_what_json_has():
    assert "None" not in json.dumps(SCHEMA)
