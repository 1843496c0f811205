"""The running daemon: everything wired, started in order, stopped in order."""

import logging
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol, TypeVar

from parchd.app.courier import Courier
from parchd.app.engine import Engine
from parchd.app.feeder import Feeder
from parchd.app.inbox import Inbox
from parchd.app.loop import EngineLoop
from parchd.app.messages import Reload, Tick
from parchd.app.setup import EngineSetup, engine_setup, places
from parchd.app.supervisor import SourceRunner
from parchd.app.ticker import Ticker
from parchd.clock import Clock
from parchd.config import Loaded
from parchd.config.loaded import AdapterEntry
from parchd.contract import Notifier, Services
from parchd.store.database import Lock, open_writer

logger = logging.getLogger(__name__)

TICK_S = 1.0
TICKS_LOST_S = 10.0
ENGINE_DEAD_S = 60.0
SOURCE_DEAD_S = 120.0


class Runner(Protocol):
    """A thread that can be asked to leave."""

    def start(self) -> None: ...
    def stop(self) -> None: ...
    def join(self, timeout_s: float) -> bool: ...


RunnerT = TypeVar("RunnerT", bound=Runner)


@dataclass(slots=True)
class Crew:
    """The running adapters of one configuration, each with the fingerprint it was started from."""

    sources: dict[str, tuple[str, SourceRunner]] = field(default_factory=dict)
    sinks: dict[str, tuple[str, Feeder]] = field(default_factory=dict)
    couriers: dict[str, tuple[str, Courier]] = field(default_factory=dict)


class Daemon:
    """A daemon with one configuration at a time.

    Started: journal, engine, schedule, couriers, sinks, sources. Stopped the other way round, so that what was
    delivered is still written.
    """

    def __init__(self, loaded: Loaded, clock: Clock, *, tick_s: float = TICK_S) -> None:
        self.loaded = loaded
        self._clock = clock
        self._tick_s = tick_s
        self._crew = Crew()
        self._lock = Lock(loaded.store.path)
        self._inbox = Inbox(loaded.store.commit_ms / 1000.0, clock)
        self._notifiers = self._build_notifiers(loaded)
        self._connection = open_writer(loaded.store.path)
        self._engine = Engine(self._connection, self._setup(loaded), clock.now_us())
        self._loop = EngineLoop(self._engine, self._inbox, clock)
        self._ticker = Ticker()
        self._ticked_s = clock.monotonic_s()

    def start(self) -> None:
        self._loop.start()
        self._ticker.every(self._tick_s, "tick", self._tick)
        self._ticker.start()
        self._man(self.loaded)

    def reload(self, loaded: Loaded) -> None:
        """Let a new configuration hold; adapters whose options did not change go on without a gap.

        A new ``store.path`` takes effect at the next start.
        """
        self._notifiers = self._build_notifiers(loaded)
        self._dismiss(loaded)
        self._inbox.tell(Reload(self._setup(loaded)))
        self.loaded = loaded
        self._man(loaded)

    def stop(self, timeout_s: float = 4.0) -> bool:
        """Stop everything; true when all threads ended and all that was delivered is on disk."""
        deadline_s = self._clock.monotonic_s() + timeout_s
        clean = self._end([runner for _, runner in self._crew.sources.values()], timeout_s / 2)
        self._ticker.stop()
        carriers = [runner for _, runner in self._crew.couriers.values()]
        feeders = [runner for _, runner in self._crew.sinks.values()]
        clean &= self._end([*carriers, *feeders], timeout_s / 4)
        clean &= self._loop.finish(max(0.5, deadline_s - self._clock.monotonic_s()))
        if clean:
            self._engine.checkpoint()
            self._connection.close()
        self._lock.release()
        return clean

    def watch(self) -> str:
        """Look after the threads; return what is wrong, empty when all is well."""
        if self._clock.monotonic_s() - self._ticked_s > TICKS_LOST_S:
            logger.warning("ticks stopped, setting the schedule anew", extra={"event": "schedule.restarted"})
            self._ticked_s = self._clock.monotonic_s()
            self._ticker.restart()
        if self._loop.silent_s > ENGINE_DEAD_S:
            return "the engine hangs"
        hanging = [name for name, (_, runner) in self._crew.sources.items() if runner.silent_s > SOURCE_DEAD_S]
        return f"source {hanging[0]} hangs" if hanging else ""

    def sources_ended(self) -> bool:
        """Whether every source has read all it had (only sources with an end ever do)."""
        return all(runner.ended for _, runner in self._crew.sources.values())

    def _tick(self) -> None:
        self._ticked_s = self._clock.monotonic_s()
        self._inbox.tell(Tick())

    def _setup(self, loaded: Loaded) -> EngineSetup:
        return engine_setup(loaded, {name: notifier.recipients for name, notifier in self._notifiers.items()})

    def _build_notifiers(self, loaded: Loaded) -> Mapping[str, Notifier]:
        entries = loaded.notifiers.items()
        return {name: entry.factory.build(entry.options, self._services(entry, loaded)) for name, entry in entries}

    def _services(self, entry: AdapterEntry[Any], loaded: Loaded) -> Services:
        return Services(entry.name, loaded.pipeline.site.name, self._clock)

    def _man(self, loaded: Loaded) -> None:
        """Start every adapter of a configuration that does not run yet."""
        database, where = loaded.store.path, places(loaded)
        for name, notifier in self._notifiers.items():
            if name not in self._crew.couriers:
                courier = Courier(name, notifier, self._inbox, self._clock, database)
                self._loop.wake_after_commit(courier.wake)
                self._add(self._crew.couriers, loaded.notifiers[name], courier)
        for name, sink in loaded.sinks.items():
            if name not in self._crew.sinks:
                built = sink.factory.build(sink.options, self._services(sink, loaded))
                feeder = Feeder(name, built, self._inbox, database, where)
                self._loop.wake_after_commit(feeder.wake)
                self._add(self._crew.sinks, sink, feeder)
            self._crew.sinks[name][1].places = where
        for name, source in loaded.sources.items():
            if name not in self._crew.sources:
                made = source.factory.build(source.options, self._services(source, loaded))
                self._add(self._crew.sources, source, SourceRunner(name, made, self._inbox, self._clock))

    @staticmethod
    def _add(running: dict[str, tuple[str, RunnerT]], entry: AdapterEntry[Any], runner: RunnerT) -> None:
        running[entry.name] = (entry.fingerprint, runner)
        runner.start()

    def _dismiss(self, loaded: Loaded) -> None:
        """Stop every adapter that a configuration no longer has, or has with other options."""
        gone: list[Runner] = [
            *_take_gone(self._crew.sources, loaded.sources),
            *_take_gone(self._crew.couriers, loaded.notifiers),
            *_take_gone(self._crew.sinks, loaded.sinks),
        ]
        self._end(gone, 5.0)
        for runner in gone:
            if isinstance(runner, Courier | Feeder):
                self._loop.forget(runner.wake)

    def _end(self, runners: Iterable[Runner], timeout_s: float) -> bool:
        """Ask all to leave, then wait for them together."""
        leaving = list(runners)
        for runner in leaving:
            runner.stop()
        deadline_s = self._clock.monotonic_s() + timeout_s
        ended = [runner.join(max(0.0, deadline_s - self._clock.monotonic_s())) for runner in leaving]
        return all(ended)


def _take_gone(running: dict[str, tuple[str, RunnerT]], wanted: Mapping[str, AdapterEntry[Any]]) -> list[RunnerT]:
    gone = [n for n, (mark, _) in running.items() if n not in wanted or wanted[n].fingerprint != mark]
    return [running.pop(name)[1] for name in gone]
