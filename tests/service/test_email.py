"""Mail through a real SMTP server: encryption, logins, servers that stall, refuse or vanish."""

import logging
import socket
import ssl
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from parchd.clock import SystemClock
from parchd.contract import Chart, DeliveryRefused, DeliveryRetry, Line, NoticeKind, Services
from parchd.testing.certificates import Authority, Identity
from parchd.testing.dripping import dripping
from parchd.testing.notifier_suite import hostile_notice, sample_notice
from parchd.testing.receivers import MailSandbox
from parchd_adapters.email import KIND, EmailNotifier, EmailOptions
from parchd_adapters.email import session as email_session

ANNE = "anne@quillmere.example"
LOGIN = ("farm", "correct-horse-battery")


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    return Authority(tmp_path_factory.mktemp("certificates"))


def server_side(identity: Identity) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(identity.cert_file, identity.key_file)
    return context


@pytest.fixture(scope="module")
def tls(authority: Authority) -> ssl.SSLContext:
    return server_side(authority.server())


def notifier(sandbox: MailSandbox, **changes: Any) -> EmailNotifier:
    base = {"host": sandbox.host, "port": sandbox.port, "from_address": "alarms@quillmere.example", "to": [ANNE]}
    options = EmailOptions.model_validate(base | {"security": "plain"} | changes)
    return KIND.build(options, Services("people", "Quillmere Orchard", SystemClock()))


@pytest.fixture
def plain() -> Iterator[MailSandbox]:
    with MailSandbox() as sandbox:
        yield sandbox


def test_a_mail_arrives_as_it_was_addressed(plain: MailSandbox) -> None:
    notifier(plain).send(sample_notice(), ANNE)
    (mail,) = plain.mails
    assert mail.sender == "alarms@quillmere.example"
    assert mail.recipients == (ANNE,)
    assert mail.message["To"] == ANNE
    assert "summary-word" in mail.plain
    assert "summary-word" in mail.html
    assert not mail.encrypted
    assert b"\n.\r\n" not in mail.raw


def test_starttls_encrypts_the_login_and_the_mail(
    tls: ssl.SSLContext, authority: Authority, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG, "parchd_adapters")
    with MailSandbox(tls=tls, login=LOGIN) as sandbox:
        user, password = LOGIN
        notifier(
            sandbox, security="starttls", ca_file=authority.ca_file, username=user, password=password, host="localhost"
        ).send(sample_notice(), ANNE)
        (mail,) = sandbox.mails
    assert mail.encrypted
    assert mail.login == "farm"
    assert [record.__dict__["event"] for record in caplog.records if "event" in record.__dict__] == ["email.sent"]


def test_tls_encrypts_from_the_first_byte(tls: ssl.SSLContext, authority: Authority) -> None:
    with MailSandbox(tls=tls, implicit_tls=True, login=LOGIN) as sandbox:
        user, password = LOGIN
        notifier(sandbox, security="tls", ca_file=authority.ca_file, username=user, password=password).send(
            sample_notice(), ANNE
        )
        (mail,) = sandbox.mails
    assert mail.encrypted
    assert mail.login == "farm"


@pytest.mark.parametrize(("security", "implicit"), [("starttls", False), ("tls", True)])
def test_a_certificate_of_a_stranger_gets_no_login_and_no_mail(
    security: str, implicit: bool, tmp_path: Path, authority: Authority
) -> None:
    stranger = server_side(Authority(tmp_path, "stranger").server())
    with MailSandbox(tls=stranger, implicit_tls=implicit, login=LOGIN) as sandbox:
        sender = notifier(sandbox, security=security, ca_file=authority.ca_file, username=LOGIN[0], password=LOGIN[1])
        with pytest.raises(DeliveryRetry, match="certificate we do not trust"):
            sender.send(sample_notice(), ANNE)
        assert not sandbox.received


def test_a_certificate_for_another_name_is_not_trusted(authority: Authority) -> None:
    with (
        MailSandbox(tls=server_side(authority.server("mail.quillmere.example"))) as sandbox,
        pytest.raises(DeliveryRetry, match="certificate we do not trust"),
    ):
        notifier(sandbox, security="starttls", ca_file=authority.ca_file).send(sample_notice(), ANNE)


def test_a_server_without_starttls_gets_nothing_in_the_clear(plain: MailSandbox) -> None:
    with pytest.raises(DeliveryRetry, match="check port and security"):
        notifier(plain, security="starttls", username="farm", password="secret").send(sample_notice(), ANNE)
    assert not plain.received


def test_tls_spoken_to_a_server_that_does_not_says_what_to_check(plain: MailSandbox) -> None:
    with pytest.raises(DeliveryRetry, match="check port and security"):
        notifier(plain, security="tls").send(sample_notice(), ANNE)


def test_a_wrong_password_is_tried_again_with_the_words_to_mend_it() -> None:
    with MailSandbox(login=LOGIN) as sandbox:
        with pytest.raises(DeliveryRetry, match="check username and password"):
            notifier(sandbox, username="farm", password="wrong").send(sample_notice(), ANNE)
        assert not sandbox.received


def test_a_server_that_wants_a_login_we_do_not_have_is_tried_again() -> None:
    with MailSandbox(login=LOGIN) as sandbox, pytest.raises(DeliveryRetry, match="check from_address, username"):
        notifier(sandbox).send(sample_notice(), ANNE)


def test_a_server_that_knows_no_logins_says_so(plain: MailSandbox) -> None:
    with pytest.raises(DeliveryRetry, match="whether it knows logins"):
        notifier(plain, username="farm", password="secret").send(sample_notice(), ANNE)


def test_greylisting_costs_attempts_and_no_mail(plain: MailSandbox) -> None:
    sender = notifier(plain)
    plain.script("450 4.2.0 come back later", "451 4.7.1 greylisted", stage="RCPT")
    for _ in range(2):
        with pytest.raises(DeliveryRetry):
            sender.send(sample_notice(), ANNE)
    sender.send(sample_notice(), ANNE)
    assert len(plain.mails) == 1


@pytest.mark.parametrize("stage", ["RCPT", "DATA"])
def test_a_lasting_refusal_is_final(plain: MailSandbox, stage: Any) -> None:
    plain.script("550 5.1.1 nobody of that name", stage=stage)
    with pytest.raises(DeliveryRefused, match="nobody of that name"):
        notifier(plain).send(sample_notice(), ANNE)
    assert not plain.received


def test_a_refused_sender_is_a_setting_to_mend(plain: MailSandbox) -> None:
    plain.script("553 5.7.1 not your address", stage="MAIL")
    with pytest.raises(DeliveryRetry, match="check from_address"):
        notifier(plain).send(sample_notice(), ANNE)


@pytest.mark.parametrize("stage", ["MAIL", "RCPT", "DATA"])
def test_a_server_that_hangs_up_is_tried_again(plain: MailSandbox, stage: Any) -> None:
    plain.script("drop", stage=stage)
    with pytest.raises(DeliveryRetry, match="broke off"):
        notifier(plain).send(sample_notice(), ANNE)


def test_a_mail_whose_confirmation_was_lost_comes_again_under_its_name(plain: MailSandbox) -> None:
    sender = notifier(plain)
    plain.script("drop")
    with pytest.raises(DeliveryRetry):
        sender.send(sample_notice(), ANNE)
    sender.send(sample_notice(), ANNE)
    first, second = plain.received
    assert (first.accepted, second.accepted) == (False, True)
    assert first.message["Message-ID"] == second.message["Message-ID"]


def test_a_server_that_does_not_answer_is_left_in_time(plain: MailSandbox) -> None:
    plain.script("", stage="RCPT", delay_s=30.0)
    start_s = time.monotonic()
    with pytest.raises(DeliveryRetry, match="timed out"):
        notifier(plain, timeout_s=1.0).send(sample_notice(), ANNE)
    assert time.monotonic() - start_s < 5.0


def test_a_server_that_takes_long_over_the_mail_itself_is_waited_for(plain: MailSandbox) -> None:
    plain.script("", delay_s=1.5)
    notifier(plain, timeout_s=1.0).send(sample_notice(), ANNE)
    assert len(plain.mails) == 1


def test_a_server_that_drags_out_every_answer_is_left_when_the_minute_is_over(
    plain: MailSandbox, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(email_session, "BUDGET_S", 1.0)
    plain.script("", stage="MAIL", delay_s=0.6)
    plain.script("", stage="RCPT", delay_s=0.6)
    with pytest.raises(DeliveryRetry):
        notifier(plain).send(sample_notice(), ANNE)
    assert not plain.received


@pytest.mark.parametrize("said", [[], [b"220 hello\r\n"], [b"220 hello\r\n", b"250 HELP\r\n"]])
def test_a_server_whose_answers_come_drop_by_drop_is_left_when_the_minute_is_over(
    said: list[bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(email_session, "BUDGET_S", 1.2)
    start_s = time.monotonic()
    with dripping(*said, b"250-a" if said else b"220-a", drops=b"a", pause_s=0.2, endless=True) as port:
        with pytest.raises(DeliveryRetry, match=r"does not answer in time \(not done within 1.2 s\)"):
            notifier(MailSandbox(port=port), timeout_s=1.0).send(sample_notice(), ANNE)
        assert time.monotonic() - start_s < 5.0


def test_nobody_listening_is_tried_again() -> None:
    sandbox = MailSandbox()
    with sandbox:
        pass
    with pytest.raises(DeliveryRetry, match="cannot be reached"):
        notifier(sandbox).send(sample_notice(), ANNE)


def test_a_name_that_does_not_exist_is_tried_again() -> None:
    with MailSandbox() as sandbox, pytest.raises(DeliveryRetry, match="name that cannot be found"):
        notifier(sandbox, host="no-such-host.invalid").send(sample_notice(), ANNE)  # RFC 6761: never resolves


@pytest.mark.parametrize(
    "greeting", [b"", b"\x00\xff\x00\xff\r\n", b"554 go away\r\n", b"HTTP/1.1 400 Bad Request\r\n\r\n"]
)
def test_what_is_no_mail_server_is_tried_again(greeting: bytes) -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        thread = threading.Thread(target=greet_once, args=(listener, greeting))
        thread.start()
        sandbox = MailSandbox(port=listener.getsockname()[1])  # for its address alone
        with pytest.raises(DeliveryRetry):
            notifier(sandbox, timeout_s=2.0).send(sample_notice(), ANNE)
        thread.join()


def greet_once(listener: socket.socket, greeting: bytes) -> None:
    connection, _ = listener.accept()
    with connection:
        connection.sendall(greeting)


def test_hostile_names_add_no_recipient_and_no_second_mail(plain: MailSandbox) -> None:
    notifier(plain).send(hostile_notice(), ANNE)
    (mail,) = plain.mails
    assert mail.recipients == (ANNE,)
    assert mail.message["Bcc"] is None


def test_a_cleared_alarm_stands_under_the_raised_one(plain: MailSandbox) -> None:
    sender = notifier(plain)
    sender.send(sample_notice("n1"), ANNE)
    sender.send(replace(sample_notice("n2"), kind=NoticeKind.CLEARED), ANNE)
    raised, cleared = (mail.message for mail in plain.mails)
    assert raised["References"] == cleared["References"]
    assert raised["Message-ID"] != cleared["Message-ID"]


def test_the_picture_of_a_chart_arrives_within_the_mail(plain: MailSandbox) -> None:
    line = Line("together", tuple(float(n) for n in range(100)))
    chart = Chart("north block, 7 days", "kPa", 1_780_000_000_000_000, 3_600_000_000, (line,), alt="It rises.")
    notifier(plain).send(replace(sample_notice(), charts=(chart,)), ANNE)
    (mail,) = plain.mails
    (picture,) = [part for part in mail.message.walk() if part.get_content_type() == "image/png"]
    content = picture.get_payload(decode=True)
    assert isinstance(content, bytes)
    assert content.startswith(b"\x89PNG")
    assert f'src="cid:{picture["Content-ID"].strip("<>")}"' in mail.html
    assert "It rises." in mail.plain
