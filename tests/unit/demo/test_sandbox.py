"""The signature check of the webhook receiver, and the files that are kept."""

import stat
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

from parchd.demo.sandbox import is_signed, new_secret, slug, webhook_words
from parchd.testing.receivers import Answer, ReceivedRequest

# The vector of the reference libraries of Standard Webhooks 1.0.0.
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
SIGNATURE = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="
HEADERS = {
    "webhook-id": "msg_p5jXN8AQM9LWM0D4loKWxJek", "webhook-timestamp": "1614265330", "webhook-signature": SIGNATURE,
}  # fmt: skip


BODY = b'{"test": 2432232314}'


def request(body: bytes = BODY, changes: Mapping[str, str] = MappingProxyType({})) -> ReceivedRequest:
    return ReceivedRequest("/alarms", {**HEADERS, **changes}, body, Answer())


def test_a_signature_of_the_reference_is_right() -> None:
    assert is_signed(request(), SECRET)


def test_one_right_signature_among_several_is_enough() -> None:
    assert is_signed(request(changes={"webhook-signature": f"v1,AAAA {SIGNATURE}"}), SECRET)


def test_another_body_time_or_secret_makes_it_wrong() -> None:
    assert not is_signed(request(b'{"test": 2432232315}'), SECRET)
    assert not is_signed(request(changes={"webhook-timestamp": "1614265331"}), SECRET)
    assert not is_signed(request(), "whsec_AfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw")


def test_a_webhook_without_headers_is_not_signed() -> None:
    assert not is_signed(ReceivedRequest("/alarms", {}, b"{}", Answer()), SECRET)


def test_a_secret_is_new_each_time_and_its_owner_alone_can_read_it(tmp_path: Path) -> None:
    one, other = new_secret(tmp_path / "one"), new_secret(tmp_path / "other")
    assert one != other
    assert (tmp_path / "one").read_text().strip() == one
    assert stat.S_IMODE((tmp_path / "one").stat().st_mode) == 0o600


def test_a_digest_has_no_alarm_to_name() -> None:
    assert webhook_words({"type": "digest.daily", "data": {"details": {}}}) == "digest.daily"


def test_the_name_of_a_file_has_no_strange_characters() -> None:
    assert slug("../Ärger: \n x") == "rger-x"
