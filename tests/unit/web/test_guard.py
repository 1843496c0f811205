"""Who may ask: a token that is right, from an address that was not wrong too often."""

import pytest

from parchd.testing import FakeClock
from parchd.web.guard import MOST_REMEMBERED, MOST_WRONG, WINDOW_S, Patience, who

TOKENS = {"plc": "f4c1a9d27b6e80355d9e1f60", "panel": "0f1e2d3c4b5a69788796a5b4"}


@pytest.mark.parametrize("scheme", ["Bearer", "bearer", "BEARER"])
def test_a_program_is_known_by_its_token(scheme: str) -> None:
    assert who(f"{scheme} {TOKENS['panel']}", TOKENS) == "panel"


@pytest.mark.parametrize(
    "header", ["", "Bearer", "Bearer ", "Bearer x", f"Basic {TOKENS['plc']}", TOKENS["plc"], f"Bearer {TOKENS['plc']}0"]
)
def test_whatever_else_is_sent_is_nobodys(header: str) -> None:
    assert who(header, TOKENS) is None


def test_without_tokens_nobody_is_known() -> None:
    assert who("Bearer ", {}) is None


def test_an_address_that_was_wrong_too_often_waits_until_its_minute_is_over() -> None:
    clock = FakeClock()
    patience = Patience(clock)
    for _ in range(MOST_WRONG):
        assert patience.wait_s("192.0.2.7") == 0.0
        patience.wrong("192.0.2.7")
    assert patience.wait_s("192.0.2.7") == pytest.approx(WINDOW_S)
    assert patience.wait_s("192.0.2.8") == 0.0, "others do not wait for it"
    clock.advance(WINDOW_S)
    assert patience.wait_s("192.0.2.7") == 0.0


def test_wrong_ones_that_are_far_apart_are_no_guessing() -> None:
    clock = FakeClock()
    patience = Patience(clock)
    for _ in range(5 * MOST_WRONG):
        patience.wrong("192.0.2.7")
        clock.advance(WINDOW_S / (MOST_WRONG - 2))
    assert patience.wait_s("192.0.2.7") == 0.0


def test_a_whole_network_of_version_6_counts_as_one_address() -> None:
    patience = Patience(FakeClock())
    for number in range(MOST_WRONG):
        patience.wrong(f"2001:db8:0:1::{number:x}")
    assert patience.wait_s("2001:db8:0:1:ffff::1") > 0.0
    assert patience.wait_s("2001:db8:0:2::1") == 0.0


def test_what_is_remembered_is_bounded() -> None:
    patience = Patience(FakeClock())
    for number in range(3 * MOST_REMEMBERED):
        patience.wrong(f"10.{number >> 16}.{number >> 8 & 255}.{number & 255}")
    assert len(patience._wrong) == MOST_REMEMBERED
