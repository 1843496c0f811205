"""What ``parchd status`` shows of water that moves, and of the barometer."""

import pytest

from parchd.clock import SystemClock
from parchd.contract import Sample, SampleBatch, Unit
from parchd.testing.bench import Bench
from parchd.testing.commands import Farm, parchd

DEEP = 'station = "post-1"'
"""``t1`` gets a station of its own; it is put below ``t0``."""


@pytest.fixture
def station(quillmere: Farm) -> Farm:
    """Both tensiometers at one station, at 30 and 60 cm, and a barometer at 1000 m."""
    text = quillmere.config.read_text()
    assert text.count(DEEP) == 1
    text = text.replace(DEEP, 'station = "post-0"\ndepth_cm = 60')
    text = text.replace("altitude_m = 100", 'altitude_m = 1000\nbarometer_channel = "field/air"')
    quillmere.config.write_text(text.replace('kind = "pressure"', 'kind = "pressure"\naccuracy_kpa = 0.5'))
    return quillmere


def feed(bench: Bench, *samples: tuple[str, float, Unit]) -> None:
    now_us = SystemClock().now_us()
    bench.turn(now_us, SampleBatch("field", tuple(Sample(name, now_us, value, unit) for name, value, unit in samples)))


def lines(farm: Farm) -> list[str]:
    return [" ".join(line.split()) for line in parchd("status", farm.config).out.splitlines()]


def test_water_that_moves_is_shown_with_its_gradient(station: Farm) -> None:
    """30 over 20 kPa on 30 cm: 1 - 10 / (9.80665 * 0.3).

    Data sheet and temperature, 0.5 kPa each, and 1 cm of water make U 0.82 kPa, rectangular: 0.4 in the gradient.
    """
    with station.engine() as bench:
        feed(bench, ("c0", 30.0, Unit.KPA), ("c1", 20.0, Unit.KPA))
    out = lines(station)
    row = out[out.index("Water moves") + 1]
    assert row.startswith("north block, post-0 30 to 60 cm up (gradient -2.4 +/- 0.4)")


def test_without_two_depths_there_is_no_such_table(station: Farm) -> None:
    with station.engine() as bench:
        feed(bench, ("c0", 30.0, Unit.KPA))
    assert "Water moves" not in lines(station)


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        (90.2, Unit.KPA, "field/air 90.2 kPa fits the altitude"),
        (902.0, Unit.HPA, "field/air 90.2 kPa fits the altitude"),
        (101.3, Unit.KPA, "field/air 101.3 kPa looks reduced to sea level"),
        (60.0, Unit.KPA, "field/air 60.0 kPa fits neither the altitude nor sea level"),
    ],
)
def test_the_barometer_is_compared_with_its_altitude(station: Farm, value: float, unit: Unit, said: str) -> None:
    """Facts 2.3: 90.02 kPa at 1000 m; facts 3.6: reduced to sea level it is 11.3 kPa too much there."""
    with station.engine() as bench:
        feed(bench, ("air", value, unit))
    out = lines(station)
    assert out[out.index("Barometer") + 1].startswith(said)


@pytest.mark.parametrize("sample", [("air", 20.0, Unit.CELSIUS), ("c0", 20.0, Unit.KPA)])
def test_a_barometer_that_says_nothing_of_pressure_is_not_shown(station: Farm, sample: tuple[str, float, Unit]) -> None:
    with station.engine() as bench:
        feed(bench, sample)
    assert "Barometer" not in lines(station)
