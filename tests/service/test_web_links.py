"""Links of messages over real HTTP: looking changes nothing, pressing the button does it once."""

import html
import re
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from parchd.alarms.events import AlarmKey
from parchd.alarms.lifecycle import State
from parchd.alarms.links import LinkAct
from parchd.alarms.rules import AlarmKind
from parchd.app.messages import Ask
from parchd.app.requests import RenewLinks
from parchd.store.services import records
from parchd.store.standings import history
from parchd.testing.pages import NORTH, ServedFarm
from parchd.testing.site import DAY_US, HOUR_US, MINUTE_US, batch, sample
from parchd.web.guard import MOST_WRONG

SHELF = {"hours": "12", "reason": "1", "other": ""}


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[ServedFarm]:
    with ServedFarm(tmp_path) as served:
        yield served


def heading(page: str) -> str:
    found = re.search(r"<h1>(.*?)</h1>", page)
    assert found is not None
    return html.unescape(found[1])


def content(connection: sqlite3.Connection) -> list[str]:
    return list(connection.iterdump())


@pytest.mark.parametrize("act", LinkAct)
@pytest.mark.parametrize("method", ["GET", "HEAD"])
def test_looking_at_a_link_changes_nothing_however_often(farm: ServedFarm, act: LinkAct, method: str) -> None:
    path, before = farm.link(act), content(farm.connection)
    for _ in range(3):
        got = farm.get(path, method)
        assert got.status == 200
        assert (got.text == "") is (method == "HEAD")
    assert content(farm.connection) == before
    assert farm.asked == [], "the engine was not even asked"


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS"])
def test_other_methods_do_nothing(farm: ServedFarm, method: str) -> None:
    got = farm.get(farm.link(LinkAct.ACKNOWLEDGE), method)
    assert got.status == 405
    assert farm.standing().state is State.UNACKNOWLEDGED


def test_the_page_says_what_the_alarm_is_and_what_the_button_does(farm: ServedFarm) -> None:
    text = html.unescape(farm.get(farm.link(LinkAct.ACKNOWLEDGE)).text)
    assert heading(text) == "Acknowledge this alarm?"
    assert "north block: irrigate now (70 kPa)" in text
    assert "Since Mon 01 Jun 2026, 06:01." in text
    assert "Now: nobody has acknowledged it yet." in text
    assert "No valve is moved" in text
    assert "This link is for Ines. It works once, until Mon 08 Jun 2026, 06:01." in text
    assert '<form method="post">' in text


def test_pressing_the_button_acknowledges(farm: ServedFarm) -> None:
    got = farm.post(farm.link(LinkAct.ACKNOWLEDGE))
    assert got.status == 200
    assert heading(got.text) == "Acknowledged"
    assert "Thank you, Ines." in got.text
    assert farm.standing().state is State.ACKNOWLEDGED
    *_, step = history(farm.connection)
    assert (step.by, step.via) == ("ines", "link")


def test_a_shelf_lasts_as_long_as_was_chosen_for_the_reason_that_was_chosen(farm: ServedFarm) -> None:
    got = farm.post(farm.link(LinkAct.SHELVE), **SHELF)
    assert heading(got.text) == "Quiet for now"
    assert "until Mon 01 Jun 2026, 18:01" in got.text
    one = farm.standing()
    assert one.until_us == farm.clock.now_us() + 12 * HOUR_US
    assert one.why == "somebody is working there"


def test_a_reason_of_ones_own_counts_more_than_a_chosen_one(farm: ServedFarm) -> None:
    farm.post(farm.link(LinkAct.SHELVE), **{**SHELF, "other": "  cherries are <picked> & \u00e4pples too "})
    assert farm.standing().why == "cherries are <picked> & \u00e4pples too"
    text = farm.get(farm.link(LinkAct.SHELVE)).text
    assert "<picked>" not in text


def test_work_that_is_done_is_written_down(farm: ServedFarm) -> None:
    key = AlarmKey(AlarmKind.ABOVE_LIMIT, "tensiometer/north-20")
    for _ in range(10):
        farm.clock.advance(600.0)
        farm.turn(batch(sample("n20", farm.clock.now_us(), 95.0)))
    path = farm.link(LinkAct.SERVICE, key=key)
    page = farm.get(path).text
    assert heading(page) == "Is the work on north-20 done?"
    assert re.search(r'value="refill" required checked', page), "what usually helps is chosen beforehand"
    got = farm.post(path, work="re-prime", ago="3")
    assert heading(got.text) == "Written down"
    (service,) = records(farm.connection)
    done_us = farm.clock.now_us() - 3 * HOUR_US
    assert (service.work, service.by, service.begin_us) == ("re-prime", "ines", done_us - 30 * MINUTE_US)


def test_a_link_that_was_used_says_so_and_does_nothing(farm: ServedFarm) -> None:
    path = farm.link(LinkAct.SHELVE)
    farm.post(path, **SHELF)
    steps = len(list(history(farm.connection)))
    for got in (farm.get(path), farm.post(path, **SHELF)):
        assert got.status == 410
        assert heading(got.text) == "This link has been used"
        assert "kept quiet by Ines until Mon 01 Jun 2026, 18:01" in got.text
    assert len(list(history(farm.connection))) == steps


def test_a_link_of_an_alarm_that_has_ended_says_so(farm: ServedFarm) -> None:
    path = farm.link(LinkAct.ACKNOWLEDGE, "jost")
    farm.post(farm.link(LinkAct.ACKNOWLEDGE))
    farm.read(10.0)
    farm.clock.advance(4 * 3600)
    farm.read(10.0)
    assert farm.standing().state is State.NORMAL
    for got in (farm.get(path), farm.post(path)):
        assert got.status == 410
        assert heading(got.text) == "Dieser Alarm ist schon vorbei"


def test_a_link_that_is_too_old_says_so(farm: ServedFarm) -> None:
    path = farm.link(LinkAct.ACKNOWLEDGE)
    farm.clock.advance(7 * DAY_US / 1e6)
    for got in (farm.get(path), farm.post(path)):
        assert got.status == 410
        assert heading(got.text) == "This link is too old"
    assert farm.standing().state is State.UNACKNOWLEDGED


def test_an_alarm_that_somebody_else_answered_leaves_nothing_to_press(farm: ServedFarm) -> None:
    path = farm.link(LinkAct.ACKNOWLEDGE, "jost")
    farm.post(farm.link(LinkAct.ACKNOWLEDGE, "ines"))
    text = farm.get(path).text
    assert "<form" not in text
    assert "Ines" in text


def test_a_link_that_was_cut_in_two_says_so(farm: ServedFarm) -> None:
    path = farm.link(LinkAct.ACKNOWLEDGE)
    got = farm.get(path[:60])
    assert got.status == 404
    assert heading(got.text) == "This link is not whole"
    assert farm.post(path[:60]).status == 404
    assert farm.asked == []


def test_after_ten_wrong_links_an_address_waits_a_minute(farm: ServedFarm) -> None:
    for _ in range(MOST_WRONG):
        assert farm.get("/a/nonsense").status == 404
    good = farm.link(LinkAct.ACKNOWLEDGE)
    assert farm.get(good).status == 429
    assert farm.post(good).status == 429
    farm.clock.advance(60.0)
    assert farm.get(good).status == 200


@pytest.mark.parametrize(
    "form",
    [
        {"hours": "9000", "reason": "0"},
        {"hours": "x", "reason": "0"},
        {"hours": "4", "reason": "99"},
        {"hours": "4", "reason": "-1"},
        {"hours": "4", "reason": "0", "other": "x" * 201},
        {"hours": "4", "reason": "0", "other": "a\x07b"},
        {"work": "dig"},
        {"work": "refill", "ago": "5000"},
        {str(number): "" for number in range(20)},
    ],
)
def test_a_form_that_no_page_offers_does_nothing(farm: ServedFarm, form: dict[str, str]) -> None:
    assert farm.post(farm.link(LinkAct.SHELVE), **form).status == 400
    assert farm.standing().state is State.UNACKNOWLEDGED


def test_a_form_that_is_too_large_is_not_read(farm: ServedFarm) -> None:
    assert farm.post(farm.link(LinkAct.SHELVE), other="x" * 10_000).status == 400


def test_what_people_call_things_cannot_put_anything_into_the_page(farm: ServedFarm) -> None:
    """Names come from the configuration and from tokens; both may hold anything."""
    path = farm.link(LinkAct.ACKNOWLEDGE, '<script>alert("x")</script>')
    assert "<script" not in farm.get(path).text
    assert "<script" not in farm.post(path).text


@pytest.mark.parametrize("path", ["page", "/a/nonsense", "/elsewhere", "/"])
def test_every_page_runs_nothing_loads_nothing_and_is_kept_by_nobody(farm: ServedFarm, path: str) -> None:
    got = farm.get(farm.link(LinkAct.SHELVE) if path == "page" else path)
    policy = got.headers["content-security-policy"]
    assert policy.startswith("default-src 'none'; style-src 'sha256-")
    assert "frame-ancestors 'none'" in policy
    assert "script-src" not in policy
    assert got.headers["referrer-policy"] == "no-referrer"
    assert got.headers["cache-control"] == "no-store"
    assert got.headers["x-frame-options"] == "DENY"
    assert "server" not in got.headers
    assert not re.search(r"<script|https?://|src=|href=|\son\w+=", got.text)


def test_a_page_speaks_the_language_of_the_person_whose_link_it_is(farm: ServedFarm) -> None:
    text = html.unescape(farm.get(farm.link(LinkAct.ACKNOWLEDGE, "jost")).text)
    assert '<html lang="de">' in text
    assert heading(text) == "Diesen Alarm quittieren?"
    got = farm.post(farm.link(LinkAct.ACKNOWLEDGE, "jost"))
    assert "Danke, Jost." in got.text
    assert farm.standing(NORTH).by == "jost"


def test_an_engine_that_takes_long_is_told_kindly(farm: ServedFarm, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("parchd.web.asking.PATIENCE_S", 0.2)
    farm.answers = False
    path = farm.link(LinkAct.ACKNOWLEDGE)
    got = farm.post(path)
    assert got.status == 503
    assert heading(got.text) == "This takes a little longer"
    farm.turn(farm.asked[0])
    assert heading(farm.get(path).text) == "This link has been used"


def test_a_key_that_is_changed_between_looking_and_pressing_is_told(
    farm: ServedFarm, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, tell = farm.link(LinkAct.ACKNOWLEDGE), farm.tell

    def renewed(ask: Ask) -> None:
        farm.turn(Ask(RenewLinks(key="5a" * 32), lambda _answer: None))
        tell(ask)

    monkeypatch.setattr(farm.site, "tell", renewed)
    got = farm.post(path)
    assert got.status == 404
    assert heading(got.text) == "This link is not whole"
    assert farm.standing().state is State.UNACKNOWLEDGED
