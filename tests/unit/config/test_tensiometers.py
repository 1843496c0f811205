"""What tensiometers inherit, and the column of water that they are corrected for."""

from dataclasses import replace

import pytest

from parchd.pipeline.setup import TensiometerSetup
from parchd.testing.config_folder import BASE, ConfigFolder, changed, line_of


def only(config: ConfigFolder, text: str) -> TensiometerSetup:
    (tensiometer,) = config.load(text).pipeline.tensiometers
    return tensiometer


def test_the_nearer_table_wins_key_by_key(config: ConfigFolder) -> None:
    text = BASE + "[defaults]\ninterval_s = 60\ntemperature_channel = 'bus1/t'\nheight_cm = 99\n"
    text += "[zones.north.defaults]\ninterval_s = 300\nheight_cm = 98\n"
    tensiometer = only(config, text)
    assert (tensiometer.interval_s, tensiometer.temperature_channel, tensiometer.height_m) == (300, "bus1/t", 0.45)


def test_what_nobody_says_has_a_usual_value(config: ConfigFolder) -> None:
    tensiometer = only(config, BASE)
    assert (tensiometer.interval_s, tensiometer.place.station) == (600.0, "main")
    assert (tensiometer.adc, tensiometer.supply_channel, tensiometer.calibrations) == (None, None, ())


@pytest.mark.parametrize("key", ["zone", "depth_cm", "channel", "transducer"])
def test_what_a_tensiometer_must_have_is_missed_at_its_table(config: ConfigFolder, key: str) -> None:
    lines = BASE.splitlines(keepends=True)
    start = line_of("[tensiometers.n1]", BASE)
    text = "".join(line for i, line in enumerate(lines) if not (i >= start and line.startswith(key)))
    problem = config.problem(text)
    assert (problem.line, problem.key, problem.found) == (start, "tensiometers.n1", "nothing")
    assert problem.expected.startswith(f"{key}: ")


def test_a_height_is_never_taken_for_granted(config: ConfigFolder) -> None:
    problem = config.problem(changed("height_cm = 45\n", ""))
    assert problem.expected.startswith("height_cm: ")
    assert "zeroed_in_water" in problem.hint


def test_a_sloping_tube_spans_the_sine_of_its_length(config: ConfigFolder) -> None:
    tensiometer = only(config, changed("height_cm = 45", "tube_length_cm = 100\ntube_angle_deg = 45"))
    assert tensiometer.height_m == pytest.approx(0.7071, abs=1e-4)  # facts: 1.0 m at 45 deg is 0.7071 m


def test_a_transducer_below_the_cup_has_a_negative_height(config: ConfigFolder) -> None:
    assert only(config, changed("height_cm = 45", "height_cm = -20")).height_m == -0.2


def test_a_gauge_zeroed_in_water_is_corrected_for_nothing(config: ConfigFolder) -> None:
    loaded = config.load(changed("height_cm = 45", "zeroed_in_water = true"))
    assert loaded.pipeline.tensiometers[0].height_m == 0.0
    assert loaded.zeroed == {"n1"}


def test_the_limit_of_a_gauge_zeroed_in_water_counts_on_its_depth_and_15_cm(config: ConfigFolder) -> None:
    zeroed = only(config, changed("height_cm = 45", "zeroed_in_water = true"))
    assert zeroed.usable_limit_kpa == pytest.approx(only(config, BASE).usable_limit_kpa)


def test_correcting_twice_is_refused(config: ConfigFolder) -> None:
    text = changed("height_cm = 45", "zeroed_in_water = true\nheight_cm = 45")
    problem = config.problem(text)
    assert (problem.line, problem.key) == (line_of("height_cm", text), "tensiometers.n1.height_cm")
    assert "twice" in problem.expected


def test_a_height_of_ones_own_with_a_zero_for_all_is_correcting_twice(config: ConfigFolder) -> None:
    problem = config.problem(BASE + "[defaults]\nzeroed_in_water = true\n")
    assert (problem.key, problem.line) == ("tensiometers.n1.height_cm", line_of("height_cm", BASE))
    assert "zeroed_in_water = false" in problem.hint


def test_a_zero_of_ones_own_takes_the_place_of_the_height_for_all(config: ConfigFolder) -> None:
    text = changed("height_cm = 45", "zeroed_in_water = true") + "[defaults]\nheight_cm = 45\n"
    assert only(config, text).height_m == 0.0


def test_not_zeroed_takes_the_place_of_zeroed_for_all(config: ConfigFolder) -> None:
    text = changed("height_cm = 45", "zeroed_in_water = false\nheight_cm = 45")
    assert only(config, text + "[defaults]\nzeroed_in_water = true\n").height_m == 0.45


def test_a_default_that_corrects_twice_is_reported_once(config: ConfigFolder) -> None:
    text = changed("height_cm = 45\n", "") + "[tensiometers.n2]\nzone = 'north'\ndepth_cm = 30\nchannel = 'bus1/a1'\n"
    text += "transducer = 'vac'\n[defaults]\nheight_cm = 45\nzeroed_in_water = true\n"
    problem = config.problem(text)
    assert (problem.key, problem.line) == ("defaults.height_cm", line_of("height_cm", text))
    assert "tensiometer n1" in problem.hint


@pytest.mark.parametrize(
    ("keys", "found"),
    [
        ("height_cm = 45\ntube_length_cm = 50\ntube_angle_deg = 60", "height_cm and tube_length_cm"),
        ("height_cm = 45\ntube_angle_deg = 60", "an angle together with height_cm"),
        ("tube_length_cm = 45", "tube_length_cm alone"),
    ],
)
def test_a_column_that_is_not_clear_is_refused(config: ConfigFolder, keys: str, found: str) -> None:
    assert config.problem(changed("height_cm = 45", keys)).found == found


def test_a_nearer_tube_takes_the_place_of_a_height_for_all(config: ConfigFolder) -> None:
    text = changed("height_cm = 45", "tube_length_cm = 100\ntube_angle_deg = 90") + "[defaults]\nheight_cm = 45\n"
    assert only(config, text).height_m == 1.0


def test_a_supply_of_ones_own_takes_the_place_of_the_transducers(config: ConfigFolder) -> None:
    text = changed("high_kpa = -100", "high_kpa = -100\nsupply_channel = 'bus1/vcc'")
    assert only(config, text).supply_channel == "bus1/vcc"
    text = changed("height_cm = 45", "height_cm = 45\nsupply_channel = 'bus1/v2'", text)
    assert only(config, text).supply_channel == "bus1/v2"


def test_place_names_site_zone_station_and_depth(config: ConfigFolder) -> None:
    place = only(config, changed("height_cm = 45", "height_cm = 45\nstation = 'row-4'")).place
    assert place == replace(place, site="Quillmere Orchard", zone="north", station="row-4", depth_m=0.3)
