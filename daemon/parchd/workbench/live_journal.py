"""Samples from the journal of a running daemon, as it writes them."""

import threading
from collections.abc import Sequence

from parchd.clock import Clock
from parchd.config import Loaded
from parchd.contract import Sample, StoredReading
from parchd.store import reader
from parchd.store.database import is_held, open_reader
from parchd.workbench.live import LiveError, LiveSample
from parchd.workbench.live_chain import Chain, NamedSample

POLL_S = 0.25
_CHUNK = 2000


class JournalFeed:
    """Follows the journal; the raw samples are converted anew, by the configuration as it is now."""

    ended = False

    def __init__(self, loaded: Loaded, chain: Chain, clock: Clock) -> None:
        self._path = loaded.store.path
        self._chain = chain
        self._clock = clock
        self._pause = threading.Event()
        self._connection = open_reader(self._path)
        newest = reader.latest(self._connection)
        self._newest_us = {channel: one.time_us for channel, one in newest.items()}
        self._heard: set[str] = set()
        self._seq = self._last_seq()
        known = [one for channel, one in newest.items() if channel in chain.channels]
        chain.convert([_named(one.channel, one) for one in known], clock.now_us())

    @property
    def origin(self) -> str:
        return "the running daemon's journal"

    def take(self, timeout_s: float) -> Sequence[LiveSample]:
        deadline_s = self._clock.monotonic_s() + timeout_s
        while not (found := self._chain.convert(self._new(), self._clock.now_us())):
            left_s = deadline_s - self._clock.monotonic_s()
            if left_s <= 0.0:
                break
            self._pause.wait(min(POLL_S, left_s))
        return found

    def forget(self) -> None:
        self._chain.convert(self._new(), self._clock.now_us())

    def silence(self) -> str:
        if not is_held(self._path):
            raise LiveError("the daemon has stopped; start it again, or start this command without it")
        missing = sorted(self._chain.channels - self._heard)
        if not missing:
            return ""
        others = sorted(self._heard - self._chain.channels)
        also = f" though others come ({', '.join(others[:6])})" if others else ""
        return f"The daemon hears nothing from {', '.join(missing)}{also}; parchd status shows how it stands."

    def close(self) -> None:
        self._connection.close()

    def _new(self) -> list[NamedSample]:
        found: list[NamedSample] = []
        while rows := reader.rows_after(self._connection, {}, self._seq, _CHUNK):
            self._seq = rows[-1].seq
            found += [_named(row.channel, row) for row in rows if self._is_new(row)]
        return found

    def _is_new(self, row: StoredReading) -> bool:
        """Pass over what a gateway catches up with, and rows that are only written again."""
        if row.time_us <= self._newest_us.get(row.channel, row.time_us - 1):
            return False
        self._newest_us[row.channel] = row.time_us
        self._heard.add(row.channel)
        return True

    def _last_seq(self) -> int:
        (seq,) = self._connection.execute("SELECT coalesce(max(seq), 0) FROM journal").fetchone()
        return int(seq)


def _named(channel: str, row: StoredReading | reader.Latest) -> NamedSample:
    source, _, name = channel.partition("/")
    return source, Sample(name, row.time_us, row.value, row.unit)
