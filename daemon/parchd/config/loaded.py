"""What a configuration is once it is read, checked and compiled: what the daemon starts from."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import time
from pathlib import Path
from types import MappingProxyType
from typing import Any, Generic, TypeVar

from parchd.alarms.rules import AlarmSetup
from parchd.config.model import Settings
from parchd.contract import AdapterKind, Notifier, Options, Priority, Problem, Sink, Source
from parchd.people.person import Escalation, Person
from parchd.pipeline.setup import PipelineSetup

AdapterT_co = TypeVar("AdapterT_co", covariant=True)


@dataclass(frozen=True, slots=True)
class SecretOrigin:
    """Where a secret came from; never what it is.

    Args:
        key: dotted path below the adapter, e.g. ``password`` or ``tls.key_password``.
        origin: ``file PATH``, ``environment NAME``, ``credential NAME``; empty: not set.
    """

    key: str
    origin: str


@dataclass(frozen=True, slots=True)
class AdapterEntry(Generic[AdapterT_co]):
    """One source, sink or notifier, ready to be built: ``entry.factory.build(entry.options, services)``.

    Args:
        group: ``sources``, ``sinks`` or ``notifiers``.
        name: its name in the configuration.
        kind: name of its entry point.
        options: an instance of ``factory.options``, secrets filled in.
        factory: the loaded entry point.
        secrets: where its secrets came from, for people.
    """

    group: str
    name: str
    kind: str
    options: Options
    factory: AdapterKind[Any, AdapterT_co]
    secrets: tuple[SecretOrigin, ...] = ()

    @property
    def fingerprint(self) -> str:
        """A hash of kind and options, secrets among them: it changes when the adapter must be started anew."""
        text = json.dumps([self.kind, _plain(self.options.model_dump())], sort_keys=True, default=str)
        return hashlib.sha256(text.encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class NotifierPolicy:
    """What a notifier is asked to deliver, and when. Times are local.

    Args:
        lowest_priority: alarms below it are not sent.
        max_per_hour: messages to one recipient within an hour; the overflow goes into one message.
        quiet: start and end of the quiet hours, the end may lie before the start; ``None``: none.
        quiet_lets_pass: alarms of at least this priority are sent in quiet hours too; ``None``: nothing is.
        digest: whether it sends the daily digest.
        transitions: it sends every step in the life of every alarm, and nothing else.
    """

    lowest_priority: Priority = Priority.LOW
    max_per_hour: int = 6
    quiet: tuple[time, time] | None = None
    quiet_lets_pass: Priority | None = Priority.HIGH
    digest: bool = True
    transitions: bool = False


@dataclass(frozen=True, slots=True)
class NotifierEntry(AdapterEntry[Notifier]):
    """A notifier with its policy; the policy is not part of the fingerprint."""

    policy: NotifierPolicy = NotifierPolicy()


@dataclass(frozen=True, slots=True)
class StoreSettings:
    """The journal.

    Args:
        path: of the database, absolute.
        keep_days: readings older than that are deleted; ``None``: never.
        commit_ms: samples that do not wait for their commit are gathered for so long.
        reserve_bytes: kept on its disk, to be given up for the message that it is full; 0: none.
    """

    path: Path
    keep_days: int | None
    commit_ms: int
    reserve_bytes: int = 0


@dataclass(frozen=True, slots=True)
class ScheduleSettings:
    """What happens by the clock on the wall.

    Args:
        digest_at: local time of the daily digest; ``None``: no digest.
    """

    digest_at: time | None


@dataclass(frozen=True, slots=True)
class WebSettings:
    """The pages behind links in messages, and the interface for programs.

    Args:
        host, port: where to listen.
        public_url: how phones reach it, without a slash at its end; ``None``: messages carry no links.
        link_days: days for which a link can be used.
        proxies: addresses of reverse proxies that are believed.
        tokens: secrets of programs by name; none: the interface for programs is off.
    """

    host: str
    port: int
    public_url: str | None = None
    link_days: int = 7
    proxies: tuple[str, ...] = ()
    tokens: Mapping[str, str] = field(default_factory=dict, repr=False)


@dataclass(frozen=True, slots=True)
class Loaded:
    """A whole configuration.

    Args:
        path: the main file.
        settings: the tables as they were written, for titles, crops and the like.
        pipeline, alarms: what the core works with.
        sources, sinks, notifiers: by name.
        store, schedule: see there.
        people: that have a table; a way without an address leads to all own recipients of its notifier.
        escalation: who is told next when nobody answers; ``None``: nobody is.
        web: ``None``: there are no pages.
        schedulers: the tensiometers whose readings decide on irrigation, by zone.
        zeroed: tensiometers whose gauge was zeroed with its cup in water, so that nothing is corrected.
        transducers: name of the transducer of each tensiometer: of its table, or a generic one.
        assumed: keys that nobody wrote and that make each tensiometer's tension uncertain.
        calibration_dir: folder with a calibration in each file, as a path that can be opened; ``None``: none is named.
        warnings: what is odd, but does not keep the daemon from starting.
    """

    path: Path
    settings: Settings
    pipeline: PipelineSetup
    alarms: AlarmSetup
    sources: Mapping[str, AdapterEntry[Source]]
    sinks: Mapping[str, AdapterEntry[Sink]]
    notifiers: Mapping[str, NotifierEntry]
    store: StoreSettings
    schedule: ScheduleSettings
    people: tuple[Person, ...] = ()
    escalation: Escalation | None = None
    schedulers: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))
    zeroed: frozenset[str] = frozenset()
    transducers: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    assumed: Mapping[str, frozenset[str]] = field(default_factory=lambda: MappingProxyType({}))
    calibration_dir: Path | None = None
    warnings: tuple[Problem, ...] = ()
    web: WebSettings | None = None

    def fingerprint(self, name: str) -> str:
        """Hash the options of one adapter, named ``sources.bus1``, ``sinks.farm``, ``notifiers.owner``.

        Raises:
            KeyError: there is no such adapter.
        """
        group, _, adapter = name.partition(".")
        groups: dict[str, Mapping[str, AdapterEntry[object]]] = {
            "sources": self.sources,
            "sinks": self.sinks,
            "notifiers": self.notifiers,
        }
        return groups[group][adapter].fingerprint


def _plain(value: Any) -> Any:
    if hasattr(value, "get_secret_value"):
        return value.get_secret_value()
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, set | frozenset):
        return sorted(map(str, value))
    return value
