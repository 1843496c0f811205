"""A whole configuration of fakes, for the daemon and its threads."""

import queue
from collections.abc import Callable, Mapping
from datetime import time
from pathlib import Path
from typing import TypeVar

from parchd.alarms.rules import AlarmSetup
from parchd.config import AdapterEntry, Loaded, NotifierEntry, NotifierPolicy, ScheduleSettings, StoreSettings
from parchd.config.ground import SiteTable, ZoneTable
from parchd.config.model import Settings
from parchd.contract import AdapterKind, Intake, Notifier, Options, SampleBatch, Services, Sink, Source, StopSignal
from parchd.pipeline.setup import PipelineSetup
from parchd.testing.site import SITE, ZONES, small_site

PULSE_S = 0.02

Order = Callable[[Intake], None]
AdapterT = TypeVar("AdapterT")


class FakeSource:
    """Does what it is ordered, in the source's own thread, until it is stopped.

    An order gets the intake and may raise; `send` and `end` are the usual ones.
    """

    def __init__(self) -> None:
        self.runs = 0
        self._orders: queue.SimpleQueue[Order | None] = queue.SimpleQueue()

    def order(self, order: Order) -> None:
        self._orders.put(order)

    def send(self, *batches: SampleBatch) -> None:
        """Hand these over, one after another."""
        for batch in batches:
            self.order(lambda intake, batch=batch: intake.put(batch))  # type: ignore[misc] # the default binds it now

    def end(self) -> None:
        """Return from ``run``: all is read."""
        self._orders.put(None)

    def run(self, intake: Intake, stop: StopSignal) -> None:
        self.runs += 1
        intake.connected("a fake line")
        while not stop.is_set():
            try:
                order = self._orders.get(timeout=PULSE_S)
            except queue.Empty:
                intake.beat()
                continue
            if order is None:
                return
            order(intake)


class FakeOptions(Options):
    """Options of every fake; another label is another fingerprint."""

    label: str = ""


def loaded_site(
    folder: Path,
    *,
    sources: Mapping[str, Source] | None = None,
    sinks: Mapping[str, Sink] | None = None,
    notifiers: Mapping[str, Notifier] | None = None,
    label: str = "",
    site: tuple[PipelineSetup, AlarmSetup] | None = None,
    digest_at: time | None = None,
    policy: NotifierPolicy | None = None,
) -> Loaded:
    """Make the small site's configuration with these adapters; another ``label`` makes all of them new."""
    pipeline, alarms = site or small_site()
    options = FakeOptions(label=label)
    return Loaded(
        path=folder / "parchd.toml",
        settings=Settings.model_construct(
            site=SiteTable(name=SITE.name, time_zone=SITE.time_zone, altitude_m=SITE.altitude_m),
            zones={name: ZoneTable(title=title) for name, title in ZONES.items()},
        ),
        pipeline=pipeline,
        alarms=alarms,
        sources={n: AdapterEntry("sources", n, "fake", options, _kind(made)) for n, made in (sources or {}).items()},
        sinks={n: AdapterEntry("sinks", n, "fake", options, _kind(made)) for n, made in (sinks or {}).items()},
        notifiers={
            n: NotifierEntry("notifiers", n, "fake", options, _kind(made), policy=policy or NotifierPolicy())
            for n, made in (notifiers or {}).items()
        },
        store=StoreSettings(folder / "journal.db", keep_days=None, commit_ms=10),
        schedule=ScheduleSettings(digest_at),
    )


def _kind(made: AdapterT) -> AdapterKind[FakeOptions, AdapterT]:
    def build(_options: FakeOptions, _services: Services) -> AdapterT:
        return made

    return AdapterKind(FakeOptions, build)
