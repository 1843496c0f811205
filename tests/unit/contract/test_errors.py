"""Errors: one root, a built-in beside it, and what the daemon does about each."""

import inspect

import pytest

from parchd import contract
from parchd.contract import (
    Action,
    ConfigError,
    DeliveryRefused,
    DeliveryRetry,
    ParchdError,
    Problem,
    RecipientGone,
    RegistryError,
    SinkUnavailable,
    SourceLost,
    Stopping,
    StoreError,
)

ACTIONS = {
    ConfigError: Action.STOP,
    RegistryError: Action.STOP,
    SourceLost: Action.RETRY,
    SinkUnavailable: Action.RETRY,
    DeliveryRetry: Action.RETRY,
    DeliveryRefused: Action.DROP,
    RecipientGone: Action.STOP,
    StoreError: Action.STOP,
    Stopping: Action.STOP,
}


@pytest.mark.parametrize("error", ACTIONS)
def test_each_error_says_what_is_done_about_it(error: type[ParchdError]) -> None:
    assert error.action is ACTIONS[error]


def test_no_error_of_the_contract_is_left_out_here() -> None:
    public = (getattr(contract, name) for name in contract.__all__)
    errors = {item for item in public if inspect.isclass(item) and issubclass(item, ParchdError)}
    assert errors - {ParchdError} == set(ACTIONS)


@pytest.mark.parametrize("error", ACTIONS)
def test_each_error_is_a_built_in_error_too(error: type[ParchdError]) -> None:
    assert [
        base
        for base in error.__mro__
        if base.__module__ == "builtins" and base not in (Exception, BaseException, object)
    ]


def test_a_problem_names_file_line_key_what_was_found_what_was_expected_and_a_hint() -> None:
    problem = Problem("farm.toml", 12, "sources.bus1.baud", "fast", "a number", "9600 is common")
    assert str(problem) == "farm.toml:12: sources.bus1.baud: found fast, expected a number (9600 is common)"


def test_a_problem_leaves_out_what_it_does_not_know() -> None:
    assert str(Problem("farm.toml", None, "site", "", "a table")) == "farm.toml: site: expected a table"


def test_a_configuration_error_carries_every_problem() -> None:
    problems = [Problem("a.toml", 1, "x", "", "y"), Problem("b.toml", 2, "z", "", "w")]
    error = ConfigError(problems)
    assert error.problems == tuple(problems)
    assert str(error).splitlines() == [str(problem) for problem in problems]


def test_a_sink_that_is_away_says_when_to_come_again_and_who_must_act() -> None:
    error = SinkUnavailable("no such bucket", retry_after_s=30.0, needs_person=True)
    assert (str(error), error.retry_after_s, error.needs_person) == ("no such bucket", 30.0, True)


def test_a_delivery_that_failed_says_when_to_come_again() -> None:
    assert DeliveryRetry("busy", retry_after_s=7.0).retry_after_s == 7.0
    assert DeliveryRetry("busy").retry_after_s is None
