"""The description of the interface for programs (OpenAPI 3.1), made from what is served."""

from functools import cache
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from parchd import __version__
from parchd.contract import Do
from parchd.web.api_models import ACT_MODELS, Alarms, History, Outcome, ProblemDetails

PREFIX = "/api/v1"
_DOES = {
    Do.ACKNOWLEDGE: "Say that somebody has seen an alarm and sees to it. No valve is moved by it.",
    Do.SHELVE: "Keep an alarm quiet for some hours.",
    Do.UNSHELVE: "End that before its time.",
    Do.RESET: "Say that the cause of a latched alarm is mended.",
    Do.TAKE_OUT: "Take an alarm out of service until it is put back.",
    Do.PUT_BACK: "Put an alarm back into service.",
}
_ERRORS = {
    401: "the token is missing, or nobody's",
    404: "no such alarm",
    409: "the alarm does not stand so that this can be done; nothing was",
    413: "the body is too large",
    415: "the body is not JSON",
    422: "the request is not as described here, or its Idempotency-Key was used for another one",
    429: "too many wrong tokens from this address",
    503: "the daemon is busy, or it takes longer than usual",
}
_QUERY = (
    ("after", {"type": "integer", "minimum": 0, "default": 0}, "number of the last step that is known"),
    ("since", {"type": "string", "format": "date-time"}, "steps taken at this time or later"),
    ("until", {"type": "string", "format": "date-time"}, "steps taken before this time"),
    ("limit", {"type": "integer", "minimum": 1, "maximum": 1000, "default": 100}, "how many at most"),
)


@cache
def openapi() -> dict[str, Any]:
    """Describe all that is served below ``/api/v1``."""
    got: tuple[type[BaseModel], ...] = (Alarms, History, Outcome, ProblemDetails)
    sent: tuple[type[BaseModel], ...] = tuple(dict.fromkeys(ACT_MODELS.values()))
    _, schemas = models_json_schema(
        [*((model, "serialization") for model in got), *((model, "validation") for model in sent)],
        ref_template="#/components/schemas/{model}",
    )
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "parchd",
            "version": __version__,
            "description": "Alarms about soil water tension, and answering them. Nothing here moves a valve.",
        },
        "paths": {
            f"{PREFIX}/alarms": {"get": _get("listAlarms", "All alarms that are not at rest.", Alarms)},
            f"{PREFIX}/alarms/history": {
                "get": _get("listSteps", "Steps in the life of alarms, in order, page by page.", History)
                | {"parameters": [_parameter(name, "query", schema, said) for name, schema, said in _QUERY]}
            },
            **{f"{PREFIX}/alarms/{{alarm}}/{do.value}": {"post": _post(do)} for do in Do},
        },
        "components": {
            "schemas": schemas["$defs"],
            "responses": {f"error{status}": _problem(said) for status, said in _ERRORS.items()},
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
        },
        "security": [{"token": []}],
    }


def _get(name: str, said: str, model: type[BaseModel]) -> dict[str, Any]:
    return {"operationId": name, "summary": said, "responses": _responses(model, 401, 422, 429)}


def _post(do: Do) -> dict[str, Any]:
    first, *others = do.value.split("-")
    example = {"type": "string", "examples": ["irrigate-now.zone.north"]}
    key = {"type": "string", "minLength": 1, "maxLength": 100}
    return {
        "operationId": first + "".join(word.capitalize() for word in others),
        "summary": _DOES[do],
        "parameters": [
            _parameter("alarm", "path", example, "id of the alarm") | {"required": True},
            _parameter(
                "Idempotency-Key", "header", key, "a request with a key that was used before is done once for a week"
            ),
        ],
        "requestBody": {"required": True, "content": {"application/json": {"schema": _reference(ACT_MODELS[do])}}},
        "responses": _responses(Outcome, *_ERRORS),
    }


def _parameter(name: str, where: str, schema: dict[str, Any], said: str) -> dict[str, Any]:
    return {"name": name, "in": where, "description": said, "schema": schema}


def _responses(model: type[BaseModel], *errors: int) -> dict[str, Any]:
    return {
        "200": {"description": "done", "content": {"application/json": {"schema": _reference(model)}}},
        **{str(status): {"$ref": f"#/components/responses/error{status}"} for status in errors},
    }


def _problem(said: str) -> dict[str, Any]:
    return {"description": said, "content": {"application/problem+json": {"schema": _reference(ProblemDetails)}}}


def _reference(model: type[BaseModel]) -> dict[str, str]:
    return {"$ref": f"#/components/schemas/{model.__name__}"}
