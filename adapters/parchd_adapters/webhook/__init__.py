"""Notifier ``webhook``: alarms and digests as JSON, posted to an address of yours and signed as Standard Webhooks says.

A message is tried once; the daemon's outbox tries again. The page for people is ``adapters/docs/webhook.md``.
"""

from importlib.resources import files

from parchd.contract import AdapterKind, Services
from parchd_adapters.webhook.notifier import WebhookNotifier
from parchd_adapters.webhook.options import WebhookOptions

__all__ = ["KIND", "WebhookNotifier", "WebhookOptions"]


def build(options: WebhookOptions, services: Services) -> WebhookNotifier:
    """Make the notifier. The receiver is asked for the first time by a message."""
    return WebhookNotifier(options, services.clock)


def schema() -> str:
    """Read the JSON Schema (2020-12) of all bodies."""
    return (files("parchd_adapters.webhook") / "schema.json").read_text("utf-8")


KIND = AdapterKind(WebhookOptions, build, schema)
