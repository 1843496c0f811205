"""Where the demo's messages end up: a mail server and a webhook receiver on this machine, which show and keep them."""

import base64
import hmac
import json
import re
import secrets
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Self

from parchd.demo.configuration import SECRET_FILE
from parchd.demo.errors import needs_extra
from parchd.demo.news import Kind, NewsDesk
from parchd.testing.receivers import HttpReceiver, MailSandbox, ReceivedMail, ReceivedRequest

MAILS, WEBHOOKS = "mails", "webhooks"


class Sandbox:
    """Both receivers, with a secret that the webhooks are signed with.

    Args:
        folder: mails go into ``mails/*.eml``, webhooks as they were posted into ``webhooks/*.json``.
        desk: is told of each.

    Raises:
        DemoError: the extra ``demo`` is not installed.
    """

    def __init__(self, folder: Path, desk: NewsDesk) -> None:
        if find_spec("aiosmtpd") is None:
            raise needs_extra("a mail server")
        self.mails: list[ReceivedMail] = []
        self._folder = folder
        self._desk = desk
        self._hooks = 0
        self._secret = new_secret(folder / SECRET_FILE)
        self._mail_server = MailSandbox(on_mail=self._take_mail)
        self._receiver = HttpReceiver(on_request=self._take_webhook)

    @property
    def mail_port(self) -> int:
        return self._mail_server.port

    @property
    def webhook_url(self) -> str:
        return f"{self._receiver.url}/alarms"

    def __enter__(self) -> Self:
        (self._folder / MAILS).mkdir()
        (self._folder / WEBHOOKS).mkdir()
        self._mail_server.start()
        try:
            self._receiver.start()
        except BaseException:
            self._mail_server.stop()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self._mail_server.stop()
        self._receiver.stop()

    def _take_mail(self, mail: ReceivedMail) -> None:
        subject = str(mail.message["Subject"])
        self.mails.append(mail)
        name = f"{len(self.mails):03d}-{slug(subject)}.eml"
        (self._folder / MAILS / name).write_bytes(mail.raw)
        self._desk.tell(Kind.MAIL, subject, f"to {', '.join(mail.recipients)}")

    def _take_webhook(self, request: ReceivedRequest) -> None:
        body: dict[str, Any] = json.loads(request.body)
        self._hooks += 1
        stem = self._folder / WEBHOOKS / f"{self._hooks:03d}-{slug(body['type'])}"
        stem.with_name(f"{stem.name}.json").write_bytes(request.body)
        headers = "".join(f"{name}: {value}\n" for name, value in request.headers.items())
        stem.with_name(f"{stem.name}.headers").write_text(headers)
        signed = "signature is right" if is_signed(request, self._secret) else "SIGNATURE IS WRONG"
        self._desk.tell(Kind.WEBHOOK, webhook_words(body), signed)


def new_secret(path: Path) -> str:
    """Make a secret as Standard Webhooks has it, and keep it in a file that its owner alone can read."""
    secret = "whsec_" + base64.b64encode(secrets.token_bytes(32)).decode()
    path.touch(mode=0o600)
    path.write_text(secret + "\n")
    return secret


def is_signed(request: ReceivedRequest, secret: str) -> bool:
    """Check the signature the way a receiver does (Standard Webhooks 1.0.0, "Verifying webhook authenticity")."""
    headers = request.headers
    head = f"{headers.get('webhook-id', '')}.{headers.get('webhook-timestamp', '')}."
    digest = hmac.digest(base64.b64decode(secret.removeprefix("whsec_")), head.encode() + request.body, "sha256")
    wanted = "v1," + base64.b64encode(digest).decode()
    return any(hmac.compare_digest(wanted, given) for given in headers.get("webhook-signature", "").split())


def webhook_words(body: dict[str, Any]) -> str:
    """Say what a webhook tells a program.

    >>> details = {"alarm": "irrigate-now", "subject": "zone/nursery"}
    >>> webhook_words({"type": "alarm.raised", "data": {"details": details}})
    'alarm.raised irrigate-now zone/nursery'
    """
    details = body["data"]["details"]
    return " ".join(str(word) for word in (body["type"], details.get("alarm", ""), details.get("subject", "")) if word)


def slug(text: str) -> str:
    """Make a part of a file's name.

    >>> slug("Creek terrace: irrigate now (46 kPa)")
    'creek-terrace-irrigate-now-46-kpa'
    """
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")[:60]
