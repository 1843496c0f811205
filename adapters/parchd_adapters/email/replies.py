"""What a mail server's answer, or its silence, means for a message."""

import re
import smtplib
import socket
import ssl

from parchd.contract import DeliveryRefused, DeliveryRetry
from parchd_adapters.email.words import one_line

LONGEST_QUOTE = 160

# A login or an encryption that is missing: a person can mend it, and then the same message goes through.
_MENDABLE = frozenset({530, 534, 535, 538})
_MENDABLE_FOR_RECIPIENT = _MENDABLE | {552}  # a full mailbox; RFC 5321, 4.5.3.1.10 asks to take it as temporary
_POLICY = re.compile(rb"5\.7\.\d")  # RFC 3463, 3.8: security or policy, e.g. a server that does not relay for us

# The first that fits: kind of error, what happened, what to check.
_TROUBLES: tuple[tuple[type[OSError], str, str], ...] = (
    (smtplib.SMTPAuthenticationError, "does not accept the login", "check username and password"),
    (smtplib.SMTPSenderRefused, "does not take mail from us", "check from_address, username and password"),
    (smtplib.SMTPNotSupportedError, "lacks something we need", "check port and security, and whether it knows logins"),
    (smtplib.SMTPResponseException, "does not serve us now", ""),
    (smtplib.SMTPServerDisconnected, "broke off", ""),
    (
        ssl.SSLCertVerificationError,
        "shows a certificate we do not trust",
        "check host, ca_file and this machine's clock",
    ),
    (ssl.SSLError, "does not agree with us on TLS", "check port and security (usually 587 starttls, 465 tls)"),
    (socket.gaierror, "has a name that cannot be found", "check host and the network"),
    (TimeoutError, "does not answer in time", "check host, port and the network"),
    (smtplib.SMTPException, "cannot serve us", "check username and password, and which logins it knows"),
    (OSError, "cannot be reached", "check host, port, ca_file and the network"),
)


def verdict(error: OSError, server: str) -> DeliveryRetry | DeliveryRefused:
    """Turn what smtplib raised into what the daemon does about it, in words that say what to check.

    Final is only what speaks of this recipient or this message: 5xx after RCPT or DATA.

    >>> verdict(ConnectionRefusedError("refused"), "mail.quillmere.example:587")
    DeliveryRetry('mail.quillmere.example:587 cannot be reached (refused): check host, port, ca_file and the network')
    """
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return _recipient(error, server)
    if isinstance(error, smtplib.SMTPDataError):
        return _data(error, server)
    what, check = next((what, check) for kind, what, check in _TROUBLES if isinstance(error, kind))
    return DeliveryRetry(f"{server} {what} ({_detail(error)})" + (f": {check}" if check else ""))


def _recipient(error: smtplib.SMTPRecipientsRefused, server: str) -> DeliveryRetry | DeliveryRefused:
    ((code, text),) = error.recipients.values()
    if _is_final(code) and code not in _MENDABLE_FOR_RECIPIENT and not _POLICY.match(text):
        return DeliveryRefused(f"{server} takes no mail for this recipient ({_quote(code, text)})")
    check = ": check username, password and from_address, or whether the mailbox is full" if _is_final(code) else ""
    return DeliveryRetry(f"{server} takes no mail for this recipient now ({_quote(code, text)}){check}")


def _data(error: smtplib.SMTPDataError, server: str) -> DeliveryRetry | DeliveryRefused:
    code, quote = error.smtp_code, _detail(error)
    if _is_final(code) and code not in _MENDABLE:
        return DeliveryRefused(f"{server} refuses this message ({quote})")
    return DeliveryRetry(f"{server} does not take the message now ({quote})")


def _is_final(code: int) -> bool:
    return 500 <= code < 600


def _detail(error: OSError) -> str:
    if isinstance(error, smtplib.SMTPResponseException):
        return _quote(error.smtp_code, error.smtp_error)
    return one_line(str(error), LONGEST_QUOTE)


def _quote(code: int, text: bytes | str) -> str:
    words = text.decode("utf-8", "replace") if isinstance(text, bytes) else text
    return one_line(f"{code} {words}", LONGEST_QUOTE)
