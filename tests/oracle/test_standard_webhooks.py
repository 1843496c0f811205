"""Signatures against the published vector and an independent implementation."""

import base64
from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as st
from standardwebhooks import Webhook

from parchd_adapters.webhook.signature import key_of, signatures

# Standard Webhooks 1.0.0, test vector of the reference libraries.
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
MESSAGE_ID = "msg_p5jXN8AQM9LWM0D4loKWxJek"
TIMESTAMP_S = 1614265330
BODY = b'{"test": 2432232314}'
SIGNATURE = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_the_published_vector_comes_out() -> None:
    assert signatures([key_of(SECRET)], MESSAGE_ID, TIMESTAMP_S, BODY) == SIGNATURE


def test_one_byte_of_the_body_changes_the_signature() -> None:
    assert signatures([key_of(SECRET)], MESSAGE_ID, TIMESTAMP_S, BODY.replace(b" ", b"")) != SIGNATURE


@given(
    st.binary(min_size=24, max_size=64),
    st.from_regex(r"[A-Za-z0-9._-]{1,40}", fullmatch=True),
    st.integers(0, 4_000_000_000),
    st.text(),
)
def test_an_independent_implementation_signs_alike(key: bytes, message_id: str, timestamp_s: int, text: str) -> None:
    secret = "whsec_" + base64.b64encode(key).decode()
    body = text.encode("utf-8", "replace")
    # The package takes the time as naive UTC or in UTC: it replaces the zone instead of converting.
    theirs = Webhook(secret).sign(message_id, datetime.fromtimestamp(timestamp_s, UTC), body.decode())
    assert signatures([key_of(secret)], message_id, timestamp_s, body) == theirs
