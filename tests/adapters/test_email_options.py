"""What may stand under a notifier of type email."""

from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from parchd_adapters.email import EmailOptions

GOOD: dict[str, Any] = {
    "host": "mail.quillmere.example",
    "from_address": "alarms@quillmere.example",
    "to": ["anne@quillmere.example"],
}


def options(**changes: object) -> EmailOptions:
    return EmailOptions.model_validate({**GOOD, **changes})


@pytest.mark.parametrize(
    ("security", "port", "effective"),
    [("starttls", None, 587), ("tls", None, 465), ("plain", None, 25), ("starttls", 2525, 2525)],
)
def test_the_port_is_the_usual_one_unless_it_is_given(security: str, port: int | None, effective: int) -> None:
    assert options(security=security, port=port).effective_port == effective


def test_encryption_is_on_unless_it_is_turned_off() -> None:
    assert options().security == "starttls"


@pytest.mark.parametrize(
    "address",
    [
        "anne",
        "anne@",
        "@quillmere.example",
        "Anne <anne@quillmere.example>",
        "anne@quillmere.example\r\nBcc: ben@quillmere.example",
        "anne@quillmere.example\n",
        "anne,ben@quillmere.example",
        "anne@quill mere.example",
        "änne@quillmere.example",
        "anne@quillmere..example",
        "anne@-quillmere.example",
        ".anne@quillmere.example",
        f"{'a' * 65}@quillmere.example",
        f"anne@{'a' * 64}.example",
    ],
)
@pytest.mark.parametrize("key", ["to", "from_address"])
def test_what_is_no_plain_address_is_refused(key: str, address: str) -> None:
    with pytest.raises(ValidationError, match="a mail address like name@domain"):
        options(**{key: [address] if key == "to" else address})


@pytest.mark.parametrize(
    "address", ["anne@localhost", "a.b+alarms@quillmere.example", "o'neil_1@xn--qullmere-q2a.example"]
)
def test_plain_addresses_are_taken(address: str) -> None:
    assert options(to=[address], from_address=address).to == (address,)


def test_mail_may_go_to_addresses_of_people_only() -> None:
    assert options(to=[]).to == ()


def test_nobody_gets_a_mail_twice() -> None:
    with pytest.raises(ValidationError, match="each address once"):
        options(to=["anne@quillmere.example", "Anne@Quillmere.example"])


@pytest.mark.parametrize("host", ["mail.quillmere.example:587", "https://mail", "", "mail quillmere", "mail\n"])
def test_a_host_is_a_name_or_an_address(host: str) -> None:
    with pytest.raises(ValidationError, match="without a port"):
        options(host=host)


@pytest.mark.parametrize("host", ["::1", "127.0.0.1", "fd00::25", "relay"])
def test_hosts_may_be_addresses_of_either_kind(host: str) -> None:
    assert options(host=host).host == host


@pytest.mark.parametrize("login", [{"username": "farm"}, {"password": "secret"}, {"username": "farm", "password": ""}])
def test_a_login_needs_both_its_parts(login: dict[str, str]) -> None:
    with pytest.raises(ValidationError, match="username and password together"):
        options(**login)


def test_a_login_in_the_clear_is_refused_with_a_hint() -> None:
    with pytest.raises(ValidationError, match="set security to 'starttls' or 'tls'"):
        options(security="plain", username="farm", password="secret")


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1", "::1"])
def test_a_login_in_the_clear_may_stay_on_this_machine(host: str) -> None:
    assert options(host=host, security="plain", username="farm", password="secret").username == "farm"


def test_mail_without_a_login_may_go_in_the_clear() -> None:
    assert options(security="plain").password is None


@pytest.mark.parametrize(
    "login", [{"username": "fürst", "password": "x"}, {"username": "farm", "password": "pässwort"}]
)
def test_a_login_that_smtp_cannot_carry_is_refused(login: dict[str, str]) -> None:
    with pytest.raises(ValidationError, match="printable ASCII"):
        options(**login)


def test_a_password_does_not_show_itself() -> None:
    assert "secret" not in repr(options(username="farm", password="secret"))


def test_a_certificate_file_must_be_there(tmp_path: Path) -> None:
    with pytest.raises(ValidationError, match="ca_file"):
        options(ca_file=tmp_path / "missing.pem")


@pytest.mark.parametrize("timeout_s", [0, 51, "soon"])
def test_the_time_out_fits_into_the_minute_that_a_notifier_has(timeout_s: object) -> None:
    with pytest.raises(ValidationError, match="timeout_s"):
        options(timeout_s=timeout_s)
