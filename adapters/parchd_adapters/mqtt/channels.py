"""The channels of one source."""

from parchd_adapters.mqtt.reasons import BAD_NAME, TOO_MANY
from parchd_adapters.mqtt.template import is_channel


class Channels:
    """The channels seen so far. Their number is bounded: whoever may publish may also invent topics."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._seen: set[str] = set()

    def refusal(self, name: str) -> str | None:
        """Tell why a name cannot be a channel; ``None``: it can.

        >>> channels = Channels(1)
        >>> [channels.refusal(name) for name in ("north", "north/1", "south", "north")]
        [None, 'name not allowed for a channel', 'more channels than max_channels', None]
        """
        if name in self._seen:
            return None
        if not is_channel(name):
            return BAD_NAME
        if len(self._seen) >= self._most:
            return TOO_MANY
        self._seen.add(name)
        return None
