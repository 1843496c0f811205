"""The published schema against the bodies, and the bodies against it."""

import json
from dataclasses import replace
from typing import Any

import pytest
from jsonschema import Draft202012Validator, ValidationError

from parchd.contract import AnswerLink, NoticeKind, Priority
from parchd.store.dispatch import overflow_notice
from parchd.testing.bodies import body_validator, check_body, strict
from parchd.testing.notifier_suite import hostile_notice, sample_notice
from parchd_adapters.webhook import KIND
from parchd_adapters.webhook.body import VERSION
from parchd_adapters.webhook.envelope import SCHEMA, Envelope, pack

NOTICE = replace(
    sample_notice(),
    lines=(("What", "It is dry."),),
    answers=(AnswerLink("Acknowledge", "https://farm.quillmere.example/a/1", "acknowledge"),),
)


def published() -> Any:
    assert KIND.schema is not None
    return json.loads(KIND.schema())


def body_of(**changes: Any) -> Any:
    return json.loads(pack(replace(NOTICE, **changes)).content)


def test_the_schema_is_one_and_has_the_name_that_events_carry() -> None:
    schema = published()
    Draft202012Validator.check_schema(schema)
    assert schema["$id"] == SCHEMA
    assert schema["$defs"]["data"]["properties"]["version"] == {"const": VERSION}
    assert schema["$defs"]["cloudevent"]["properties"]["dataschema"] == {"const": f"{SCHEMA}#/$defs/data"}


@pytest.mark.parametrize("envelope", Envelope)
@pytest.mark.parametrize("kind", NoticeKind)
@pytest.mark.parametrize("priority", Priority)
def test_every_kind_of_message_fits_in_every_envelope(envelope: Envelope, kind: NoticeKind, priority: Priority) -> None:
    for notice in (NOTICE, hostile_notice()):
        check_body(pack(replace(notice, kind=kind, priority=priority), envelope).content)


@pytest.mark.parametrize("envelope", Envelope)
def test_a_body_that_was_cut_to_the_bone_fits(envelope: Envelope) -> None:
    details = {"type": "alarm.raised", "subject": "zone/north", "more": "x" * 30_000}
    body = pack(replace(NOTICE, data=details, site="s" * 30_000), envelope).content
    assert len(body) < 20_000
    assert check_body(body)["details"] == {}


def test_merged_messages_fit() -> None:
    notices = [replace(NOTICE, id=f"n{n}") for n in range(60)]
    check_body(pack(overflow_notice(notices, notice_id="o1", now_us=0)).content)


@pytest.mark.parametrize(
    "changes",
    [
        {"version": 2},
        {"priority": "urgent"},
        {"kind": "news"},
        {"thread": 5},
        {"id": "a b"},
        {"shortened": ["everything"]},
        {"advice": "Irrigate."},
        {"tables": [{"title": "t"}]},
        {"details": []},
    ],
)
def test_a_body_with_a_wrong_value_does_not_fit(changes: dict[str, Any]) -> None:
    body = body_of()
    body["data"] |= changes
    with pytest.raises(ValidationError):
        body_validator().validate(body)


@pytest.mark.parametrize("key", ["version", "id", "kind", "priority", "thread", "subject", "details", "shortened"])
def test_a_body_without_a_key_that_is_promised_does_not_fit(key: str) -> None:
    body = body_of()
    del body["data"][key]
    with pytest.raises(ValidationError):
        body_validator().validate(body)


@pytest.mark.parametrize(
    "details",
    [
        {"alarm": "irrigate-now"},
        {"alarm": "irrigate-now", "subject": "north", "episode": "e", "raised_at": "2026-05-28T20:26:40+00:00",
         "at": "2026-05-28T20:26:40+00:00", "tension_kpa": None, "limit_kpa": None, "evidence": {}},
        {"alarm": "irrigate-now", "subject": "zone/north", "episode": "e", "raised_at": "yesterday",
         "at": "2026-05-28T20:26:40+00:00", "tension_kpa": "dry", "limit_kpa": None, "evidence": {}},
    ],
)  # fmt: skip
def test_an_alarm_that_lacks_what_programs_need_does_not_fit(details: dict[str, Any]) -> None:
    body = body_of(data={"type": "alarm.raised"})
    body["data"]["details"] = details
    with pytest.raises(ValidationError):
        body_validator().validate(body)


def test_the_published_schema_lets_later_versions_add_keys_and_ours_finds_them() -> None:
    body = body_of()
    body["data"]["mood"] = "calm"
    Draft202012Validator(published()).validate(body)
    with pytest.raises(ValidationError):
        Draft202012Validator(strict(published())).validate(body)
