"""Bodies of webhooks against the schema that is published. Needs the package ``jsonschema``."""

import json
from functools import cache
from typing import TYPE_CHECKING, Any

from parchd.config.registry import listing, load_kind

if TYPE_CHECKING:
    from jsonschema import Draft202012Validator


def check_body(content: bytes) -> Any:
    """Check a body; return its data.

    Raises:
        AssertionError: it does not fit, or has a key that stands nowhere in the schema.
    """
    from jsonschema.exceptions import best_match

    body = json.loads(content)
    if (error := best_match(body_validator().iter_errors(body))) is not None:
        raise AssertionError(f"{error.json_path}: {error.message}: mend the body or the schema of webhooks")
    return body.get("data", body)


@cache
def body_validator() -> "Draft202012Validator":
    """A validator of the published schema that takes no key which stands nowhere in it."""
    from jsonschema import Draft202012Validator

    schema = load_kind(listing("notifiers"), "webhook").schema
    assert schema is not None
    return Draft202012Validator(strict(json.loads(schema())), format_checker=Draft202012Validator.FORMAT_CHECKER)


def strict(schema: Any) -> Any:
    """Close a schema: objects whose keys it names have no others, unless it says that they may."""
    if isinstance(schema, list):
        return [strict(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    closed = {key: strict(value) for key, value in schema.items()}
    if schema.get("type") == "object" and "properties" in schema:
        closed.setdefault("additionalProperties", False)
    return closed
