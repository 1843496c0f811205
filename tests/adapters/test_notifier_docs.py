"""The pages of the notifiers against what the notifiers take."""

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from parchd.contract import SECRET, Options
from parchd_adapters.email import EmailOptions
from parchd_adapters.webhook import WebhookOptions

DOCS = Path(__file__).parents[2] / "adapters/docs"
CASES: list[tuple[str, type[Options]]] = [("email", EmailOptions), ("webhook", WebhookOptions)]


def documented(kind: str) -> dict[str, str]:
    """The first table of options on a page: key and default."""
    page = (DOCS / f"{kind}.md").read_text("utf-8")
    table = page.partition("## Options\n")[2].partition("\n\n##")[0]
    return dict(re.findall(r"^\| `(\w+)` \| (.*?) \|", table, re.MULTILINE))


def key_of(name: str, options: type[Options]) -> str:
    """The key in the file: a secret is named by the file it stands in."""
    return f"{name}_file" if SECRET in all_metadata(options.model_fields[name].annotation) else name


def all_metadata(annotation: Any) -> list[Any]:
    parts = list(getattr(annotation, "__metadata__", ()))
    for inner in (getattr(annotation, "__origin__", None), *getattr(annotation, "__args__", ())):
        parts += [] if inner is None or isinstance(inner, str) else all_metadata(inner)
    return parts


@pytest.mark.parametrize(("kind", "options"), CASES)
def test_every_option_is_on_the_page_and_nothing_else(kind: str, options: type[Options]) -> None:
    assert set(documented(kind)) == {key_of(name, options) for name in options.model_fields}


@pytest.mark.parametrize(("kind", "options"), CASES)
def test_required_options_and_plain_defaults_are_told_right(kind: str, options: type[Options]) -> None:
    for name, field in options.model_fields.items():
        told = documented(kind)[key_of(name, options)]
        assert (told == "required") == field.is_required(), name
        if isinstance(field.default, float):
            assert told == f"`{field.default}`", name


@pytest.mark.parametrize(("kind", "options"), CASES)
def test_the_example_on_the_page_is_taken(kind: str, options: type[Options]) -> None:
    page = (DOCS / f"{kind}.md").read_text("utf-8")
    (table,) = tomllib.loads(page.partition("```toml\n")[2].partition("```")[0])["notifiers"].values()
    assert table.pop("kind") == kind
    secrets = {"password_file": "password", "secret_file": "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"}
    given = {
        key.removesuffix("_file") if key in secrets else key: secrets.get(key, value) for key, value in table.items()
    }
    assert options.model_validate(given)
