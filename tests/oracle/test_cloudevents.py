"""CloudEvents 1.0 against an independent implementation: the package ``cloudevents``."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest
from cloudevents.core.bindings.http import HTTPMessage, from_binary, from_structured
from cloudevents.core.formats.json import JSONFormat
from cloudevents.core.v1.event import CloudEvent
from hypothesis import given
from hypothesis import strategies as st
from standardwebhooks import Webhook

from parchd.clock import SystemClock
from parchd.contract import Notice, Services
from parchd.testing.bodies import check_body
from parchd.testing.notifier_suite import hostile_notice, sample_notice
from parchd.testing.receivers import HttpReceiver, ReceivedRequest
from parchd_adapters.webhook import KIND, WebhookOptions
from parchd_adapters.webhook.envelope import Envelope, pack

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
NOTICE = replace(sample_notice(), data={"type": "soil.dry", "subject": "zone/nörth 5 %", "tension_kpa": 62.1})
MODES = [(Envelope.CLOUDEVENTS, from_structured), (Envelope.CLOUDEVENTS_BINARY, from_binary)]


@pytest.fixture
def receiver() -> Iterator[HttpReceiver]:
    with HttpReceiver() as receiver:
        yield receiver


def send(receiver: HttpReceiver, notice: Notice, **options: Any) -> ReceivedRequest:
    made = WebhookOptions.model_validate({"url": receiver.url, "allow_private": True, "secret": SECRET, **options})
    notifier = KIND.build(made, Services("hook", "Quillmere Orchard", SystemClock()))
    notifier.send(notice, notifier.recipients[0])
    return receiver.requests[-1]


def read(envelope: Envelope, headers: Mapping[str, str], body: bytes) -> CloudEvent:
    reader = dict(MODES)[envelope]
    event = reader(HTTPMessage(dict(headers), body), JSONFormat(), CloudEvent)
    assert isinstance(event, CloudEvent)
    return event


@pytest.mark.parametrize("envelope", [mode for mode, _ in MODES])
def test_an_independent_reader_finds_every_attribute(receiver: HttpReceiver, envelope: Envelope) -> None:
    request = send(receiver, NOTICE, envelope=envelope.value)
    event = read(envelope, request.headers, request.body)
    assert event.get_attributes() == {
        "specversion": "1.0",
        "id": NOTICE.id,
        "source": "/parchd/Quillmere%20Orchard",
        "type": "parchd.soil.dry",
        "subject": "zone/nörth 5 %",
        "time": datetime(2026, 5, 28, 20, 26, 40, tzinfo=UTC),
        "datacontenttype": "application/json",
        "dataschema": "urn:parchd:webhook:1#/$defs/data",
    }
    data: Any = event.get_data()
    assert data == json.loads(pack(NOTICE).content)["data"]
    assert data["details"]["tension_kpa"] == 62.1


@pytest.mark.parametrize("envelope", Envelope)
def test_events_are_signed_as_all_webhooks_are(receiver: HttpReceiver, envelope: Envelope) -> None:
    request = send(receiver, sample_notice(), envelope=envelope.value)
    assert Webhook(SECRET).verify(request.body, dict(request.headers))
    assert request.headers["webhook-id"] == "n1"


def test_the_modes_are_told_apart_by_the_content_type(receiver: HttpReceiver) -> None:
    types = [send(receiver, NOTICE, envelope=envelope.value).headers["content-type"] for envelope in Envelope]
    assert types == ["application/json", "application/cloudevents+json; charset=utf-8", "application/json"]


def test_the_source_can_be_named(receiver: HttpReceiver) -> None:
    request = send(receiver, NOTICE, envelope="cloudevents", event_source="https://quillmere.example/farm")
    assert json.loads(request.body)["source"] == "https://quillmere.example/farm"


@pytest.mark.parametrize("envelope", [mode for mode, _ in MODES])
def test_hostile_names_make_one_proper_event(receiver: HttpReceiver, envelope: Envelope) -> None:
    notice = replace(hostile_notice(), data={"type": hostile_notice().site, "subject": hostile_notice().site})
    request = send(receiver, notice, envelope=envelope.value)
    event = read(envelope, request.headers, request.body)
    assert event.get_type().startswith("parchd.north Bcc")
    assert str(event.get_subject()).isprintable() or "\u202e" in str(event.get_subject())
    assert "bcc" not in request.headers


@given(st.text(), st.text(), st.sampled_from([mode for mode, _ in MODES]))
def test_any_words_can_be_carried(site: str, subject: str, envelope: Envelope) -> None:
    notice = replace(NOTICE, site=site, data={"type": "alarm.raised", "subject": subject})
    body = pack(notice, envelope)
    headers = {"content-type": body.content_type, **{name.lower(): value for name, value in body.headers.items()}}
    assert all(value.isascii() and value.isprintable() and " " not in value for value in body.headers.values())
    event = read(envelope, headers, body.content)
    assert event.get_id() == NOTICE.id
    assert json.loads(body.content)


def test_both_modes_fit_the_schema() -> None:
    for envelope, _ in MODES:
        check_body(pack(sample_notice(), envelope).content)
