"""A mail server on loopback that keeps the mail it gets.

It needs the package ``aiosmtpd`` (extra ``demo``), which is imported only when a sandbox is opened.
"""

import asyncio
import email
import email.policy
import logging
import ssl
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from email.message import EmailMessage
from types import TracebackType
from typing import Any, Literal

DROP = "drop"
Stage = Literal["MAIL", "RCPT", "DATA"]


@dataclass(frozen=True, slots=True)
class ReceivedMail:
    """A message as it came.

    Args:
        sender, recipients: the envelope.
        message: the message, parsed.
        raw: its bytes.
        encrypted: whether the connection was.
        login: the user name, empty without a login.
        accepted: false when the sandbox hung up instead of saying yes.
    """

    sender: str
    recipients: tuple[str, ...]
    message: EmailMessage
    raw: bytes
    encrypted: bool
    login: str
    accepted: bool = True

    @property
    def plain(self) -> str:
        """The plain text."""
        return self._part("plain")

    @property
    def html(self) -> str:
        """The page."""
        return self._part("html")

    def _part(self, kind: str) -> str:
        part = self.message.get_body((kind,))
        return str(part.get_content()).replace("\r\n", "\n") if isinstance(part, EmailMessage) else ""


class MailSandbox:
    """Takes every mail, unless `script` says otherwise.

    Args:
        port: 0: a free one.
        tls: server side of the encryption, for STARTTLS or, with ``implicit_tls``, from the first byte.
        login: user name and password that it demands; over TLS only when it has ``tls``.
        on_mail: called for each accepted mail by the sandbox's thread.
    """

    host = "127.0.0.1"

    def __init__(
        self,
        *,
        port: int = 0,
        tls: ssl.SSLContext | None = None,
        implicit_tls: bool = False,
        login: tuple[str, str] | None = None,
        on_mail: Callable[[ReceivedMail], None] | None = None,
    ) -> None:
        self.received: list[ReceivedMail] = []
        self.port = port
        self._tls = tls
        self._implicit_tls = implicit_tls
        self._login = login
        self._on_mail = on_mail
        self._scripts: dict[Stage, deque[tuple[str, float]]] = {"MAIL": deque(), "RCPT": deque(), "DATA": deque()}
        self._changed = threading.Condition(threading.RLock())
        self._controller: Any = None

    @property
    def mails(self) -> list[ReceivedMail]:
        """What was accepted, in order."""
        with self._changed:
            return [mail for mail in self.received if mail.accepted]

    def script(self, *replies: str, stage: Stage = "DATA", delay_s: float = 0.0) -> None:
        """Append replies for the commands to come, e.g. ``"451 4.3.0 busy"``; afterwards it is friendly again.

        ``"drop"`` keeps what came and hangs up; an empty reply is the friendly one (after ``delay_s``).
        """
        with self._changed:
            self._scripts[stage] += [(reply, delay_s) for reply in replies]

    def wait_for(self, condition: Callable[["MailSandbox"], bool], timeout_s: float = 10.0) -> bool:
        """Wait until ``condition(self)`` holds; false when it does not within the time."""
        with self._changed:
            return self._changed.wait_for(lambda: condition(self), timeout_s)

    def keep(self, mail: ReceivedMail) -> None:
        """Keep a mail; called by the server's thread."""
        with self._changed:
            self.received.append(mail)
            self._changed.notify_all()
        if self._on_mail is not None and mail.accepted:
            self._on_mail(mail)

    async def next_reply(self, stage: Stage) -> str:
        """The scripted reply for this command; empty: none."""
        with self._changed:
            reply, delay_s = self._scripts[stage].popleft() if self._scripts[stage] else ("", 0.0)
        await asyncio.sleep(delay_s)
        return reply

    def start(self) -> None:
        """Listen; after `stop` on the same port as before."""
        logging.getLogger("mail.log").setLevel(logging.ERROR)  # at WARNING, aiosmtpd complains of itself
        self._controller = _controller(_Handler(self, demands_login=self._login is not None), self._server_options())
        try:
            self._controller.start()
        except BaseException:
            self.stop()
            raise
        self.port = self._controller.port

    def stop(self) -> None:
        """Go away: no thread and no port stays. What was received is kept."""
        if self._controller is not None:
            self._controller.stop()
            self._controller = None

    def __enter__(self) -> "MailSandbox":
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    @property
    def _offers_starttls(self) -> bool:
        return self._tls is not None and not self._implicit_tls

    def _server_options(self) -> dict[str, Any]:
        options: dict[str, Any] = {"hostname": self.host, "port": self.port, "server_hostname": "sandbox.invalid"}
        if self._tls is not None:
            options["tls_context" if self._offers_starttls else "ssl_context"] = self._tls
        if self._login is not None:
            # It is demanded by the handler: aiosmtpd's own demand warns of every server without TLS.
            options |= {"authenticator": self._authenticate, "auth_require_tls": self._offers_starttls}
        return options

    def _authenticate(self, _server: Any, _session: Any, _envelope: Any, _mechanism: str, given: Any) -> Any:
        from aiosmtpd.smtp import AuthResult

        user, password = given.login.decode(), given.password.decode()
        right = (user, password) == self._login
        return AuthResult(success=right, handled=right, auth_data=user)  # not "handled": aiosmtpd says no


class _Handler:
    """What aiosmtpd asks at each step."""

    def __init__(self, sandbox: MailSandbox, *, demands_login: bool) -> None:
        self._sandbox = sandbox
        self._demands_login = demands_login

    async def handle_MAIL(self, server: Any, session: Any, envelope: Any, address: str, options: Any) -> str:  # noqa: N802  # aiosmtpd's name
        if self._demands_login and not session.authenticated:
            return "530 5.7.0 Authentication required"
        reply = await self._scripted("MAIL", server)
        if not reply:
            envelope.mail_from = address
            envelope.mail_options.extend(options)
        return reply or "250 OK"

    async def handle_RCPT(self, server: Any, _session: Any, envelope: Any, address: str, options: Any) -> str:  # noqa: N802  # aiosmtpd's name
        reply = await self._scripted("RCPT", server)
        if not reply:
            envelope.rcpt_tos.append(address)
            envelope.rcpt_options.extend(options)
        return reply or "250 OK"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802  # aiosmtpd's name
        reply = await self._scripted("DATA", server)
        if not reply or reply == DROP:
            self._sandbox.keep(_received(server, session, envelope, accepted=not reply))
        return reply or "250 OK"

    async def _scripted(self, stage: Stage, server: Any) -> str:
        reply = await self._sandbox.next_reply(stage)
        if reply == DROP:
            server.transport.abort()
        return reply


def _received(server: Any, session: Any, envelope: Any, *, accepted: bool) -> ReceivedMail:
    raw = bytes(envelope.original_content)
    message = email.message_from_bytes(raw, policy=email.policy.SMTP)
    assert isinstance(message, EmailMessage)
    return ReceivedMail(
        sender=envelope.mail_from,
        recipients=tuple(envelope.rcpt_tos),
        message=message,
        raw=raw,
        encrypted=server.transport.get_extra_info("sslcontext") is not None,
        login=session.auth_data or "",
        accepted=accepted,
    )


def _controller(handler: _Handler, options: dict[str, Any]) -> Any:
    from aiosmtpd.controller import Controller

    class PortFindingController(Controller):
        """Knows the port that the kernel chose."""

        def _trigger_server(self) -> None:
            server: Any = self.server
            self.port = server.sockets[0].getsockname()[1]
            super()._trigger_server()  # type: ignore[no-untyped-call]  # aiosmtpd does not type it

    return PortFindingController(handler, **options)
