"""Describe the service for programs (OpenAPI 3.1), made from its types."""

from http import HTTPStatus
from typing import Any

import msgspec

from tocsin.service import bodies
from tocsin.service.messages import Right

PATH = "/api/1/openapi.json"
_REF = "#/components/schemas/{name}"
_ABOUT = (
    "What phones and other programs see of a run of Tocsin, and what they may wish. Times are nanoseconds of the"
    " keeper's clock, which has no date: ask it by `/api/1/clock`. Keys may be added to any answer; none ever changes"
    " its meaning."
)


class Operation(msgspec.Struct, frozen=True, kw_only=True):
    """An operation: what it does, which right it needs, what it takes, what it gives (a type, or a media type) with
    which status, and which problems it may answer beside those that all have."""

    path: str
    method: str
    does: str
    needs: Right | None = "watch"
    takes: type | None = None
    gives: type | str = "application/json"
    status: int = 200
    problems: tuple[int, ...] = ()
    tagged: bool = False
    headers: tuple[str, ...] = ("Tocsin-Board",)


OPERATIONS = (
    Operation(path="/", method="get", does="The board, one file without data", needs=None, gives="text/html",
              tagged=True, headers=()),
    Operation(path=PATH, method="get", does="This description", needs=None, tagged=True, headers=()),
    Operation(path="/api/1/clock", method="post", does="An exchange of times, as NTP's", takes=bodies.ClockBody,
              gives=bodies.ClockReading),
    Operation(path="/api/1/plan", method="get", does="The plan that is played, as `tocsin export --to json` writes it",
              tagged=True, problems=(503,)),
    Operation(path="/api/1/state", method="get", does="The run as it stands", gives=bodies.State, problems=(503,)),
    Operation(path="/api/1/events", method="get", gives="text/event-stream", problems=(503,),
              headers=("Tocsin-Board", "Last-Event-ID"),
              does="Events: `state` (data: State, always the whole) and `record` (data: Record, one line of the run's"
                   " journal). A comment each 2 s says that the line is open"),
    Operation(path="/api/1/marks", method="post", does="A mark of a scribe", needs="mark", takes=bodies.MarkBody,
              gives=bodies.Taken, status=202, problems=(409, 429, 504)),
    Operation(path="/api/1/wishes", method="post", needs="steer", takes=bodies.WishBody, gives=bodies.Taken, status=202,
              problems=(409, 429, 504), does="An action that is wished; `undo` needs the right to mark only"),
    Operation(path="/api/1/rights", method="post", does="A right for who has read the second code in time", needs=None,
              takes=bodies.RightsBody, gives=bodies.Rights, problems=(403, 429)),
    Operation(path="/api/1/run", method="get", does="The records of the run so far, for followers", needs="steer",
              gives=bodies.RunSoFar, problems=(503,)),
)  # fmt: skip
_HEADERS = {
    "Tocsin-Board": ("How a board names itself, so that it keeps its number: 32 hex digits", "^[0-9a-f]{32}$"),
    "Last-Event-ID": ("The id of the last event that came: what came after it is sent first", ""),
}
_TYPES = (bodies.State, bodies.Record, bodies.Problem)


def description(version: str) -> bytes:
    """Return the description as JSON."""
    types = {one for operation in OPERATIONS for one in (operation.takes, operation.gives) if isinstance(one, type)}
    _, schemas = msgspec.json.schema_components(sorted({*types, *_TYPES}, key=str), ref_template=_REF)
    paths: dict[str, Any] = {}
    for operation in OPERATIONS:
        paths.setdefault(operation.path, {})[operation.method] = _operation(operation)
    value = {
        "openapi": "3.1.0",
        "info": {"title": "Tocsin", "version": version, "description": _ABOUT},
        "paths": paths,
        "components": {
            "schemas": schemas,
            "securitySchemes": {
                "token": {"type": "http", "scheme": "bearer", "description": "What stands in the code's address"},
            },
        },
    }
    return msgspec.json.encode(value)


def _operation(operation: Operation) -> dict[str, Any]:
    problems = {400, *((401, 403, 429) if operation.needs else ()), 421, *operation.problems}
    if operation.headers:
        problems |= {422}
    if operation.takes is not None:
        problems |= {403, 415, 422}
    value: dict[str, Any] = {
        "summary": operation.does,
        "operationId": f"{operation.method}_{operation.path.rpartition('/')[2].partition('.')[0] or 'page'}",
        "parameters": [_header(name) for name in operation.headers],
        "responses": {
            str(operation.status): _given(operation),
            **{str(status): _problem(status) for status in sorted(problems)},
        },
    }
    if operation.tagged:
        value["parameters"].append({"name": "If-None-Match", "in": "header", "schema": {"type": "string"}})
        value["responses"]["304"] = {"description": "Nothing has changed"}
    if operation.needs is not None:
        value["security"] = [{"token": []}]
        value["description"] = f"Needs the right to {operation.needs}."
    if operation.takes is not None:
        value["requestBody"] = {"required": True, "content": {"application/json": {"schema": _ref(operation.takes)}}}
    return value


def _given(operation: Operation) -> dict[str, Any]:
    kind = operation.gives if isinstance(operation.gives, str) else "application/json"
    schema = {} if isinstance(operation.gives, str) else _ref(operation.gives)
    if operation.gives == "application/json":
        schema = {"type": "object"}
    given: dict[str, Any] = {"description": HTTPStatus(operation.status).phrase, "content": {kind: {"schema": schema}}}
    if operation.tagged:
        given["headers"] = {"ETag": {"required": True, "schema": {"type": "string"}}}
    return given


def _problem(status: int) -> dict[str, Any]:
    content = {"application/problem+json": {"schema": _ref(bodies.Problem)}}
    value: dict[str, Any] = {"description": HTTPStatus(status).phrase, "content": content}
    if status in (429, 503):
        value["headers"] = {"Retry-After": {"required": True, "schema": {"type": "string", "pattern": "^[0-9]+$"}}}
    if status == 401:
        value["headers"] = {"WWW-Authenticate": {"required": True, "schema": {"type": "string"}}}
    return value


def _header(name: str) -> dict[str, Any]:
    does, pattern = _HEADERS[name]
    schema = {"type": "string", "pattern": pattern} if pattern else {"type": "string"}
    return {"name": name, "in": "header", "description": does, "schema": schema}


def _ref(kind: type) -> dict[str, Any]:
    return {"$ref": _REF.format(name=kind.__name__)}
