"""Every sink against the behaviour suite."""

from collections.abc import Iterator, Mapping
from typing import Any, ClassVar

import pytest

from parchd.contract import AdapterKind, Options, Services, Sink, SinkUnavailable, StoredReading
from parchd.testing.clock import FakeClock
from parchd.testing.influx_fake import FakeInflux
from parchd.testing.sink import FakeSink
from parchd.testing.sink_suite import JudgedSinkSuite, Stored, sample_rows
from parchd_adapters import influxdb


class MemoryOptions(Options):
    batch_rows: int = 1000


def build_memory(options: MemoryOptions, services: Services) -> FakeSink:
    return FakeSink(options.batch_rows)


class MemoryRig:
    """A fake sink is its own server."""

    def __init__(self) -> None:
        self.bad: set[str] = set()
        self.rows: dict[tuple[str, int], StoredReading] = {}
        self.sinks: list[FakeSink] = []

    def open(self) -> FakeSink:
        sink = FakeSink(judge=lambda row: "refused" if row.channel in self.bad else None)
        sink.rows = self.rows
        self.sinks.append(sink)
        return sink

    def stored(self) -> Mapping[tuple[str, int], Stored]:
        return {
            key: Stored(row.value, row.gauge_kpa, row.tension_kpa, row.flag.value) for key, row in self.rows.items()
        }

    def lose(self) -> None:
        for sink in self.sinks:
            sink.away = SinkUnavailable("away")

    def restore(self) -> None:
        for sink in self.sinks:
            sink.away = None

    def refuse(self, channel: str) -> None:
        self.bad.add(channel)


class TestFakeSink(JudgedSinkSuite):
    kind: ClassVar[AdapterKind[Any, Sink]] = AdapterKind(MemoryOptions, build_memory)
    options: ClassVar[Mapping[str, object]] = {"batch_rows": 10}

    @pytest.fixture
    def rig(self) -> MemoryRig:
        return MemoryRig()

    def test_it_fails_as_it_is_told_and_then_works(self) -> None:
        sink = FakeSink()
        sink.fail(SinkUnavailable("busy"), SinkUnavailable("still busy"))
        for _ in range(2):
            with pytest.raises(SinkUnavailable):
                sink.write(sample_rows(2))
        assert not sink.rows
        sink.write(sample_rows(2))
        assert sink.writes == [(1, 2)]
        assert sink.failures == 2

    def test_it_can_lose_the_answer_but_not_the_rows(self) -> None:
        sink = FakeSink()
        sink.fail(SinkUnavailable("reset"), after_storing=True)
        with pytest.raises(SinkUnavailable):
            sink.write(sample_rows(2))
        assert len(sink.rows) == 2
        assert sink.writes == []


INFLUX_OPTIONS = {"url": "http://127.0.0.1:9", "org": "farm", "bucket": "tension", "token": "secret-token"}


class InfluxRig:
    """The sink on a scripted server."""

    def __init__(self, *, partial: bool, quotes: bool, gzip: bool) -> None:
        self.bad: set[str] = set()
        self.gzip = gzip
        self.server = FakeInflux(judge=self._judge, partial=partial, quotes=quotes)

    def open(self) -> Sink:
        options = influxdb.InfluxOptions.model_validate({**INFLUX_OPTIONS, "url": self.server.url, "gzip": self.gzip})
        return influxdb.build(options, Services("copy", "Quillmere Orchard", FakeClock()))

    def stored(self) -> Mapping[tuple[str, int], Stored]:
        return dict(_read_back(*item) for item in self.server.lines.items())

    def lose(self) -> None:
        self.server.stop()

    def restore(self) -> None:
        self.server.start()

    def refuse(self, channel: str) -> None:
        self.bad.add(channel)

    def _judge(self, line: str) -> str | None:
        return "missing field value" if any(f"channel={channel}," in line for channel in self.bad) else None


def _read_back(key: tuple[str, str], text: str) -> tuple[tuple[str, int], Stored]:
    series, stamp = key
    tags = dict(pair.split("=") for pair in series.split(",")[1:])
    fields = dict(pair.split("=") for pair in text.split(","))
    raw = next((name for name in fields if name.startswith("raw_")), "")
    value, gauge_kpa, tension_kpa = (
        float(fields[name]) if name in fields else None for name in (raw, "gauge_kpa", "tension_kpa")
    )
    return (tags["channel"], int(stamp)), Stored(value, gauge_kpa, tension_kpa, int(fields["flag"].removesuffix("i")))


class TestInfluxdb(JudgedSinkSuite):
    kind: ClassVar[AdapterKind[Any, Sink]] = influxdb.KIND
    options: ClassVar[Mapping[str, object]] = INFLUX_OPTIONS

    @pytest.fixture(
        params=[(False, True, False), (True, True, True), (True, False, False), (False, False, True)],
        ids=["all-or-nothing-quoted", "partial-quoted-gzip", "partial-mute", "all-or-nothing-mute-gzip"],
    )
    def rig(self, request: pytest.FixtureRequest) -> Iterator[InfluxRig]:
        partial, quotes, gzip = request.param
        rig = InfluxRig(partial=partial, quotes=quotes, gzip=gzip)
        with rig.server:
            yield rig
