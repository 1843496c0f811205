"""The keys that sign now: that of the secret, and for a time that of the one before."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from pydantic import SecretStr

from parchd.clock import from_datetime
from parchd_adapters.webhook.options import WebhookOptions
from parchd_adapters.webhook.signature import key_of


@dataclass(frozen=True, slots=True)
class Keys:
    """Keys in the order of their signatures.

    Args:
        newest: ``None``: nothing is signed.
        previous: signs too, before ``until_us``; ``None``: there is none.
        until_us: ``None``: for as long as it is configured.
    """

    newest: bytes | None
    previous: bytes | None = None
    until_us: int | None = None

    @classmethod
    def of(cls, options: WebhookOptions) -> "Keys":
        return cls(_key(options.secret), _key(options.previous_secret), _end_us(options.previous_secret_until))

    def at(self, now_us: int) -> tuple[bytes, ...]:
        """The keys to sign with; none: nothing is signed.

        >>> Keys(b"new", b"old", 10).at(9), Keys(b"new", b"old", 10).at(10), Keys(None).at(0)
        ((b'new', b'old'), (b'new',), ())
        """
        is_over = self.until_us is not None and now_us >= self.until_us
        keys = (self.newest, None if is_over else self.previous)
        return tuple(key for key in keys if key is not None)


def _key(secret: SecretStr | None) -> bytes | None:
    return None if secret is None else key_of(secret.get_secret_value())


def _end_us(last_day: date | None) -> int | None:
    if last_day is None:
        return None
    after = last_day + timedelta(days=1)
    return from_datetime(datetime(after.year, after.month, after.day, tzinfo=UTC))
