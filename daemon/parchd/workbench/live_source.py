"""Samples from the configured sources themselves, while no daemon runs: each in a thread of its own."""

import threading
from collections import Counter, deque
from collections.abc import Callable, Sequence

from parchd.clock import Clock
from parchd.config import Loaded
from parchd.contract import Sample, SampleBatch, Services, Source, SourceLost, Stopping
from parchd.workbench.live import LiveError, LiveSample
from parchd.workbench.live_chain import Chain, NamedSample

PAUSE_S = 2.0
JOIN_S = 3.0
MOST_WAITING = 50_000


class SourceFeed:
    """Runs the sources that a tensiometer needs, and converts what they deliver."""

    def __init__(self, loaded: Loaded, chain: Chain, clock: Clock) -> None:
        self._chain = chain
        self._clock = clock
        self._arrived: deque[NamedSample] = deque(maxlen=MOST_WAITING)
        self._wake = threading.Event()
        self._heard: Counter[str] = Counter()
        site = loaded.pipeline.site.name
        self._guests = [
            _Guest(name, entry.factory.build(entry.options, Services(name, site, clock)), self._receive, self._wake)
            for name, entry in loaded.sources.items()
            if name in chain.sources
        ]
        for guest in self._guests:
            guest.start()

    @property
    def origin(self) -> str:
        return ", ".join(f"source {guest.name}" for guest in self._guests)

    @property
    def ended(self) -> bool:
        return all(guest.ended for guest in self._guests) and not self._arrived

    def take(self, timeout_s: float) -> Sequence[LiveSample]:
        self._wake.wait(timeout_s)
        self._wake.clear()
        for guest in self._guests:
            if guest.refusal:
                raise LiveError(guest.refusal)
        return self._chain.convert(self._waiting(), self._clock.now_us())

    def forget(self) -> None:
        self._chain.convert(self._waiting(), self._clock.now_us())  # a supply that came meanwhile still counts

    def silence(self) -> str:
        words = [said for guest in self._guests if (said := guest.words())]
        others = sorted(set(self._heard) - self._chain.channels)
        missing = sorted(self._chain.channels - set(self._heard))
        if others and missing:
            words.append(f"Other channels are heard ({', '.join(others[:6])}), but not {', '.join(missing)}.")
        return " ".join(words)

    def close(self) -> None:
        for guest in self._guests:
            guest.stop()
        for guest in self._guests:
            guest.join()

    def _receive(self, source: str, samples: Sequence[Sample]) -> None:
        for sample in samples:
            self._heard[f"{source}/{sample.channel}"] += 1
            self._arrived.append((source, sample))

    def _waiting(self) -> list[NamedSample]:
        return [self._arrived.popleft() for _ in range(len(self._arrived))]


class _Guest:
    """Runs one source, again after a pause when it is lost. It is the source's `Intake` as well."""

    def __init__(
        self, name: str, source: Source, receive: Callable[[str, Sequence[Sample]], None], wake: threading.Event
    ) -> None:
        self.name = name
        self.ended = False
        self.refusal = ""
        """Why it can never deliver samples here."""
        self._source = source
        self._receive = receive
        self._wake = wake
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"bench {name}", daemon=True)
        self._connected = ""
        self._trouble = ""
        self._rejects: Counter[str] = Counter()
        self._example: bytes | str = b""

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        self._stop.set()

    def join(self) -> None:
        self._thread.join(JOIN_S)

    def words(self) -> str:
        """What is known of its line and of what came over it."""
        if self._trouble:
            return f"Source {self.name}: {self._trouble}."
        if not self._rejects:
            return f"Source {self.name} is connected to {self._connected}." if self._connected else ""
        reasons = ", ".join(f"{reason} ({count})" for reason, count in self._rejects.most_common(2))
        return f"Source {self.name}: input that makes no sample: {reasons}; the last: {self._example[:60]!r}."

    def put(self, batch: SampleBatch) -> None:
        if batch.on_committed is not None:
            self.refusal = (
                f"source {self.name} belongs to a broker that keeps messages until they are stored, and here nothing "
                "is stored. Start the daemon (parchd run): this command then reads along from its journal."
            )
            self._stop.set()
        if self._stop.is_set():
            self._wake.set()
            raise Stopping(f"source {self.name} is being stopped")
        self._receive(self.name, batch.samples)
        self._wake.set()

    def offer(self, batch: SampleBatch, timeout_s: float) -> bool:
        del timeout_s
        self.put(batch)
        return True

    def rejected(self, reason: str, example: bytes | str = b"", count: int = 1) -> None:
        self._rejects[reason] += count
        self._example = example

    def connected(self, detail: str) -> None:
        self._connected, self._trouble = detail, ""

    def beat(self) -> None:
        pass

    def _run(self) -> None:
        while not self._stop.is_set() and not self._run_once():
            self._stop.wait(PAUSE_S)
        self.ended = True
        self._wake.set()

    def _run_once(self) -> bool:
        """Run the source; true when it is through."""
        try:
            self._source.run(self, self._stop)
        except Stopping:
            return True
        except SourceLost as error:
            self._trouble = str(error)
        except Exception as error:
            self._trouble = f"{type(error).__name__}: {error}"
        else:
            return True
        if not self._connected:
            self.refusal = f"source {self.name} cannot be reached: {self._trouble}"
        self._wake.set()
        return bool(self.refusal)
