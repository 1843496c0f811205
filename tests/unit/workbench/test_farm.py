"""Instruments taken from a configuration."""

from pathlib import Path

import pytest

from parchd.config import load
from parchd.testing.config_folder import BASE, ConfigFolder
from parchd.workbench.errors import SheetError
from parchd.workbench.farm import wanted_by
from parchd.workbench.geometry import Pattern
from parchd.workbench.lengths import Ruler

MORE = """
[tensiometers.n2]
zone = "north"
depth_cm = 30
height_cm = 49
channel = "bus1/a1"
transducer = "vac"
"""


@pytest.fixture
def config(tmp_path: Path) -> ConfigFolder:
    return ConfigFolder(tmp_path)


def test_tensiometers_are_counted_by_depth_and_the_site_is_taken_over(config: ConfigFolder) -> None:
    wanted = wanted_by(config.load(BASE + MORE), Pattern(), Ruler.CM)
    assert dict(wanted.depths_mm) == {300.0: 2}
    assert (wanted.site.name, wanted.site.altitude_m, wanted.site.water_c) == ("Quillmere Orchard", 100.0, 20.0)


def test_a_height_other_than_the_built_one_is_pointed_out(config: ConfigFolder) -> None:
    (note,) = wanted_by(config.load(BASE + MORE), Pattern(), Ruler.CM).notes
    assert "30 cm deep 45 cm, built 49 cm." in note  # 3 + 45 + 1
    fits = BASE.replace("height_cm = 45", "height_cm = 49.5")
    assert wanted_by(config.load(fits), Pattern(), Ruler.CM).notes == ()


def test_a_gauge_zeroed_in_water_has_no_height_that_could_differ(config: ConfigFolder) -> None:
    zeroed = BASE.replace("height_cm = 45", "zeroed_in_water = true")
    assert wanted_by(config.load(zeroed), Pattern(), Ruler.CM).notes == ()


def test_water_and_margin_of_the_site_are_used_so_that_limits_agree_with_the_daemon(config: ConfigFolder) -> None:
    loaded = config.load(BASE.replace("altitude_m = 100", "altitude_m = 100\nwater_c = 25\ngas_margin_kpa = 10"))
    site = wanted_by(loaded, Pattern(), Ruler.CM).site
    assert (site.water_c, site.gas_margin_kpa) == (25.0, 10.0)


def test_the_example_farm_can_be_built() -> None:
    wanted = wanted_by(load(Path(__file__).parents[3] / "config" / "farm.toml", {}, None), Pattern(), Ruler.CM)
    assert sum(wanted.depths_mm.values()) == 14


def test_a_configuration_without_tensiometers_is_refused(config: ConfigFolder) -> None:
    without = BASE[: BASE.index("[tensiometers.n1]")]
    with pytest.raises(SheetError, match="has no tensiometer: name depths with --depth"):
        wanted_by(config.load(without), Pattern(), Ruler.CM)
