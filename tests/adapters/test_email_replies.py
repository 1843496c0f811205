"""What the answers of mail servers mean."""

import smtplib
import socket
import ssl

import pytest

from parchd.contract import DeliveryRefused, DeliveryRetry
from parchd.testing import FakeClock
from parchd_adapters.email.replies import verdict
from parchd_adapters.email.session import BUDGET_S, Patience

SERVER = "mail.quillmere.example:587"
ANNE = "anne@quillmere.example"


def at_recipient(code: int, text: bytes) -> smtplib.SMTPException:
    return smtplib.SMTPRecipientsRefused({ANNE: (code, text)})


FINAL = [
    at_recipient(550, b"5.1.1 no such user"),
    at_recipient(553, b"mailbox name not allowed"),
    at_recipient(550, b"no enhanced code here"),
    smtplib.SMTPDataError(554, b"5.6.0 message content rejected"),
    smtplib.SMTPDataError(552, b"5.3.4 message too big"),
]

AGAIN = [
    (at_recipient(450, b"4.2.0 greylisted, come back"), "now"),
    (at_recipient(451, b"4.3.0 busy"), "now"),
    (at_recipient(421, b"closing"), "now"),
    (at_recipient(550, b"5.7.1 relaying denied"), "check username, password and from_address"),
    (at_recipient(530, b"authentication required"), "check username"),
    (at_recipient(552, b"5.2.2 mailbox full"), "mailbox is full"),
    (smtplib.SMTPDataError(451, b"4.3.0 try later"), "now"),
    (smtplib.SMTPDataError(-1, b"garbage"), "now"),
    (smtplib.SMTPAuthenticationError(535, b"5.7.8 bad credentials"), "check username and password"),
    (smtplib.SMTPSenderRefused(553, b"5.7.1 not your address", "x@y.example"), "check from_address"),
    (smtplib.SMTPSenderRefused(452, b"4.3.1 disk full", "x@y.example"), "452"),
    (smtplib.SMTPNotSupportedError("STARTTLS extension not supported by server."), "check port and security"),
    (smtplib.SMTPConnectError(554, b"no service for you"), "554"),
    (smtplib.SMTPHeloError(504, b"need a name"), "504"),
    (smtplib.SMTPServerDisconnected("Connection unexpectedly closed"), "broke off"),
    (smtplib.SMTPException("No suitable authentication method found."), "which logins it knows"),
    (ssl.SSLCertVerificationError("self-signed certificate"), "check host, ca_file and this machine's clock"),
    (ssl.SSLError("wrong version number"), "587 starttls, 465 tls"),
    (socket.gaierror(-2, "Name or service not known"), "check host"),
    (TimeoutError("timed out"), "does not answer"),
    (ConnectionRefusedError(111, "Connection refused"), "Connection refused"),
    (FileNotFoundError(2, "No such file", "ca.pem"), "ca_file"),
]


@pytest.mark.parametrize("error", FINAL, ids=str)
def test_what_speaks_of_this_message_or_mailbox_is_final(error: OSError) -> None:
    assert isinstance(verdict(error, SERVER), DeliveryRefused)


@pytest.mark.parametrize(("error", "words"), AGAIN, ids=lambda value: str(value)[:40])
def test_all_else_is_tried_again_with_words_that_help(error: OSError, words: str) -> None:
    result = verdict(error, SERVER)
    assert isinstance(result, DeliveryRetry)
    assert words in str(result)
    assert SERVER in str(result)


def test_a_server_that_talks_too_much_is_cut_short_and_cleaned() -> None:
    text = str(verdict(smtplib.SMTPDataError(451, b"no\r\n\x1b[31m\xff" + b"x" * 5000), SERVER))
    assert len(text) < 300
    assert text.isprintable()


def test_patience_ends_with_the_time_for_all_answers_together() -> None:
    clock = FakeClock()
    patience = Patience(clock, 20.0)
    assert patience.left_s() == 20.0
    clock.advance(BUDGET_S - 5)
    assert patience.left_s() == pytest.approx(5.0)
    clock.advance(5)
    with pytest.raises(smtplib.SMTPServerDisconnected, match="55 s"):
        patience.left_s()
