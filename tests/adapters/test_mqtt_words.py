"""What is said when a connection fails: each sentence tells what to do."""

import socket
import ssl
from pathlib import Path

import pytest

from parchd.contract import SourceLost
from parchd.testing.certificates import Authority
from parchd_adapters.mqtt.explain import gone, refused, unreachable
from parchd_adapters.mqtt.options import Tls
from parchd_adapters.mqtt.security import make_context

BROKER = "broker.lan:1883"


@pytest.mark.parametrize(
    ("code", "said"),
    [(134, "password_file"), (135, "access rules"), (133, "client_id"), (132, "'protocol'"), (200, "odd (200)")],
)
def test_a_refusal_says_what_to_check(code: int, said: str) -> None:
    assert said in refused(BROKER, code, "odd")


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (ConnectionRefusedError(111, "refused"), "is the broker running"),
        (socket.gaierror(-2, "unknown"), "check 'host' and the network's name server"),
        (UnicodeError("label too long"), "check 'host'"),
        (TimeoutError("timed out"), "firewall"),
        (ssl.SSLError(1, "wrong version number"), "expect TLS on this port"),
        (OSError(101, "Network is unreachable"), "Network is unreachable"),
    ],
)
def test_an_attempt_that_failed_says_what_to_check(error: Exception, said: str) -> None:
    assert said in unreachable(BROKER, error, encrypted=False)


def test_an_encrypted_attempt_that_got_no_answer_asks_whether_the_port_is_right() -> None:
    for error in (TimeoutError("timed out"), ConnectionResetError(104, "reset"), ssl.SSLError(1, "odd")):
        assert "TLS on this port" in unreachable(BROKER, error, encrypted=True)


def test_the_end_of_a_connection_says_why() -> None:
    assert "one program only" in gone(BROKER, 142, "x", connected=True, encrypted=False)
    assert "add the table 'tls'" in gone(BROKER, 0, "reset", connected=False, encrypted=False)
    assert "add the table" not in gone(BROKER, 0, "reset", connected=False, encrypted=True)
    assert "refused our certificate" in gone(BROKER, 0, "TLSV1_ALERT_UNKNOWN_CA", connected=False, encrypted=True)
    assert "another program" in gone(BROKER, 0, "reset", connected=True, encrypted=False)


def test_a_tls_file_that_is_missing_or_is_no_certificate_is_named(tmp_path: Path) -> None:
    (tmp_path / "text.pem").write_text("no certificate")
    for name in ("missing.pem", "text.pem"):
        with pytest.raises(SourceLost, match=name):
            make_context(Tls(ca_file=tmp_path / name))
        with pytest.raises(SourceLost, match=name):
            make_context(Tls(cert_file=tmp_path / name))


def test_a_key_that_does_not_fit_its_certificate_is_named(tmp_path: Path) -> None:
    authority = Authority(tmp_path)
    one, other = authority.client("one"), authority.client("other")
    with pytest.raises(SourceLost, match="belong together"):
        make_context(Tls(cert_file=one.cert_file, key_file=other.key_file))


def test_an_encrypted_key_needs_its_password_and_never_asks_for_it(tmp_path: Path) -> None:
    identity = Authority(tmp_path).client(password="quiet water")
    files = {"cert_file": identity.cert_file, "key_file": identity.key_file}
    with pytest.raises(SourceLost, match="key_password_file"):
        make_context(Tls(**files))
    assert make_context(Tls.model_validate({**files, "key_password": "quiet water"})).check_hostname


def test_the_name_in_the_certificate_is_always_checked(tmp_path: Path) -> None:
    for tls in (Tls(), Tls(ca_file=Authority(tmp_path).ca_file)):
        context = make_context(tls)
        assert context.check_hostname
        assert context.verify_mode is ssl.CERT_REQUIRED
        assert context.minimum_version >= ssl.TLSVersion.TLSv1_2
