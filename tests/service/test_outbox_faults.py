"""The outbox against real servers that fail in every way: all arrives, in order, and once for who honours the key."""

import json
import random
import ssl
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from parchd.app import courier as courier_module
from parchd.clock import US_PER_S, SystemClock
from parchd.contract import Services
from parchd.testing.certificates import Authority
from parchd.testing.dripping import dripping
from parchd.testing.office import Office
from parchd.testing.process import query, wait_until
from parchd.testing.receivers import Answer, HttpReceiver, MailSandbox
from parchd_adapters import email, webhook
from parchd_adapters.email import session as email_session
from parchd_adapters.webhook import notifier as webhook_module

ANNE = "anne@quillmere.example"
SERVICES = Services("people", "Quillmere Orchard", SystemClock())
SPEED = 20_000.0
"""An hour, the longest pause between attempts, is a fifth of a second."""
NAMES = [f"m{number}" for number in range(8)]


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(courier_module, "IDLE_S", 0.01)
    monkeypatch.setattr(email_session, "BUDGET_S", 1.5)
    monkeypatch.setattr(webhook_module, "BUDGET_S", 1.5)


@pytest.fixture
def mails() -> Iterator[MailSandbox]:
    with MailSandbox() as sandbox:
        yield sandbox


@pytest.fixture
def hooks() -> Iterator[HttpReceiver]:
    with HttpReceiver() as receiver:
        yield receiver


def mailing(folder: Path, port: int, **changes: Any) -> Office:
    base = {"host": "127.0.0.1", "port": port, "from_address": "alarms@quillmere.example", "to": [ANNE], "timeout_s": 1}
    options = email.EmailOptions.model_validate(base | {"security": "plain"} | changes)
    return Office(folder, email.KIND.build(options, SERVICES), SPEED)


def calling(folder: Path, url: str, **changes: Any) -> Office:
    options = webhook.WebhookOptions.model_validate({"url": url, "allow_private": True, "timeout_s": 1} | changes)
    return Office(folder, webhook.KIND.build(options, SERVICES), SPEED)


def outbox(office: Office) -> list[tuple[str, str, int, str]]:
    """Subject, state, attempts and trouble of each message, in order."""
    columns = "json_extract(notice, '$.subject'), state, attempts, trouble"
    return query(office.database, f"SELECT {columns} FROM outbox ORDER BY id")


def carry(office: Office, *names: str, timeout_s: float = 30.0) -> list[tuple[str, str, int, str]]:
    """Queue messages and wait until all are done with."""
    count = len(outbox(office)) + len(names)
    with office.open(), office.courier():
        office.post(*names)
        assert wait_until(lambda: done(office) == count, timeout_s), outbox(office)
    return outbox(office)


def done(office: Office) -> int:
    return sum(state in ("sent", "refused") for _, state, _, _ in outbox(office))


def subjects(sandbox: MailSandbox) -> list[str]:
    return [str(mail.message["Subject"]) for mail in sandbox.mails]


def test_a_mail_server_that_takes_a_mail_and_hangs_up_before_it_says_so_gets_it_again_under_its_name(
    tmp_path: Path, mails: MailSandbox
) -> None:
    mails.script("drop", "drop")
    assert carry(mailing(tmp_path, mails.port), "a", "b") == [("a", "sent", 3, ""), ("b", "sent", 1, "")]
    assert len(mails.received) == 4
    assert len({str(mail.message["Message-ID"]) for mail in mails.received}) == 2
    assert subjects(mails) == ["a", "b"]


@pytest.mark.parametrize(
    ("stage", "reply"),
    [
        ("MAIL", "421 4.3.2 going down"),
        ("MAIL", "451 4.3.0 busy"),
        ("RCPT", "450 4.2.0 mailbox busy"),
        ("RCPT", "451 4.7.1 greylisted, come back in a while"),
        ("RCPT", "452 4.2.2 mailbox full"),
        ("DATA", "451 4.3.0 busy"),
        ("DATA", "452 4.3.1 disk full"),
    ],
)
def test_a_mail_server_that_wants_it_later_gets_it_later_and_once(
    tmp_path: Path, mails: MailSandbox, stage: Any, reply: str
) -> None:
    mails.script(reply, reply, reply, stage=stage)
    assert carry(mailing(tmp_path, mails.port), "a", "b") == [("a", "sent", 4, ""), ("b", "sent", 1, "")]
    assert subjects(mails) == ["a", "b"]
    assert len(mails.received) == 2


def test_a_mail_that_is_refused_for_good_holds_up_no_other(tmp_path: Path, mails: MailSandbox) -> None:
    mails.script("550 5.1.1 nobody of that name", stage="RCPT")
    mails.script("554 5.6.0 not this one")
    rows = carry(mailing(tmp_path, mails.port), "a", "b", "c")
    assert [(subject, state, attempts) for subject, state, attempts, _ in rows] == [
        ("a", "refused", 1), ("b", "refused", 1), ("c", "sent", 1),
    ]  # fmt: skip
    assert "nobody of that name" in rows[0][3]
    assert subjects(mails) == ["c"]


def test_mails_wait_while_the_certificate_is_wrong_and_none_is_sent_in_the_clear(tmp_path: Path) -> None:
    ours = Authority(tmp_path)
    (elsewhere := tmp_path / "stranger").mkdir()
    stranger = Authority(elsewhere, "stranger")
    with MailSandbox(tls=server_side(stranger), implicit_tls=True) as wrong:
        office = mailing(tmp_path, wrong.port, security="tls", ca_file=ours.ca_file, host="localhost")
        with office.open(), office.courier():
            office.post("a")
            assert wait_until(lambda: any(attempts >= 2 for _, _, attempts, _ in outbox(office)))
        assert "certificate we do not trust" in outbox(office)[0][3]
        assert not wrong.received
    with MailSandbox(port=wrong.port, tls=server_side(ours), implicit_tls=True) as right:
        rows = carry(office, "b")
        assert [(subject, state) for subject, state, _, _ in rows] == [("a", "sent"), ("b", "sent")]
        assert subjects(right) == ["a", "b"]
        assert all(mail.encrypted for mail in right.mails)


def server_side(authority: Authority) -> ssl.SSLContext:
    identity = authority.server("localhost")
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(identity.cert_file, identity.key_file)
    return context


def test_a_mail_server_that_drips_holds_up_one_attempt_and_no_more(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with dripping(b"220-a", drops=b"a", pause_s=0.2, endless=True) as port:
        office = mailing(tmp_path, port)
        with office.open(), office.courier():
            office.post("a")
            assert wait_until(lambda: any(attempts for _, _, attempts, _ in outbox(office)))
    assert "not done within 1.5 s" in caplog.text
    with MailSandbox(port=port) as mails:
        assert [(subject, state) for subject, state, _, _ in carry(office, "b")] == [("a", "sent"), ("b", "sent")]
        assert subjects(mails) == ["a", "b"]


@pytest.mark.parametrize(
    "answer",
    [
        Answer(301, {"Location": "http://127.0.0.1:9/"}),
        Answer(307, {"Location": "http://127.0.0.1:9/"}),
        Answer(401),
        Answer(404),
        Answer(408),
        Answer(429),
        Answer(500),
        Answer(503),
        Answer(500, body=b"x" * 5_000_000),
        Answer(drop=True),
        Answer(hang=True),
    ],
    ids=["301", "307", "401", "404", "408", "429", "500", "503", "500 with much to say", "hangs up", "never answers"],
)
def test_a_receiver_that_cannot_now_gets_it_later_and_the_rest_in_order(
    tmp_path: Path, hooks: HttpReceiver, answer: Answer
) -> None:
    hooks.script(answer, answer)
    assert carry(calling(tmp_path, hooks.url), "a", "b") == [("a", "sent", 3, ""), ("b", "sent", 1, "")]
    ids = [request.headers["webhook-id"] for request in hooks.requests]
    assert ids == [ids[0]] * 3 + [ids[3]]
    assert len(hooks.deliveries) == 2
    assert {request.path for request in hooks.requests} == {"/"}, "no redirect is followed"


def test_a_receiver_is_left_alone_for_as_long_as_it_asks(tmp_path: Path) -> None:
    times_us: list[int] = []
    with HttpReceiver(on_request=lambda _: times_us.append(office.clock.now_us())) as hooks:
        hooks.script(Answer(429, {"Retry-After": "7200"}), Answer(503, {"Retry-After": "7200"}))
        office = calling(tmp_path, hooks.url)
        carry(office, "a")
    first, second, third = times_us
    assert second - first >= 7200 * US_PER_S
    assert third - second >= 7200 * US_PER_S


def test_a_receiver_that_is_gone_gets_nothing_more(tmp_path: Path, hooks: HttpReceiver) -> None:
    hooks.script(200, 410)
    office = calling(tmp_path, hooks.url)
    with office.open(), office.courier():
        office.post("a", "b", "c")
        assert wait_until(lambda: [state for _, state, _, _ in outbox(office)] == ["sent", "refused", "ready"])
        assert not wait_until(lambda: len(hooks.requests) > 2, 0.3)


@pytest.mark.parametrize("status", [400, 413, 422])
def test_a_body_that_is_refused_for_good_holds_up_no_other(tmp_path: Path, hooks: HttpReceiver, status: int) -> None:
    hooks.script(status)
    rows = carry(calling(tmp_path, hooks.url), "a", "b")
    assert [(subject, state) for subject, state, _, _ in rows] == [("a", "refused"), ("b", "sent")]


MAIL_FAULTS = (
    ("MAIL", "421 4.3.2 going down"),
    ("RCPT", "451 4.7.1 greylisted"),
    ("DATA", "452 4.3.1 full"),
    ("DATA", "drop"),
)
HOOK_FAULTS = (
    Answer(307),
    Answer(429, {"Retry-After": "1200"}),
    Answer(500),
    Answer(503, body="busy"),
    Answer(drop=True),
)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_whatever_mail_servers_do_every_mail_arrives_in_order_and_is_known_by_its_name(
    tmp_path: Path, mails: MailSandbox, seed: int
) -> None:
    chance = random.Random(seed)
    for _ in range(20):
        stage, reply = chance.choice(MAIL_FAULTS)
        mails.script(*[""] * chance.randrange(3), reply, stage=stage)  # type: ignore[arg-type]  # a stage
    rows = carry(mailing(tmp_path, mails.port), *NAMES)
    assert {state for _, state, _, _ in rows} == {"sent"}
    assert sum(attempts for _, _, attempts, _ in rows) > len(NAMES)
    assert subjects(mails) == NAMES, "accepted once each"
    order = list(dict.fromkeys(str(mail.message["Message-ID"]) for mail in mails.received))
    assert len(order) == len(NAMES)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_whatever_receivers_do_every_webhook_arrives_in_order_and_is_known_by_its_id(
    tmp_path: Path, hooks: HttpReceiver, seed: int
) -> None:
    chance = random.Random(seed)
    hooks.script(*(chance.choice([*HOOK_FAULTS, Answer(204)]) for _ in range(20)))
    rows = carry(calling(tmp_path, hooks.url), *NAMES)
    assert {state for _, state, _, _ in rows} == {"sent"}
    kept = [json.loads(request.body)["data"]["subject"] for request in hooks.deliveries.values()]
    assert kept == NAMES
    order = list(dict.fromkeys(request.headers["webhook-id"] for request in hooks.requests))
    assert len(order) == len(NAMES), "in order, whatever had to come again"
