"""What the answers of webhook receivers mean."""

from datetime import UTC, datetime
from email.utils import format_datetime

import pytest

from parchd.clock import US_PER_S, to_datetime
from parchd.contract import DeliveryRefused, DeliveryRetry, RecipientGone
from parchd_adapters._shared.retry_after import retry_after_s
from parchd_adapters.webhook.answers import judge

NOW_US = 1_780_000_000 * US_PER_S


@pytest.mark.parametrize("status", [200, 201, 202, 204, 299])
def test_two_hundreds_are_deliveries(status: int) -> None:
    assert judge(status, {}, "receiver", NOW_US) is None


@pytest.mark.parametrize("status", [400, 413, 422])
def test_an_answer_about_this_very_message_is_final(status: int) -> None:
    assert isinstance(judge(status, {}, "receiver", NOW_US), DeliveryRefused)


def test_gone_ends_all_messages() -> None:
    assert isinstance(judge(410, {}, "receiver", NOW_US), RecipientGone)


@pytest.mark.parametrize(
    ("status", "words"),
    [
        (301, "check url"),
        (302, "not followed"),
        (304, "check url"),
        (401, "check authorization and secret"),
        (403, "check authorization and secret"),
        (404, "check url"),
        (405, "takes no POST"),
        (407, "proxy"),
        (408, "408"),
        (409, "409"),
        (415, "415"),
        (425, "425"),
        (429, "too many requests"),
        (499, "answered 499"),
        (500, "500"),
        (502, "502"),
        (503, "503"),
        (504, "504"),
        (599, "answered 599"),
    ],
)
def test_what_a_person_or_time_can_mend_is_tried_again(status: int, words: str) -> None:
    problem = judge(status, {}, "receiver", NOW_US)
    assert isinstance(problem, DeliveryRetry)
    assert problem.retry_after_s is None
    assert words in str(problem)


@pytest.mark.parametrize("status", [429, 503, 404])
def test_the_pause_that_the_receiver_asks_for_is_passed_on(status: int) -> None:
    problem = judge(status, {"Retry-After": "90"}, "receiver", NOW_US)
    assert isinstance(problem, DeliveryRetry)
    assert problem.retry_after_s == 90.0


@pytest.mark.parametrize(
    ("header", "seconds"),
    [
        (None, None),
        ("0", 0.0),
        ("120", 120.0),
        (" 120 ", 120.0),
        (format_datetime(to_datetime(NOW_US + 90 * US_PER_S), usegmt=True), 90.0),
        ("Thu May 28 20:28:10 2026", 90.0),  # the obsolete form without a zone, RFC 9110, 5.6.7
        ("Thursday, 28-May-26 20:28:10 GMT", 90.0),  # the other obsolete form
        (format_datetime(to_datetime(NOW_US - 90 * US_PER_S), usegmt=True), 0.0),
        (format_datetime(datetime(2999, 1, 1, tzinfo=UTC), usegmt=True), 86_400.0),
        ("9" * 400, 86_400.0),
        ("-5", None),
        ("1.5", None),
        ("soon", None),
        ("", None),
        ("١٢", None),
    ],
)
def test_a_pause_is_seconds_or_a_date_and_never_longer_than_a_day(header: str | None, seconds: float | None) -> None:
    assert retry_after_s(header, NOW_US) == seconds
