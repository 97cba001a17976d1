"""The description is true: of the addresses that are there, of what they answer, of each event."""

import json
import re
import subprocess
import sys
from pathlib import Path

import httpx_sse
import jsonschema
import pytest

from tests.support.service.service_stand import ONE, TOKENS, service
from tests.support.service.simulated_run import SimulatedRun
from tocsin.service.description import OPERATIONS, PATH, description
from tocsin.service.messages import Open
from tocsin.service.routes import Shared, routes

PROGRAMS = Path(__file__).parents[2] / "hardware_notes" / "programs.md"


@pytest.fixture(scope="module")
def stand(tmp_path_factory):
    with service() as stand, SimulatedRun(stand, tmp_path_factory.mktemp("runs")) as stand.run:
        stand.wait_until(lambda: stand.get("/api/1/state").status_code == 200)
        yield stand


def test_it_has_all_addresses_and_each_method_that_gives_or_does_something():
    opened = Open(host="127.0.0.1", port=0, hosts=(), tokens=TOKENS, page="", policy="", version="0")
    there = {
        (spec.regex.pattern.rstrip("$").replace("\\", ""), method)
        for spec in routes(Shared(opened, None, None))[:-1]
        for method in ("get", "post")
        if method in spec.handler_class.__dict__
    }
    assert {(address.path, address.method) for address in OPERATIONS} == there


def test_it_is_open_api_3_1_whose_parts_all_exist():
    value = json.loads(description("1.2.3"))
    assert (value["openapi"], value["info"]["version"]) == ("3.1.0", "1.2.3")
    names = {ref.rpartition("/")[2] for ref in re.findall(r'"#/components/schemas/[^"]+', json.dumps(value))}
    assert names <= set(value["components"]["schemas"])
    for schema in value["components"]["schemas"].values():
        jsonschema.Draft202012Validator.check_schema(schema)
    ids = [one["operationId"] for path in value["paths"].values() for one in path.values()]
    assert len(ids) == len(set(ids)) == len(OPERATIONS)


@pytest.mark.devices
def test_schemathesis_finds_nothing(stand, tmp_path):
    """All its checks, over all addresses but the endless stream, with right and wrong requests of its own making."""
    done = subprocess.run(
        [
            sys.executable, "-m", "schemathesis.cli", "run", stand.url(PATH), "--header",
            f"Authorization: Bearer {TOKENS.steer}", "--exclude-path", "/api/1/events", "--checks", "all",
            "--max-examples", "15", "--generation-deterministic", "--no-color", "--no-shrink",
        ],
        cwd=tmp_path, capture_output=True, text=True, timeout=250, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-8000:]
    tested = int(re.search(r"Tested: (\d+)", done.stdout)[1])
    assert tested >= len(OPERATIONS) - 2, "the stream, and the description itself"
    assert int(re.search(r"(\d+) generated", done.stdout)[1]) > 100


def names_of(schemas, schema, path=""):
    """Return the names of all keys of a schema, each with those above it: ``view.title``."""
    schema = schemas[schema["$ref"].rpartition("/")[2]] if "$ref" in schema else schema
    for key, value in schema.get("properties", {}).items():
        yield f"{path}{key}"
        if path.count(".") < 2:
            yield from names_of(schemas, value, f"{path}{key}.")


def test_the_page_for_programs_names_what_the_description_has():
    value = json.loads(description("1.2.3"))
    schemas, page = value["components"]["schemas"], PROGRAMS.read_text("utf-8")
    state = set(names_of(schemas, schemas["State"]))
    named = set(re.findall(r"`((?:view|status)\.[a-z_.]+)`", page))
    assert {"view.title", "view.digits"} <= named <= state
    assert re.search(r"`away` in a state", page)
    assert "away" in state
    asked = {(method.lower(), path) for method, path in re.findall(r"`(GET|POST) (/api/[^`]*)`", page)}
    assert asked <= {(method, path) for path, methods in value["paths"].items() for method in methods}
    kinds = re.search(r"`record` has the kinds of a journal: ((?:`[a-z]+`,?\s)*`[a-z]+`)", page)[1]
    assert sorted(re.findall("`([a-z]+)`", kinds)) == schemas["Record"]["properties"]["kind"]["enum"]


def validator(stand, name):
    """Return what judges a value by a type of the description."""
    whole = stand.get(PATH).json()
    return jsonschema.Draft202012Validator({"$ref": f"#/components/schemas/{name}"} | whole)


@pytest.mark.devices
@pytest.mark.parametrize("right", ["watch", "steer"])
def test_each_event_is_of_the_type_that_the_description_names(stand, right):
    state, record = validator(stand, "State"), validator(stand, "Record")
    kinds = set()
    with (
        stand.http.stream("GET", stand.url("/api/1/events"), headers=stand.headers(right, ONE)) as response,
    ):
        stand.run.do("start" if stand.run.phase == "standby" else "later")
        for event in httpx_sse.EventSource(response).iter_sse():
            (state if event.event == "state" else record).validate(event.json())
            kinds.add((event.event, event.json().get("kind")))
            if {("state", None), ("record", "origin")} <= kinds:
                break
    assert not validator(stand, "Record").is_valid({"kind": "header", "at_ns": 1})


@pytest.mark.devices
def test_the_answers_are_of_the_types_that_the_description_names(stand):
    validator(stand, "State").validate(stand.get("/api/1/state", "steer").json())
    validator(stand, "RunSoFar").validate(stand.get("/api/1/run", "steer").json())
    validator(stand, "ClockReading").validate(stand.post("/api/1/clock", {}).json())
    validator(stand, "Problem").validate(stand.get("/api/1/run").json())
