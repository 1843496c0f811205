"""What answers mean."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd_adapters._shared.retry_after import retry_after_s
from parchd_adapters.influxdb.replies import Reply, Verdict, line_reason, one_line, read_reason

RETENTION = "failure writing points to database: partial write: points beyond retention policy dropped=40"


@pytest.mark.parametrize(
    ("status", "reason", "structured", "verdict"),
    [
        (429, "slow down", True, Verdict.LATER),
        (408, "", False, Verdict.LATER),
        (500, "internal error", True, Verdict.LATER),
        (503, "<html>", False, Verdict.LATER),
        (400, "unable to parse 'x': missing fields", True, Verdict.LINES),
        (422, RETENTION, True, Verdict.LINES),
        (500, RETENTION, True, Verdict.LINES),
        (413, "too large", False, Verdict.SIZE),
        (400, "The plain HTTP request was sent to an HTTPS port", False, Verdict.PERSON),
        (422, "partial write: field type conflict: input field is float dropped=2", True, Verdict.PERSON),
        (302, "", False, Verdict.PERSON),
        (401, "unauthorized", True, Verdict.PERSON),
        (403, "forbidden", True, Verdict.PERSON),
        (404, "not found", True, Verdict.PERSON),
        (0, "certificate verify failed", False, Verdict.PERSON),
        (0, "EOF occurred in violation of protocol", False, Verdict.LATER),
    ],
)
def test_an_answer_is_sorted(status: int, reason: str, structured: bool, verdict: Verdict) -> None:
    assert Reply(status, reason, structured).verdict is verdict


def test_a_version_3_answer_names_the_lines() -> None:
    body = json.dumps(
        {
            "error": "partial write of line protocol occurred",
            "data": [{"original_line": "t x= 1", "line_number": 2, "error_message": "no field"}],
        }
    )
    assert read_reason(body) == ("partial write of line protocol occurred; no field: 't x= 1'", True)


@pytest.mark.parametrize("body", ["", "[]", "null", '"text"', "{}", '{"message": 5}', '{"message": ""}', "{broken"])
def test_an_answer_in_another_form_says_nothing_about_lines(body: str) -> None:
    assert read_reason(body)[1] is False


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.text(),
        lambda s: (
            st.lists(s)
            | st.dictionaries(st.sampled_from(["message", "error", "data", "original_line", "error_message"]), s)
        ),
    )
)
def test_no_answer_breaks_the_reader(answer: object) -> None:
    reason, _ = read_reason(json.dumps(answer))
    assert "\n" not in reason


def test_a_reason_in_the_record_is_short_and_on_one_line() -> None:
    assert one_line("a\r\nb\x1b[31m" + "c" * 500).startswith("a  b [31mccc")
    assert len(one_line("c" * 500)) == 303
    assert line_reason("unable to parse 'LINE': " + "why " * 3, "LINE") == "unable to parse '...': why why why"


@pytest.mark.parametrize(
    ("header", "seconds"),
    [
        (None, None),
        ("0", 0.0),
        (" 120 ", 120.0),
        ("9" * 400, 86_400.0),
        ("Fri, 31 Dec 1999 23:59:59 GMT", 59.0),
        ("Fri, 31 Dec 1999 23:00:00 GMT", 0.0),
        ("Fri, 31 Dec 2099 23:59:59 GMT", 86_400.0),
        ("Fri, 31 Dec 1999 23:59:59 -0000", 59.0),
        ("later", None),
        ("-5", None),
        ("²", None),
    ],
)
def test_a_pause_is_read_as_seconds_or_date(header: str | None, seconds: float | None) -> None:
    # Forms: RFC 9110, section 10.2.3; now is 1999-12-31 23:59:00 UTC.
    assert retry_after_s(header, 946_684_740_000_000) == seconds


@given(st.text())
def test_no_header_breaks_the_reader(header: str) -> None:
    pause = retry_after_s(header, 0)
    assert pause is None or 0 <= pause <= 86_400
