"""From a notice to a message as RFC 5322 wants it."""

import re
from collections.abc import Sequence
from email.headerregistry import Address, HeaderRegistry, MessageIDHeader
from email.message import EmailMessage
from email.policy import SMTP
from hashlib import sha256

from parchd.clock import to_datetime
from parchd.contract import Notice, NoticeKind, Priority
from parchd_adapters.email.markup import html_text
from parchd_adapters.email.plain import plain_text
from parchd_adapters.email.words import one_line, title

_HEADERS = HeaderRegistry()
for _name in ("references", "in-reply-to"):
    # As free text, an id longer than a line would be encoded, and no reader would know it again.
    _HEADERS.map_to_type(_name, MessageIDHeader)  # type: ignore[arg-type]  # the stubs want what it becomes
_POLICY = SMTP.clone(header_factory=_HEADERS)
_UNREADABLE = re.compile(r"[^A-Za-z0-9_]+")


def compose(
    notice: Notice, recipient: str, from_address: str, now_us: int, pictures: Sequence[bytes] = ()
) -> EmailMessage:
    """Write the message for one recipient.

    The same notice gives the same ``Message-ID`` at every attempt, so that a server that got it twice may show it
    once. All messages of a thread refer to one root that is never sent: they are grouped in whatever order they
    arrive, and even when the first was never delivered.

    Args:
        notice: what to say.
        recipient: the address in ``To``.
        from_address: the address in ``From``; its domain names the message.
        now_us: time of sending, for ``Date``.
        pictures: a PNG for each chart that is drawn, in order; they go into the message, nothing is loaded.
    """
    message = EmailMessage(policy=_POLICY)
    message["Date"] = to_datetime(now_us)
    message["From"] = Address(one_line(f"{notice.site} (parchd)", 80), addr_spec=from_address)
    message["To"] = recipient
    message["Subject"] = title(notice)
    message["Message-ID"] = message_id(notice, recipient, from_address)
    if notice.thread is not None:
        message["In-Reply-To"] = message["References"] = thread_root(notice, from_address)
    # No List-Unsubscribe: this is no list. Who is told stands in the configuration, and a click by mistake, or by a
    # program that follows links, must not silence the warning of a dying crop.
    message["Auto-Submitted"] = "auto-generated"  # RFC 3834, section 5
    message["X-Auto-Response-Suppress"] = "All"
    if notice.priority is Priority.HIGH and notice.kind is not NoticeKind.CLEARED:
        message["Importance"] = "high"
        message["X-Priority"] = "1"
    text = plain_text(notice)
    message.set_content(text, cte="7bit" if text.isascii() else "quoted-printable")
    names = [_named(f"chart-{n}", from_address, message["Message-ID"]) for n in range(1, len(pictures) + 1)]
    page = html_text(notice, [name.strip("<>") for name in names])
    message.add_alternative(page, subtype="html", cte="quoted-printable")
    *_, html = message.iter_parts()
    assert isinstance(html, EmailMessage)
    for number, (name, picture) in enumerate(zip(names, pictures, strict=True), 1):
        html.add_related(picture, "image", "png", cid=name, disposition="inline", filename=f"chart-{number}.png")
    return message


def message_id(notice: Notice, recipient: str, from_address: str) -> str:
    """Name the message, the same at every attempt.

    A daemon with a new database may count its notices from the start again; the time and the recipient keep the
    names apart, for mail servers drop a name they have seen.
    """
    readable = _UNREADABLE.sub("-", notice.id)[:60].strip("-") or "n"
    return _named(readable, from_address, notice.site, notice.id, recipient, str(notice.time_us))


def thread_root(notice: Notice, from_address: str) -> str:
    """Name the message that all messages of the notice's thread refer to."""
    return _named("thread", from_address, notice.site, notice.thread or "")


def _named(prefix: str, from_address: str, *parts: str) -> str:
    digest = sha256("\0".join(parts).encode("utf-8", "replace")).hexdigest()[:20]
    return f"<{prefix}.{digest}@{from_address.rpartition('@')[2]}>"
