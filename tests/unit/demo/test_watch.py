"""What the screen learns from a journal that a real engine writes, without a clock or a thread."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from parchd.app.engine import Engine
from parchd.app.messages import Tick
from parchd.app.setup import engine_setup
from parchd.clock import US_PER_S
from parchd.config import Loaded, load
from parchd.contract import Sample, SampleBatch, Unit
from parchd.demo.configuration import SECRET_FILE, Places, write_configuration
from parchd.demo.farm import CREEK, GROWER
from parchd.demo.picture import Gauge, Sign, ZonePicture
from parchd.demo.sandbox import new_secret
from parchd.demo.script import MINUTE_US, START_US
from parchd.demo.watch import Watch
from parchd.store.database import open_writer

NAMES = [one.name for one in CREEK.tensiometers]


class Field:
    """The creek terrace, fed by hand: volts in, a picture out."""

    def __init__(self, loaded: Loaded, engine: Engine, watch: Watch) -> None:
        self.loaded = loaded
        self.watch = watch
        self._engine = engine
        self._minute = 0

    def minutes(self, count: int, volts: float | None = 1.9, silent: str = "") -> None:
        """Let minutes pass in which every board but the silent one sends ``volts``."""
        for _ in range(count):
            self._minute += 1
            now_us = START_US + self._minute * MINUTE_US
            samples = tuple(Sample(name, now_us, volts, Unit.V) for name in NAMES if name != silent)
            self._engine.turn([SampleBatch("field", samples)], now_us)
            for half in (0, 30):
                self._engine.turn([Tick()], now_us + half * US_PER_S)

    def zone(self) -> ZonePicture:
        return self.watch.look(START_US + self._minute * MINUTE_US).zones[1]

    def gauge(self, name: str) -> Gauge:
        return next(gauge for gauge in self.zone().gauges if gauge.name == name)


@pytest.fixture
def field(tmp_path: Path) -> Iterator[Field]:
    new_secret(tmp_path / SECRET_FILE)
    places = Places("/dev/none", 1883, 2525, "http://127.0.0.1:1/alarms")
    loaded = load(write_configuration(tmp_path, places), {}, None)
    connection = open_writer(loaded.store.path)
    engine = Engine(connection, engine_setup(loaded, {"mail": (GROWER,), "controller": ("controller",)}), START_US)
    with Watch(loaded, 60.0) as watch:
        yield Field(loaded, engine, watch)
    connection.close()


def test_before_the_first_sample_nothing_is_known(field: Field) -> None:
    zone = field.zone()
    assert (zone.sign, zone.words) == (Sign.UNKNOWN, "unknown, decided from 05:00")
    assert {(gauge.sign, gauge.words, gauge.tension_kpa) for gauge in zone.gauges} == {
        (Sign.UNKNOWN, "not heard yet", None)
    }


def test_a_sample_shows_as_tension_at_the_cup(field: Field) -> None:
    field.minutes(1, volts=1.9)
    # 1.9 V of 5 V is 38 %: 35 kPa of vacuum; 50 cm of water at 20 C weigh 4.89 kPa (998.2 kg/m3 x 9.80665 x 0.5 m).
    assert field.gauge("bridge-30").tension_kpa == pytest.approx(35.0 - 4.89, abs=0.01)


def test_only_the_early_morning_decides_and_then_the_zone_has_a_need(field: Field) -> None:
    field.minutes(19, volts=2.4)
    assert field.zone().sign is Sign.UNKNOWN
    field.minutes(10, volts=2.4)
    zone = field.zone()
    assert (zone.sign, zone.words) == (Sign.NOW, "irrigate now")
    assert zone.tension_kpa == pytest.approx(47.5 - 4.89, abs=0.01)


def test_a_silent_tensiometer_has_no_value(field: Field) -> None:
    field.minutes(2)
    field.minutes(7, silent="willow-60")
    gauge = field.gauge("willow-60")
    assert (gauge.sign, gauge.words, gauge.tension_kpa) == (Sign.SILENT, "silent", None)
    assert field.gauge("willow-30").sign is Sign.WELL


def test_a_broken_wire_is_a_fault_with_its_cause_and_no_value(field: Field) -> None:
    field.minutes(2)
    field.minutes(1, volts=0.0)
    gauge = field.gauge("bridge-30")
    assert (gauge.sign, gauge.words, gauge.tension_kpa) == (Sign.FAULT, "open circuit", None)
    assert [point.tension_kpa is None for point in gauge.history] == [False, False, True]


def test_the_history_is_the_last_hour_and_ends_now(field: Field) -> None:
    field.minutes(80)
    history = field.gauge("bridge-30").history
    assert len(history) == 61
    assert (history[0].age_min, history[-1].age_min) == (60.0, 0.0)


def test_every_sample_is_counted_once(field: Field) -> None:
    field.minutes(3)
    field.zone()
    field.minutes(2)
    field.zone()
    assert field.watch.samples == 5 * len(NAMES)
