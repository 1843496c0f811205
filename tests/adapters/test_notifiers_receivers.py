"""The sandboxes that tests and the demo use."""

import socket
import urllib.request
from smtplib import SMTP
from urllib.parse import urlsplit

from parchd.testing.receivers import Answer, HttpReceiver, MailSandbox, ReceivedMail, ReceivedRequest

MAIL = b"Subject: hello\r\nMessage-ID: <1@quillmere.example>\r\n\r\nwater\r\n"


def post(receiver: HttpReceiver, message_id: str) -> int:
    request = urllib.request.Request(receiver.url, b"{}", {"webhook-id": message_id})
    with urllib.request.urlopen(request, timeout=5) as response:
        return int(response.status)


def send(sandbox: MailSandbox) -> None:
    with SMTP(sandbox.host, sandbox.port, "localhost", timeout=5) as client:
        client.sendmail("alarms@quillmere.example", ["anne@quillmere.example"], MAIL)


def test_the_mail_sandbox_tells_of_each_mail_and_keeps_it() -> None:
    told: list[ReceivedMail] = []
    with MailSandbox(on_mail=told.append) as sandbox:
        send(sandbox)
        assert sandbox.wait_for(lambda sandbox: len(sandbox.mails) == 1)
    assert told == sandbox.mails
    assert told[0].message["Subject"] == "hello"
    assert told[0].raw == MAIL
    assert (told[0].plain, told[0].html) == ("water\n", "")


def test_the_mail_sandbox_comes_back_on_its_port_with_all_it_had() -> None:
    with MailSandbox() as sandbox:
        port = sandbox.port
        send(sandbox)
        sandbox.stop()
        sandbox.start()
        send(sandbox)
    assert sandbox.port == port
    assert len(sandbox.mails) == 2


def test_the_http_receiver_tells_of_each_request_and_keeps_one_of_each_id() -> None:
    told: list[ReceivedRequest] = []
    with HttpReceiver(on_request=told.append) as receiver:
        receiver.script(Answer(200, body="first"), 202)
        assert [post(receiver, message_id) for message_id in ("a", "a", "b")] == [200, 202, 204]
        assert receiver.wait_for(lambda receiver: len(receiver.requests) == 3)
    assert told == receiver.requests
    assert list(receiver.deliveries) == ["a", "b"]
    assert receiver.deliveries["a"].answer.status == 200


def test_a_client_that_is_killed_amid_a_body_has_sent_nothing() -> None:
    with HttpReceiver() as receiver:
        address = urlsplit(receiver.url)
        with socket.create_connection((address.hostname or "", address.port or 0), timeout=5) as client:
            client.sendall(b"POST / HTTP/1.1\r\nHost: here\r\nContent-Length: 20\r\n\r\nhalf of")
        assert post(receiver, "a") == 204
    assert [request.headers.get("webhook-id") for request in receiver.requests] == ["a"]
