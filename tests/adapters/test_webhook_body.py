"""The JSON that is posted."""

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.rules import AlarmKind
from parchd.alarms.wording import Names, alarm_notice
from parchd.contract import NoticeKind, Priority, Table
from parchd.store.dispatch import overflow_notice
from parchd.testing.notifier_suite import hostile_notice, sample_notice
from parchd_adapters.webhook.body import LIMIT_BYTES
from parchd_adapters.webhook.envelope import pack
from parchd_adapters.webhook.signature import key_of, signatures

NOTICE = sample_notice()


def body_of(**changes: Any) -> Any:
    return json.loads(pack(replace(NOTICE, **changes)).content)


RAISED_US = 1_780_000_000_000_000
EVENT = AlarmEvent(
    key=AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/north"),
    change=Change.RAISED,
    time_us=RAISED_US,
    raised_us=RAISED_US,
    tension_kpa=62.1,
    limit_kpa=60.0,
    evidence={"tensiometers": 2, "of": 2},
)
NAMES = Names("Quillmere Orchard", "Europe/Lisbon", {"north": "north block"}, {})
EXAMPLE = replace(alarm_notice(EVENT, NAMES), id=f"{EVENT.episode}.raised.5d0f3c1b2a")
PAGE = (Path(__file__).parents[2] / "adapters/docs/webhook.md").read_text("utf-8")


def test_the_page_shows_the_body_of_this_example() -> None:
    shown = json.loads(PAGE.partition("```json\n")[2].partition("\n```")[0])
    assert shown == json.loads(pack(EXAMPLE).content)
    assert list(shown["data"]) == list(json.loads(pack(EXAMPLE).content)["data"])


@pytest.mark.parametrize("alarm", AlarmKind)
def test_the_page_names_every_alarm(alarm: AlarmKind) -> None:
    assert f"`{alarm}`" in PAGE


def test_the_page_shows_the_signature_of_this_example() -> None:
    key = key_of("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw")
    assert f"webhook-signature: {signatures([key], EXAMPLE.id, 1780000123, pack(EXAMPLE).content)}\n" in PAGE


def test_the_envelope_has_type_timestamp_and_data() -> None:
    body = body_of()
    assert list(body) == ["type", "timestamp", "data"]
    assert body["type"] == "irrigation.raised"
    assert body["timestamp"] == "2026-05-28T20:26:40Z"


def test_without_a_type_of_its_own_the_kind_is_the_type() -> None:
    assert body_of(data={})["type"] == "raised"


def test_all_that_the_notice_says_is_there() -> None:
    assert body_of()["data"] == {
        "version": 1,
        "id": "n1",
        "kind": "raised",
        "priority": "high",
        "site": "Quillmere Orchard",
        "thread": "thread-1",
        "language": "en",
        "subject": "subject-word: north block",
        "summary": "This is the summary-word.",
        "lines": [],
        "facts": [{"label": "label-word", "value": "value-word"}],
        "advice": ["Follow the advice-word."],
        "answers": [],
        "tables": [{"title": "title-word", "columns": ["column-word"], "rows": [["cell-word"]], "rows_left_out": 0}],
        "details": {"tension_kpa": 62.1},
        "shortened": [],
    }


def test_the_same_notice_gives_the_same_bytes() -> None:
    assert pack(NOTICE) == pack(replace(NOTICE))


def test_numbers_that_json_cannot_write_are_null_not_zero() -> None:
    details = body_of(data={"type": "x", "a": math.nan, "b": [math.inf, 1.5], "c": {"d": -math.inf}})["data"]["details"]
    assert details == {"a": None, "b": [None, 1.5], "c": {"d": None}}


def test_too_long_a_table_loses_its_last_rows_and_says_how_many() -> None:
    rows = tuple((f"tensiometer {n}", "no signal since this morning, check plug and cable") for n in range(300))
    data = body_of(tables=(Table("All", ("name", "state"), rows),))["data"]
    (table,) = data["tables"]
    assert table["rows"][0] == ["tensiometer 0", "no signal since this morning, check plug and cable"]
    assert len(table["rows"]) == 100
    assert table["rows_left_out"] == 200
    assert data["shortened"] == ["tables"]
    assert data["advice"]


@pytest.mark.parametrize(
    ("changes", "shortened"),
    [
        ({"advice": ("x" * 30_000,)}, ["advice", "tables"]),
        ({"advice": ("x" * 30_000,), "tables": ()}, ["advice"]),
        ({"facts": (("a", "x" * 30_000),)}, ["advice", "facts", "tables"]),
        ({"data": {"type": "t", "a": "x" * 30_000}}, ["advice", "details", "facts", "tables"]),
        ({"summary": "x" * 30_000}, ["advice", "details", "facts", "tables", "text"]),
        ({"summary": "x" * 30_000, "advice": (), "data": {}}, ["facts", "tables", "text"]),
    ],
)
def test_what_else_is_too_long_goes_in_a_fixed_order(changes: dict[str, Any], shortened: list[str]) -> None:
    data = body_of(**changes)["data"]
    assert data["shortened"] == shortened
    for name in {"advice", "facts", "details"} & set(shortened):
        assert not data[name]
    assert data["subject"] == NOTICE.subject


@given(st.text(max_size=4000), st.integers(0, 400), st.sampled_from(NoticeKind))
@example("\x00" * 4000, 400, NoticeKind.DIGEST)  # what takes most bytes in JSON
@example("\U0001f331" * 4000, 400, NoticeKind.DIGEST)
@settings(max_examples=60, deadline=None)
def test_no_body_is_ever_longer_than_the_limit(text: str, count: int, kind: NoticeKind) -> None:
    notice = replace(
        hostile_notice(),
        kind=kind,
        subject=text,
        site=text,
        summary=text,
        thread=text,
        facts=((text, text),) * (count // 20),
        tables=(Table(text, (text,), ((text,),) * count),),
        data={"type": text, "more": text},
    )
    body = pack(notice).content
    assert len(body) < LIMIT_BYTES
    assert json.loads(body)["data"]["kind"] == kind.value


def test_a_merged_message_of_three_hundred_still_tells_programs_what_they_need() -> None:
    notices = [replace(NOTICE, id=f"n{n}", time_us=n, priority=Priority.LOW) for n in range(300)]
    body = json.loads(pack(overflow_notice(notices, notice_id="o1", now_us=0)).content)
    assert body["type"] == "messages.merged"
    assert body["data"]["details"]["count"] == 300
    assert len(body["data"]["details"]["messages"]) == 50
