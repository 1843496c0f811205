"""The suite that every notifier passes, on ours and on the fake."""

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, ClassVar

import pytest

from parchd.contract import AdapterKind, DeliveryRefused, DeliveryRetry, Notice, Notifier, Options, Services
from parchd.testing import FakeClock
from parchd.testing.notifier import FakeNotifier
from parchd.testing.notifier_suite import Arrival, NotifierSuite
from parchd.testing.receivers import Answer, HttpReceiver, MailSandbox
from parchd_adapters import email, webhook

SERVICES = Services("people", "Quillmere Orchard", FakeClock())
PASSWORD = "correct-horse-battery"
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
TOKEN = "Bearer tok-4711"


class MailRig:
    secrets = (PASSWORD,)

    def __init__(self, sandbox: MailSandbox) -> None:
        self._sandbox = sandbox
        options = email.EmailOptions.model_validate(
            {
                "host": sandbox.host,
                "port": sandbox.port,
                "security": "plain",
                "username": "farm",
                "password": PASSWORD,
                "from_address": "alarms@quillmere.example",
                "to": ["anne@quillmere.example", "ben@quillmere.example"],
            }
        )
        self.notifier: Notifier = email.KIND.build(options, SERVICES)

    def arrivals(self) -> Sequence[Arrival]:
        return [
            Arrival(
                key=mail.message["Message-ID"],
                recipient=", ".join(mail.recipients),
                text=f"{mail.message['Subject']}\n{mail.plain}",
            )
            for mail in self._sandbox.received
        ]

    def lose(self) -> None:
        self._sandbox.stop()

    def restore(self) -> None:
        self._sandbox.start()

    def lose_next_confirmation(self) -> None:
        self._sandbox.script("drop")

    def refuse_next(self) -> None:
        self._sandbox.script("550 5.1.1 nobody of that name", stage="RCPT")


class TestEmail(NotifierSuite):
    kind = email.KIND
    options: ClassVar[Mapping[str, object]] = {
        "host": "127.0.0.1",
        "from_address": "alarms@quillmere.example",
        "to": ["anne@quillmere.example"],
    }

    @pytest.fixture
    def rig(self) -> Iterator[MailRig]:
        with MailSandbox(login=("farm", PASSWORD)) as sandbox:
            yield MailRig(sandbox)


class WebhookRig:
    secrets = (SECRET, SECRET.removeprefix("whsec_"), TOKEN, "path-token", "query-token")

    def __init__(self, receiver: HttpReceiver) -> None:
        self._receiver = receiver
        options = webhook.WebhookOptions.model_validate(
            {
                "url": f"{receiver.url}/path-token?q=query-token",
                "secret": SECRET,
                "authorization": TOKEN,
                "allow_private": True,
            }
        )
        self.notifier: Notifier = webhook.KIND.build(options, SERVICES)

    def arrivals(self) -> Sequence[Arrival]:
        taken = [request for request in self._receiver.requests if request.answer.status < 300]
        return [
            Arrival(request.headers["webhook-id"], self.notifier.recipients[0], json.dumps(json.loads(request.body)))
            for request in taken
        ]

    def lose(self) -> None:
        self._receiver.stop()

    def restore(self) -> None:
        self._receiver.start()

    def lose_next_confirmation(self) -> None:
        self._receiver.script(Answer(drop=True))

    def refuse_next(self) -> None:
        self._receiver.script(422)


class TestWebhook(NotifierSuite):
    kind = webhook.KIND
    options: ClassVar[Mapping[str, object]] = {"url": "http://127.0.0.1:9/alarms", "allow_private": True}

    @pytest.fixture
    def rig(self) -> Iterator[WebhookRig]:
        with HttpReceiver() as receiver:
            yield WebhookRig(receiver)


class FakeRig:
    secrets = ("nothing to hide",)

    def __init__(self) -> None:
        self._fake = FakeNotifier("anne", "ben")
        self.notifier: Notifier = self._fake

    def arrivals(self) -> Sequence[Arrival]:
        return [
            Arrival(notice.id, recipient, f"{notice.to_json()} {notice.priority.word}")
            for notice, recipient in self._fake.arrived
        ]

    def lose(self) -> None:
        self._fake.away = DeliveryRetry("away")

    def restore(self) -> None:
        self._fake.away = None

    def lose_next_confirmation(self) -> None:
        self._fake.script(FakeNotifier.UNCONFIRMED)

    def refuse_next(self) -> None:
        self._fake.script(DeliveryRefused("never"))


def build_fake(_options: Options, _services: Services) -> FakeNotifier:
    return FakeNotifier("anne")


class TestFake(NotifierSuite):
    kind: ClassVar[AdapterKind[Any, Notifier]] = AdapterKind(Options, build_fake)
    options: ClassVar[Mapping[str, object]] = {}

    @pytest.fixture
    def rig(self) -> FakeRig:
        return FakeRig()


def test_the_fake_keeps_what_it_delivered_apart_from_what_it_failed() -> None:
    fake = FakeNotifier("anne")
    notice = Notice.from_json(
        '{"id":"n1","kind":"test","time_us":0,"site":"s","subject":"s","summary":"","facts":[],'
        '"advice":[],"tables":[],"priority":1,"thread":null,"data":{}}'
    )
    fake.script(DeliveryRetry("busy"), None)
    with pytest.raises(DeliveryRetry):
        fake.send(notice, "anne")
    fake.send(notice, "anne")
    assert fake.attempts == [("n1", "anne"), ("n1", "anne")]
    assert fake.delivered == [(notice, "anne")]
    assert fake.wait_for(lambda fake: len(fake.delivered) == 1, 0.0)
