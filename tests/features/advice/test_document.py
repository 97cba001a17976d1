"""Advice as data: the schema is that of its types, and accepts what is told of each kind of answer."""

import copy
import json

import jsonschema
import msgspec
import pytest

from tests.features.advice.test_page import CASES, SEASON, document, reckoned
from tests.support.advice_schema import FILE, written
from tocsin.features.advice.answer import AdviceDocument

SCHEMA = json.loads(FILE.read_text("utf-8"))
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)


def test_the_schema_is_as_the_types_say():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert FILE.read_text("utf-8") == written(), "run: python -m tests.support.advice_schema"


@pytest.mark.parametrize("name", CASES)
def test_what_is_told_is_valid_and_is_read_back(name):
    told = document(name)
    data = msgspec.json.encode(told)
    VALIDATOR.validate(json.loads(data))
    assert msgspec.json.decode(data, type=AdviceDocument) == told
    assert "NaN" not in data.decode()


def test_what_lacks_a_field_or_says_another_word_is_none():
    told = json.loads(msgspec.json.encode(document("advised")))
    for change in (
        lambda one: one.pop("leads"), lambda one: one.update(format="tocsin-advice/2"),
        lambda one: one["leads"][0].pop("now_s"), lambda one: one["leads"][0]["change"].update(gain="much"),
        lambda one: one["leads"][0].update(unfit="no idea"),
    ):  # fmt: skip
        wrong = copy.deepcopy(told)
        change(wrong)
        assert not VALIDATOR.is_valid(wrong)


def test_no_label_of_a_run_is_told():
    rows = [msgspec.structs.replace(row, folder=f"/home/ann/runs/2031-01-07_18-02-26.{place:03}Z_ann-left-early")
            for place, row in enumerate(SEASON.rows)]  # fmt: skip
    assert b"ann" not in msgspec.json.encode(reckoned("advised", rows))
