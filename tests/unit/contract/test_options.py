"""Options of adapters."""

import pytest
from pydantic import SecretStr, ValidationError

from parchd.contract import SECRET, Options, Secret


class Wired(Options):
    port: int
    password: Secret


def test_an_unknown_option_is_an_error() -> None:
    with pytest.raises(ValidationError, match="prot"):
        Wired.model_validate({"port": 1, "password": "x", "prot": 2})


def test_options_do_not_change() -> None:
    options = Wired(port=1, password=SecretStr("x"))
    with pytest.raises(ValidationError, match="frozen"):
        options.port = 2  # type: ignore[misc] # what is forbidden


def test_a_secret_is_marked_and_does_not_show() -> None:
    assert SECRET in Wired.model_fields["password"].metadata
    assert "hush" not in repr(Wired(port=1, password=SecretStr("hush")))
