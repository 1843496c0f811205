"""Webhooks to a real HTTP server: signatures, certificates, servers that stall, redirect or vanish."""

import json
import logging
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from standardwebhooks import Webhook, WebhookVerificationError

from parchd.clock import SystemClock, from_datetime
from parchd.contract import DeliveryRefused, DeliveryRetry, RecipientGone, Services
from parchd.testing import FakeClock
from parchd.testing.certificates import Authority
from parchd.testing.notifier_suite import sample_notice
from parchd.testing.receivers import Answer, HttpReceiver, ReceivedRequest
from parchd_adapters.webhook import KIND, WebhookNotifier, WebhookOptions

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
NEW_SECRET = "whsec_" + "B" * 32
NOTICE = sample_notice()


@pytest.fixture
def receiver() -> Iterator[HttpReceiver]:
    with HttpReceiver() as receiver:
        yield receiver


def notifier(url: str, clock: Any = None, **changes: Any) -> WebhookNotifier:
    options = WebhookOptions.model_validate({"url": url, "name": "receiver", "allow_private": True, **changes})
    return KIND.build(options, Services("program", "Quillmere Orchard", clock or SystemClock()))


def verify(request: ReceivedRequest, secret: str = SECRET) -> Any:
    """Check with the independent package ``standardwebhooks``, as a receiver does."""
    return Webhook(secret).verify(request.body, dict(request.headers))


def test_an_independent_receiver_can_verify_what_we_sign(receiver: HttpReceiver) -> None:
    notifier(receiver.url, secret=SECRET).send(NOTICE, "receiver")
    (request,) = receiver.requests
    assert verify(request)["data"]["subject"] == NOTICE.subject


def test_a_changed_body_or_another_secret_does_not_verify(receiver: HttpReceiver) -> None:
    notifier(receiver.url, secret=SECRET).send(NOTICE, "receiver")
    (request,) = receiver.requests
    with pytest.raises(WebhookVerificationError):
        verify(request, "whsec_" + "A" * 32)
    changed = request.body.replace(b"north block", b"south block")
    assert changed != request.body
    with pytest.raises(WebhookVerificationError):
        Webhook(SECRET).verify(changed, dict(request.headers))


def test_every_attempt_has_the_same_id_and_body_and_a_new_time(receiver: HttpReceiver) -> None:
    clock = FakeClock()
    sender = notifier(receiver.url, clock, secret=SECRET)
    receiver.script(503)
    with pytest.raises(DeliveryRetry):
        sender.send(NOTICE, "receiver")
    clock.advance(3600)
    sender.send(NOTICE, "receiver")
    first, second = receiver.requests
    assert first.headers["webhook-id"] == second.headers["webhook-id"] == NOTICE.id
    assert first.body == second.body
    assert int(second.headers["webhook-timestamp"]) - int(first.headers["webhook-timestamp"]) == 3600
    assert first.headers["webhook-signature"] != second.headers["webhook-signature"]
    assert list(receiver.deliveries) == [NOTICE.id]


def test_while_a_secret_is_changed_receivers_with_either_can_verify(receiver: HttpReceiver) -> None:
    notifier(receiver.url, secret=NEW_SECRET, previous_secret=SECRET).send(NOTICE, "receiver")
    (request,) = receiver.requests
    assert verify(request, NEW_SECRET) == verify(request, SECRET)
    assert len(request.headers["webhook-signature"].split()) == 2
    with pytest.raises(WebhookVerificationError):
        verify(request, "whsec_" + "A" * 32)


def test_a_previous_secret_signs_until_its_last_day_is_over(receiver: HttpReceiver) -> None:
    clock = FakeClock(from_datetime(datetime(2026, 6, 30, 23, 59, 59, tzinfo=UTC)))
    secrets = {"secret": NEW_SECRET, "previous_secret": SECRET, "previous_secret_until": "2026-06-30"}
    sender = notifier(receiver.url, clock, **secrets)
    sender.send(NOTICE, "receiver")
    clock.advance(1)
    sender.send(NOTICE, "receiver")
    before, after = (request.headers["webhook-signature"].split() for request in receiver.requests)
    assert len(before) == 2
    assert len(after) == 1


def test_without_a_secret_nothing_is_signed(receiver: HttpReceiver) -> None:
    notifier(receiver.url).send(NOTICE, "receiver")
    (request,) = receiver.requests
    assert "webhook-signature" not in request.headers
    assert request.headers["webhook-id"] == NOTICE.id


def test_the_request_says_what_it_carries(receiver: HttpReceiver) -> None:
    notifier(f"{receiver.url}/a/b?c=d", headers={"X-Farm": "north"}).send(NOTICE, "receiver")
    (request,) = receiver.requests
    assert request.path == "/a/b"
    assert request.headers["content-type"] == "application/json"
    assert request.headers["x-farm"] == "north"
    assert request.headers["user-agent"] == "parchd"
    assert int(request.headers["content-length"]) == len(request.body)
    assert json.loads(request.body)["type"] == "irrigation.raised"


@pytest.mark.parametrize("name", ["Authorization", "X-Api-Key"])
def test_the_token_goes_into_the_header_that_the_receiver_wants(receiver: HttpReceiver, name: str) -> None:
    notifier(receiver.url, authorization="Bearer tok-4711\n", authorization_header=name).send(NOTICE, "receiver")
    (request,) = receiver.requests
    assert request.headers[name.lower()] == "Bearer tok-4711"


def test_a_redirect_is_not_followed(receiver: HttpReceiver) -> None:
    receiver.script(Answer(307, {"Location": f"{receiver.url}/elsewhere"}))
    with pytest.raises(DeliveryRetry, match="leads elsewhere"):
        notifier(f"{receiver.url}/alarms").send(NOTICE, "receiver")
    assert [request.path for request in receiver.requests] == ["/alarms"]


def test_a_receiver_that_is_gone_ends_all_messages(receiver: HttpReceiver) -> None:
    receiver.script(410)
    with pytest.raises(RecipientGone):
        notifier(receiver.url).send(NOTICE, "receiver")


def test_a_refused_message_is_final(receiver: HttpReceiver) -> None:
    receiver.script(422)
    with pytest.raises(DeliveryRefused, match="receiver answered 422"):
        notifier(receiver.url).send(NOTICE, "receiver")


def test_a_busy_receiver_says_when_to_come_back(receiver: HttpReceiver) -> None:
    receiver.script(Answer(429, {"Retry-After": "90"}))
    with pytest.raises(DeliveryRetry) as caught:
        notifier(receiver.url).send(NOTICE, "receiver")
    assert caught.value.retry_after_s == 90.0


@pytest.mark.parametrize("answer", [Answer(drop=True), Answer(hang=True)], ids=["hangs up", "never answers"])
def test_a_receiver_that_gives_no_answer_is_tried_again_in_time(receiver: HttpReceiver, answer: Answer) -> None:
    receiver.script(answer)
    start_s = time.monotonic()
    with pytest.raises(DeliveryRetry):
        notifier(receiver.url, timeout_s=1.0).send(NOTICE, "receiver")
    assert time.monotonic() - start_s < 5.0


def test_an_endless_answer_is_not_read(receiver: HttpReceiver) -> None:
    receiver.script(Answer(200, body=b"x" * 20_000_000))
    start_s = time.monotonic()
    notifier(receiver.url).send(NOTICE, "receiver")
    assert time.monotonic() - start_s < 5.0


def test_nobody_listening_is_tried_again(receiver: HttpReceiver) -> None:
    receiver.stop()
    with pytest.raises(DeliveryRetry, match="receiver cannot be reached"):
        notifier(receiver.url).send(NOTICE, "receiver")
    receiver.start()
    notifier(receiver.url).send(NOTICE, "receiver")
    assert len(receiver.deliveries) == 1


def test_a_name_that_does_not_exist_is_tried_again() -> None:
    with pytest.raises(DeliveryRetry, match="name that cannot be found"):
        notifier("http://no-such-host.invalid/").send(NOTICE, "receiver")  # RFC 6761: never resolves


def test_https_with_a_certificate_of_ones_own(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG, "parchd_adapters")
    authority = Authority(tmp_path)
    server = authority.server()
    with HttpReceiver(certificate=server.cert_file, key=server.key_file) as receiver:
        notifier(receiver.url, ca_file=authority.ca_file).send(NOTICE, "receiver")
        assert len(receiver.deliveries) == 1
    assert [record.__dict__["event"] for record in caplog.records] == ["webhook.sent"]


def test_a_certificate_of_a_stranger_gets_nothing(tmp_path: Path) -> None:
    ours, stranger = Authority(tmp_path), Authority(tmp_path, "stranger").server()
    with HttpReceiver(certificate=stranger.cert_file, key=stranger.key_file) as receiver:
        with pytest.raises(DeliveryRetry, match="cannot be trusted"):
            notifier(receiver.url, ca_file=ours.ca_file, authorization="Bearer tok-4711").send(NOTICE, "receiver")
        assert not receiver.requests


def test_a_certificate_file_that_is_none_says_so(tmp_path: Path, receiver: HttpReceiver) -> None:
    broken = tmp_path / "ca.pem"
    broken.write_text("no certificate")
    with pytest.raises(DeliveryRetry, match="check ca_file"):
        notifier(receiver.url.replace("http:", "https:"), ca_file=broken).send(NOTICE, "receiver")
