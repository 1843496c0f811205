"""One conversation with a mail server, kept within its time."""

import contextlib
import smtplib
import socket
import ssl
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from parchd.clock import Clock
from parchd_adapters._shared.deadline import Deadline
from parchd_adapters.email.options import EmailOptions, Security

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer

BUDGET_S = 55.0
CONNECT_S = 10.0
FAREWELL_S = 2.0


class Patience:
    """How long to wait: ``answer_s`` for each answer, and 55 s for all together, of the 60 s a notifier may take.

    ``line`` is the connection that is waited on.
    """

    def __init__(self, clock: Clock, answer_s: float, used_s: float = 0.0) -> None:
        self.answer_s = answer_s
        self.line: socket.socket | None = None
        self._clock = clock
        self._end_s = clock.monotonic_s() + BUDGET_S - used_s

    def left_s(self) -> float:
        """Seconds to wait for the next answer.

        Raises:
            SMTPServerDisconnected: the time for all together is used up.
        """
        left_s = self._end_s - self._clock.monotonic_s()
        if left_s <= 0:
            raise smtplib.SMTPServerDisconnected(f"not done within {BUDGET_S:.0f} s")
        return min(left_s, self.answer_s)


class PatientSmtp(smtplib.SMTP):
    """A client that waits for each answer as its patience says."""

    def __init__(self, patience: Patience, *args: Any, **options: Any) -> None:
        self.patience = patience
        super().__init__(*args, **options)

    def getreply(self) -> tuple[int, bytes]:
        self.patience.line = self.sock
        if self.sock is not None:
            self.sock.settimeout(self.patience.left_s())
        return super().getreply()

    def data(self, msg: "ReadableBuffer | str") -> tuple[int, bytes]:
        """Send the message and wait as long as there is time at all.

        Servers search a mail for viruses before they say yes; who hangs up too early sends the same mail twice.
        """
        self.patience.answer_s = BUDGET_S
        return super().data(msg)


class PatientSmtpOverTls(PatientSmtp, smtplib.SMTP_SSL):
    """The same, encrypted from the first byte."""


@contextlib.contextmanager
def session(options: EmailOptions, clock: Clock, used_s: float = 0.0) -> Iterator[smtplib.SMTP]:
    """Connect, encrypt and log in as the options say; leave politely, whatever happens.

    Args:
        used_s: of the time for all together that is gone already.

    Raises:
        OSError: it did not work; every `smtplib.SMTPException` is one.
    """
    patience = Patience(clock, options.timeout_s, used_s)
    client: PatientSmtp | None = None
    try:
        with Deadline(BUDGET_S - used_s, lambda: patience.line):
            client = _connected(options, patience)
            client.local_hostname = _own_address(client)
            if options.security is Security.STARTTLS:
                client.starttls(context=_tls(options))
            if options.password is not None:
                client.login(options.username, options.password.get_secret_value())
            yield client
    finally:
        if client is not None:
            _leave(client)


def _connected(options: EmailOptions, patience: Patience) -> PatientSmtp:
    place = options.host, options.effective_port
    # With a name given, smtplib does not ask the DNS for this machine's own: a farm without one would wait for it.
    usual: dict[str, Any] = {"local_hostname": "localhost", "timeout": min(CONNECT_S, options.timeout_s)}
    if options.security is Security.TLS:
        return PatientSmtpOverTls(patience, *place, context=_tls(options), **usual)
    return PatientSmtp(patience, *place, **usual)


def _own_address(client: smtplib.SMTP) -> str:
    """This end of the connection as an address literal (RFC 5321, 4.1.3)."""
    assert client.sock is not None
    address = client.sock.getsockname()[0]
    return f"[IPv6:{address}]" if ":" in address else f"[{address}]"


def _tls(options: EmailOptions) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=options.ca_file)


def _leave(client: PatientSmtp) -> None:
    client.patience.answer_s = FAREWELL_S
    with contextlib.suppress(OSError), Deadline(FAREWELL_S, lambda: client.patience.line):
        client.docmd("quit")
    client.close()
