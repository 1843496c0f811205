"""The running daemon: everything wired, started in order, stopped in order."""

import contextlib
import logging
import secrets
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol, TypeVar

from parchd.app.commands import asking
from parchd.app.control import ControlServer
from parchd.app.courier import Courier
from parchd.app.disk import Disk
from parchd.app.engine import Engine
from parchd.app.feeder import Feeder
from parchd.app.inbox import Inbox
from parchd.app.loop import EngineLoop
from parchd.app.messages import Ask, Reload, Tick
from parchd.app.setup import EngineSetup, engine_setup, places
from parchd.app.supervisor import SourceRunner
from parchd.app.ticker import Ticker
from parchd.clock import Clock
from parchd.config import Loaded
from parchd.config.loaded import AdapterEntry, WebSettings
from parchd.contract import ConfigError, Notifier, Problem, Services, Sink, Source, StoreError
from parchd.store.answered import link_key, set_link_key
from parchd.store.database import Lock, open_writer

logger = logging.getLogger(__name__)

TICK_S = 1.0
TICKS_LOST_S = 10.0
DISK_S = 30.0
ENGINE_DEAD_S = 60.0
SOURCE_DEAD_S = 120.0
PAGES_END_S = 2.0


class Runner(Protocol):
    """A thread that can be asked to leave."""

    def start(self) -> None: ...
    def stop(self) -> None: ...
    def join(self, timeout_s: float) -> bool: ...


class Pages(Runner, Protocol):
    """What is served to browsers and programs; it is made in a layer above."""

    def adopt(self, loaded: Loaded) -> None:
        """Show what a new configuration says."""
        ...


MakePages = Callable[[Loaded, WebSettings, Callable[[Ask], None], Clock], Pages]
RunnerT = TypeVar("RunnerT", bound=Runner)
AdapterT = TypeVar("AdapterT")
EntryT = TypeVar("EntryT", bound=AdapterEntry[Any])


@dataclass(slots=True)
class Crew:
    """The running adapters of one configuration, each with the fingerprint it was started from."""

    sources: dict[str, tuple[str, SourceRunner]] = field(default_factory=dict)
    sinks: dict[str, tuple[str, Feeder]] = field(default_factory=dict)
    couriers: dict[str, tuple[str, Courier]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Built:
    """Adapters of one configuration, made but not started; of sources and sinks only those that do not run yet."""

    sources: Mapping[str, Source]
    sinks: Mapping[str, Sink]
    notifiers: Mapping[str, Notifier]


class Daemon:
    """A daemon with one configuration at a time.

    Started: journal, engine, schedule, couriers, sinks, sources. Stopped the other way round, so that what was
    delivered is still written.
    """

    def __init__(
        self, loaded: Loaded, clock: Clock, *, tick_s: float = TICK_S, make_pages: MakePages | None = None
    ) -> None:
        self.loaded = loaded
        self._make_pages = make_pages
        self._pages: Pages | None = None
        self._clock = clock
        self._tick_s = tick_s
        self._crew = Crew()
        self._control: ControlServer | None = None
        self._database = loaded.store.path
        self._inbox = Inbox(loaded.store.commit_ms / 1000.0, clock)
        self._built = self._build(loaded)
        self._lock = Lock(self._database)
        self._disk = Disk(self._database, loaded.store.reserve_bytes)
        try:
            self._open_journal()
        except BaseException:
            self._lock.release()
            raise
        self._loop = EngineLoop(self._engine, self._inbox, clock, self._disk.make_room)
        self._ticker = Ticker()
        self._ticked_s = clock.monotonic_s()

    def start(self) -> None:
        self._loop.start()
        self._open_control()
        self._ticker.every(self._tick_s, "tick", self._tick)
        self._ticker.every(DISK_S, "disk", self._measure_disk)
        self._ticker.start()
        self._measure_disk()
        self._man(self.loaded, self._built)
        self._show(self.loaded)

    def _open_journal(self) -> None:
        """Open the journal and start the engine on it; on a full disk in the room of the reserve.

        Raises:
            StoreError: it cannot be opened or written.
        """
        try:
            self._connection = open_writer(self._database)
            self._engine = self._started_engine()
        except StoreError as error:
            space = self._disk.make_room(error)
            if space is None:
                raise
            self._connection = open_writer(self._database)
            self._engine = self._started_engine()
            self._inbox.tell(space)

    def _open_control(self) -> None:
        """Let commands ask; a folder that takes no socket does not keep the daemon from its work."""
        try:
            self._control = ControlServer(self._database, self._inbox.tell)
        except OSError as error:
            logger.warning("commands cannot ask this daemon: %s", error, extra={"event": "control.missing"})
        else:
            self._control.start()

    def reload(self, loaded: Loaded) -> None:
        """Let a new configuration hold; adapters whose options did not change go on without a gap.

        A new ``store.path`` takes effect at the next start.

        Raises:
            ConfigError: an adapter cannot be made; the old configuration goes on.
        """
        built = self._build(loaded)
        self._dismiss(loaded)
        if loaded.web != self.loaded.web:
            self._hide()
        self._inbox.group_s = loaded.store.commit_ms / 1000.0
        self._disk.reserve_bytes = loaded.store.reserve_bytes
        self._inbox.tell(Reload(self._setup(loaded, built)))
        self.loaded = loaded
        self._man(loaded, built)
        self._show(loaded)

    def stop(self, timeout_s: float = 4.0) -> bool:
        """Stop everything; true when all that was delivered is on disk.

        A courier or sink whose server hangs is left behind: what it was sending comes again after the next start.
        """
        deadline_s = self._clock.monotonic_s() + timeout_s
        clean = self._end([runner for _, runner in self._crew.sources.values()], timeout_s / 2)
        self._ticker.stop()
        if self._control is not None:
            self._control.stop()
        self._hide()
        carriers = [runner for _, runner in self._crew.couriers.values()]
        feeders = [runner for _, runner in self._crew.sinks.values()]
        self._end([*carriers, *feeders], timeout_s / 4)
        clean &= self._loop.finish(max(0.5, deadline_s - self._clock.monotonic_s()))
        if clean:
            self._close()
        self._lock.release()
        return clean

    def _show(self, loaded: Loaded) -> None:
        """Serve pages if the configuration wants them and somebody here can."""
        if self._pages is not None:
            self._pages.adopt(loaded)
        elif loaded.web is not None and self._make_pages is not None:
            self._pages = self._make_pages(loaded, loaded.web, self._inbox.tell, self._clock)
            self._pages.start()

    def _hide(self) -> None:
        """Serve no pages any more; they ask the engine, so it must still run."""
        if self._pages is not None:
            self._end([self._pages], PAGES_END_S)
            self._pages = None

    def _close(self) -> None:
        """Leave one tidy file behind; where the disk has no room for that, the next start finds all of it too."""
        with contextlib.suppress(sqlite3.Error):
            self._engine.checkpoint()
        self._connection.close()

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

    def _started_engine(self) -> Engine:
        try:
            if link_key(self._connection) is None:
                set_link_key(self._connection, secrets.token_bytes(32))
            return Engine(self._connection, self._setup(self.loaded, self._built), self._clock.now_us())
        except sqlite3.Error as error:
            self._connection.close()
            raise StoreError(f"{self._database}: cannot be written ({error})") from error

    def _tick(self) -> None:
        self._ticked_s = self._clock.monotonic_s()
        self._inbox.tell(Tick())

    def _measure_disk(self) -> None:
        space = self._disk.measure()
        if space is not None:
            self._inbox.tell(space)

    def _setup(self, loaded: Loaded, built: Built) -> EngineSetup:
        return engine_setup(loaded, {name: notifier.recipients for name, notifier in built.notifiers.items()})

    def _build(self, loaded: Loaded) -> Built:
        """Make all adapters that do not run as this configuration wants them, and all notifiers.

        Raises:
            ConfigError: one cannot be made.
        """
        return Built(
            {name: self._made(entry, loaded) for name, entry in _new(self._crew.sources, loaded.sources)},
            {name: self._made(entry, loaded) for name, entry in _new(self._crew.sinks, loaded.sinks)},
            {name: self._made(entry, loaded) for name, entry in loaded.notifiers.items()},
        )

    def _made(self, entry: AdapterEntry[AdapterT], loaded: Loaded) -> AdapterT:
        ask = asking(self._inbox.tell, entry.name, "mqtt" if entry.kind == "mqtt" else "adapter")
        services = Services(entry.name, loaded.pipeline.site.name, self._clock, ask)
        try:
            return entry.factory.build(entry.options, services)
        except Exception as error:  # whatever a stranger's adapter raises
            found = f"{type(error).__name__}: {error}"
            key = f"{entry.group}.{entry.name}"
            problem = Problem(str(loaded.path), None, key, found, f"options that {entry.kind} can work with")
            raise ConfigError([problem]) from error

    def _man(self, loaded: Loaded, built: Built) -> None:
        """Start every adapter of a configuration that does not run yet."""
        where = places(loaded)
        for name, notifier in built.notifiers.items():
            if name not in self._crew.couriers:
                courier = Courier(name, notifier, self._inbox, self._clock, self._database)
                self._loop.wake_after_commit(courier.wake)
                self._add(self._crew.couriers, loaded.notifiers[name], courier)
        for _, feeder in self._crew.sinks.values():
            feeder.places = where
        for name, sink in built.sinks.items():
            feeder = Feeder(name, sink, self._inbox, self._database, where)
            self._loop.wake_after_commit(feeder.wake)
            self._add(self._crew.sinks, loaded.sinks[name], feeder)
        for name, source in built.sources.items():
            self._add(self._crew.sources, loaded.sources[name], SourceRunner(name, source, self._inbox, self._clock))

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


def _new(running: Mapping[str, tuple[str, Runner]], wanted: Mapping[str, EntryT]) -> Iterator[tuple[str, EntryT]]:
    """Find those that do not run, or run with other options."""
    for name, entry in wanted.items():
        if name not in running or running[name][0] != entry.fingerprint:
            yield name, entry


def _take_gone(running: dict[str, tuple[str, RunnerT]], wanted: Mapping[str, AdapterEntry[Any]]) -> list[RunnerT]:
    gone = [n for n, (mark, _) in running.items() if n not in wanted or wanted[n].fingerprint != mark]
    return [running.pop(name)[1] for name in gone]
