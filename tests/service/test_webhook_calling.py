"""Where a webhook's connection goes: names that lead inside, names that change, servers that drip."""

import socket
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from parchd.clock import SystemClock
from parchd.contract import DeliveryRetry, Services
from parchd.testing.certificates import Authority
from parchd.testing.dripping import dripping
from parchd.testing.notifier_suite import sample_notice
from parchd.testing.receivers import HttpReceiver
from parchd_adapters.webhook import KIND, WebhookNotifier, WebhookOptions, calling
from parchd_adapters.webhook import notifier as notifier_module

NOTICE = sample_notice()
NAME = "receiver.quillmere.example"


class Names:
    """A name service: each look-up takes the next answer, the last one stays."""

    def __init__(self, *answers: tuple[str, ...]) -> None:
        self.answers = list(answers)
        self.asked: list[str] = []

    def getaddrinfo(self, host: str, port: int, **_: Any) -> list[Any]:
        self.asked.append(host)
        answer = self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]
        return [
            (
                socket.AF_INET6 if ":" in address else socket.AF_INET,
                socket.SOCK_STREAM,
                6,
                "",
                (address, port, 0, 0) if ":" in address else (address, port),
            )
            for address in answer
        ]


def name_service(monkeypatch: pytest.MonkeyPatch, *answers: tuple[str, ...]) -> Names:
    names = Names(*answers)
    monkeypatch.setattr(socket, "getaddrinfo", names.getaddrinfo)
    return names


def notifier(url: str, **changes: Any) -> WebhookNotifier:
    options = WebhookOptions.model_validate({"url": url, "name": "receiver", **changes})
    return KIND.build(options, Services("program", "Quillmere Orchard", SystemClock()))


def port_of(url: str) -> str:
    return url.rpartition(":")[2]


@pytest.fixture
def receiver() -> Iterator[HttpReceiver]:
    with HttpReceiver() as receiver:
        yield receiver


@pytest.mark.parametrize("address", ["127.0.0.1", "::1", "::ffff:7f00:1", "169.254.169.254", "10.0.0.1"])
def test_a_name_that_leads_inside_is_not_called(
    receiver: HttpReceiver, monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    name_service(monkeypatch, (address,))
    with pytest.raises(DeliveryRetry, match=f"not in the public internet \\({address}, .*allow_private = true"):
        notifier(f"http://{NAME}:{port_of(receiver.url)}/").send(NOTICE, "receiver")
    assert not receiver.requests


@pytest.mark.parametrize("host", ["2130706433", "0x7f.1", "127.1", "0"])
def test_no_way_to_write_this_machine_gets_through(receiver: HttpReceiver, host: str) -> None:
    with pytest.raises(DeliveryRetry, match="not in the public internet"):
        notifier(f"http://{host}:{port_of(receiver.url)}/").send(NOTICE, "receiver")
    assert not receiver.requests


def test_a_name_that_leads_inside_is_called_when_that_is_allowed(
    receiver: HttpReceiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    name_service(monkeypatch, ("127.0.0.1",))
    notifier(f"http://{NAME}:{port_of(receiver.url)}/", allow_private=True).send(NOTICE, "receiver")
    (request,) = receiver.requests
    assert request.headers["host"] == f"{NAME}:{port_of(receiver.url)}"


def test_a_name_is_looked_up_once_and_the_address_that_was_checked_is_called(
    receiver: HttpReceiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A name service that gives a public address to whoever checks, and an inner one to whoever connects."""
    names = name_service(monkeypatch, ("9.9.9.9",), ("127.0.0.1",))
    called: list[tuple[Any, ...]] = []

    def connected(place: Any, _timeout_s: float) -> socket.socket:
        called.append(place.sockaddr)
        raise ConnectionRefusedError("refused")

    monkeypatch.setattr(calling, "_connected", connected)
    port = port_of(receiver.url)
    with pytest.raises(DeliveryRetry, match=r"cannot be reached \(9.9.9.9: refused\)"):
        notifier(f"http://{NAME}:{port}/").send(NOTICE, "receiver")
    assert names.asked == [NAME]
    assert called == [("9.9.9.9", int(port))]


def test_of_a_name_with_many_addresses_only_public_ones_are_called(monkeypatch: pytest.MonkeyPatch) -> None:
    name_service(monkeypatch, ("10.0.0.1", "9.9.9.9", "::1", "2a00::1"))
    called: list[str] = []

    def connected(place: Any, _timeout_s: float) -> socket.socket:
        called.append(place.sockaddr[0])
        raise ConnectionRefusedError("refused")

    monkeypatch.setattr(calling, "_connected", connected)
    with pytest.raises(DeliveryRetry, match="cannot be reached"):
        notifier(f"http://{NAME}/").send(NOTICE, "receiver")
    assert called == ["9.9.9.9", "2a00::1"]


def test_a_dead_address_does_not_hide_the_next(receiver: HttpReceiver, monkeypatch: pytest.MonkeyPatch) -> None:
    name_service(monkeypatch, ("127.0.0.9", "127.0.0.1"))
    notifier(f"http://{NAME}:{port_of(receiver.url)}/", allow_private=True).send(NOTICE, "receiver")
    assert len(receiver.requests) == 1


def test_the_certificate_must_be_that_of_the_name_not_of_the_address(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    name_service(monkeypatch, ("127.0.0.1",))
    authority = Authority(tmp_path)
    server = authority.server(NAME)
    with HttpReceiver(certificate=server.cert_file, key=server.key_file) as receiver:
        port = port_of(receiver.url)
        trusting = {"ca_file": authority.ca_file, "allow_private": True}
        notifier(f"https://{NAME}:{port}/", **trusting).send(NOTICE, "receiver")
        with pytest.raises(DeliveryRetry, match="cannot be trusted"):
            notifier(f"https://other.quillmere.example:{port}/", **trusting).send(NOTICE, "receiver")
        assert len(receiver.requests) == 1


def test_an_answer_that_comes_drop_by_drop_is_left_when_the_minute_is_over(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(notifier_module, "BUDGET_S", 1.2)
    start_s = time.monotonic()
    with dripping(b"", b"HTTP/1.1 200 OK\r\nX-Slow: ", drops=b"a", pause_s=0.2, endless=True) as port:
        with pytest.raises(DeliveryRetry, match=r"does not answer in time \(not done within 1.2 s\)"):
            notifier(f"http://127.0.0.1:{port}/", allow_private=True, timeout_s=1.0).send(NOTICE, "receiver")
        assert time.monotonic() - start_s < 5.0


def test_a_body_that_comes_drop_by_drop_is_not_waited_for() -> None:
    start_s = time.monotonic()
    head = b"HTTP/1.1 200 OK\r\nContent-Length: 1000\r\n\r\n"
    with dripping(b"", head, drops=b"a", pause_s=1.0, endless=True) as port:
        notifier(f"http://127.0.0.1:{port}/", allow_private=True).send(NOTICE, "receiver")
        assert time.monotonic() - start_s < 5.0


@pytest.mark.parametrize(
    "answer",
    [b"", b"\x00\xff\r\n\r\n", b"220 mail.quillmere.example ESMTP\r\n", b"HTTP/1.1 200 OK\r\nX: " + b"a" * 70_000],
    ids=["nothing", "noise", "mail", "endless head"],
)
def test_what_is_no_web_server_is_tried_again(answer: bytes) -> None:
    with dripping(b"", answer, drops=b"", pause_s=0.0) as port, pytest.raises(DeliveryRetry, match="broke off"):
        notifier(f"http://127.0.0.1:{port}/", allow_private=True, timeout_s=2.0).send(NOTICE, "receiver")
