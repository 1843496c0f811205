"""Notifier ``email``: alarms and digests by mail, through the mail server you name.

One message goes to one recipient, as plain text and as HTML. It is tried once; the daemon's outbox tries again. The
page for people is ``adapters/docs/email.md``.
"""

from parchd.contract import AdapterKind, Services
from parchd_adapters.email.notifier import EmailNotifier
from parchd_adapters.email.options import EmailOptions

__all__ = ["KIND", "EmailNotifier", "EmailOptions"]


def build(options: EmailOptions, services: Services) -> EmailNotifier:
    """Make the notifier. The mail server is asked for the first time by a message."""
    return EmailNotifier(options, services.clock)


KIND = AdapterKind(EmailOptions, build)
