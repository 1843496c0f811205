"""What makes tensions uncertain: what is written, and what is assumed where nothing is."""

import math
from dataclasses import replace

import pytest

from parchd.config.judging import USUAL_KPA, decides_at_kpa
from parchd.physics.uncertainty import Sources
from parchd.testing.config_folder import BASE, ConfigFolder, changed, line_of

VAC = 'kind = "ratiometric"\nlow_kpa = 0\nhigh_kpa = -100\n'
ABSOLUTE = 'kind = "pressure"\nreference = "absolute"\n'
BAROMETER = 'altitude_m = 100\nbarometer_channel = "bus1/air"'


def errors(config: ConfigFolder, text: str = BASE) -> Sources:
    (tensiometer,) = config.load(text).pipeline.tensiometers
    return tensiometer.errors


def test_what_nobody_states_is_assumed(config: ConfigFolder) -> None:
    assert errors(config) == Sources(
        accuracy_kpa=2.5,
        drift_kpa_per_year=0.5,
        transducer_half_kpa=0.5,
        height_m=0.45,
        height_half_m=0.01,
        water_c=20.0,
        water_half_c=10.0,
    )
    assert config.load().assumed["n1"] == {
        "accuracy_kpa", "drift_kpa_per_year", "temperature_effect_kpa", "height_half_cm", "water_half_c",
        "barometer_channel", "barometer_u_kpa",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("keys", "span_kpa"),
    [
        (VAC, 100.0),
        (VAC.replace("-100", "-40"), 40.0),
        ('kind = "bridge"\nsensitivity_mv_per_v = 2\nfull_scale_kpa = 60\n', 60.0),
        ('kind = "digital"\nbits = 14\nlow_kpa = -80\nhigh_kpa = 0\n', 80.0),
        ('kind = "linear"\nv1 = 0\nkpa1 = 0\nv2 = 5\nkpa2 = -50\n', 50.0),
        ('kind = "pressure"\n', 100.0),
    ],
)
def test_assumed_errors_are_shares_of_the_span(config: ConfigFolder, keys: str, span_kpa: float) -> None:
    text = changed("plan_kpa = 30\nnow_kpa = 40", "plan_kpa = 20", changed(VAC, keys))
    found = errors(config, text)
    assert found.accuracy_kpa == pytest.approx(0.025 * span_kpa)
    assert found.drift_kpa_per_year == found.transducer_half_kpa == pytest.approx(0.005 * span_kpa)


@pytest.mark.parametrize(
    ("old", "new", "field", "value"),
    [
        (VAC, VAC + "accuracy_kpa = 1\n", "accuracy_kpa", 1.0),
        (VAC, VAC + "accuracy_kpa = 0\n", "accuracy_kpa", 0.0),
        (VAC, VAC + "drift_kpa_per_year = 0.1\n", "drift_kpa_per_year", 0.1),
        (VAC, VAC + "temperature_effect_kpa = 0.2\n", "transducer_half_kpa", 0.2),
        (VAC, VAC + "readings_averaged = 16\n", "readings", 16),
        ("height_cm = 45", "height_cm = 45\nheight_half_cm = 3", "height_half_m", 0.03),
        ("height_cm = 45", "height_cm = 45\nwater_half_c = 4", "water_half_c", 4.0),
        ("height_cm = 45", 'height_cm = 45\ntemperature_channel = "bus1/t"', "water_half_c", 2.0),
        ("height_cm = 45", "height_cm = -20", "height_m", -0.2),
        ("height_cm = 45", "zeroed_in_water = true", "height_m", 0.0),
        ("altitude_m = 100", "altitude_m = 100\nwater_c = 12", "water_c", 12.0),
        # facts 3.5: a step of 10 bits over 5 V is 4.8828 mV, 0.122 kPa at 40 mV/kPa
        (VAC, VAC + "adc = { bits = 10, full_scale_v = 5 }\n", "step_kpa", 100.0 / 0.8 / 1024),
    ],
)
def test_what_is_stated_counts(config: ConfigFolder, old: str, new: str, field: str, value: float) -> None:
    assert getattr(errors(config, changed(old, new)), field) == pytest.approx(value)


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        (VAC, VAC + "accuracy_kpa = 2.5\n", "accuracy_kpa"),
        (VAC, VAC + "drift_kpa_per_year = 0.5\n", "drift_kpa_per_year"),
        (VAC, VAC + "temperature_effect_kpa = 0.5\n", "temperature_effect_kpa"),
        ("height_cm = 45", "height_cm = 45\nheight_half_cm = 1", "height_half_cm"),
        ("height_cm = 45", "height_cm = 45\nwater_half_c = 10", "water_half_c"),
        ("altitude_m = 100", BAROMETER, "barometer_channel"),
        ("altitude_m = 100", BAROMETER + "\nbarometer_u_kpa = 0.1", "barometer_u_kpa"),
    ],
)
def test_what_is_stated_is_assumed_no_more(config: ConfigFolder, old: str, new: str, key: str) -> None:
    assert key in config.load().assumed["n1"]
    assert key not in config.load(changed(old, new)).assumed["n1"]


CORRECTED = """
[[tensiometers.n1.calibration]]
valid_from = 2026-03-01
points = [[0.5, 0], [2.1, 40], [3.7, 80]]
zero_kpa_per_k = 0.02
"""


@pytest.mark.parametrize(
    ("channel", "table", "calibration", "half_kpa"),
    [
        ('temperature_channel = "bus1/t"', VAC, CORRECTED, 0.1),
        ('temperature_channel = "bus1/t"', VAC, CORRECTED.replace("0.02", "0"), 0.5),
        ("", VAC, CORRECTED, 0.5),
        ('temperature_channel = "bus1/t"', VAC + "temperature_effect_kpa = 0.4\n", CORRECTED, 0.4),
    ],
)
def test_less_is_assumed_of_a_temperature_that_is_corrected_for(
    config: ConfigFolder, channel: str, table: str, calibration: str, half_kpa: float
) -> None:
    text = changed("height_cm = 45", f"height_cm = 45\n{channel}", changed(VAC, table)) + calibration
    assert errors(config, text).transducer_half_kpa == pytest.approx(half_kpa)


def test_errors_are_inherited_like_all_keys_of_a_tensiometer(config: ConfigFolder) -> None:
    text = BASE + "[defaults]\nheight_half_cm = 5\nwater_half_c = 8\n[zones.north.defaults]\nheight_half_cm = 2\n"
    found = errors(config, text)
    assert (found.height_half_m, found.water_half_c) == (0.02, 8.0)


@pytest.mark.parametrize(
    ("keys", "site", "u_kpa"),
    [
        (VAC, BAROMETER, 0.0),
        (VAC, "altitude_m = 100", 0.0),
        (ABSOLUTE, BAROMETER, 0.1),
        (ABSOLUTE, BAROMETER + "\nbarometer_u_kpa = 0.25", 0.25),
        (ABSOLUTE, "altitude_m = 100", 3.0 / math.sqrt(3.0)),  # facts 3.6: weather swings about +/-3 kPa
        (VAC + 'reference = "sealed"\n', "altitude_m = 100", 3.0 / math.sqrt(3.0)),
    ],
)
def test_the_air_counts_where_a_transducer_feels_it(config: ConfigFolder, keys: str, site: str, u_kpa: float) -> None:
    text = changed("altitude_m = 100", site, changed(VAC, keys))
    assert errors(config, text).air_u_kpa == pytest.approx(u_kpa)


# --- barometer


@pytest.mark.parametrize("keys", [VAC, ABSOLUTE])
def test_a_barometer_is_named_once_for_the_site(config: ConfigFolder, keys: str) -> None:
    text = changed("altitude_m = 100", 'altitude_m = 1000\nbarometer_channel = "bus1/air"', changed(VAC, keys))
    (tensiometer,) = config.load(text).pipeline.tensiometers
    assert tensiometer.barometer_channel == "bus1/air"
    assert tensiometer.air_kpa == pytest.approx(90.02, abs=0.005)  # facts 2.3: 1000 m
    assert config.warnings(text) == []


def test_a_barometer_that_is_a_tensiometer_is_refused(config: ConfigFolder) -> None:
    text = changed("altitude_m = 100", 'altitude_m = 100\nbarometer_channel = "bus1/a0"')
    problem = config.problem(text)
    assert (problem.key, problem.line) == ("site.barometer_channel", line_of("barometer_channel", text))
    assert "n1" in problem.found


def test_a_barometer_of_a_source_that_is_not_there_is_refused(config: ConfigFolder) -> None:
    problem = config.problem(changed("altitude_m = 100", 'altitude_m = 100\nbarometer_channel = "bus2/air"'))
    assert (problem.key, problem.hint) == ("site.barometer_channel", "did you mean bus1?")


def test_an_uncertainty_without_a_barometer_is_odd(config: ConfigFolder) -> None:
    text = changed("altitude_m = 100", "altitude_m = 100\nbarometer_u_kpa = 0.2")
    assert config.warning(text).key == "site.barometer_u_kpa"


@pytest.mark.parametrize("keys", [ABSOLUTE, VAC + 'reference = "sealed"\n'])
def test_a_transducer_that_feels_the_weather_without_a_barometer_is_odd(config: ConfigFolder, keys: str) -> None:
    warning = config.warning(changed(VAC, keys))
    assert (warning.key, warning.line) == ("site", line_of("[site]", BASE))
    assert "n1" in warning.found
    assert "3 kPa" in warning.hint


def test_many_of_them_are_one_warning(config: ConfigFolder) -> None:
    text = changed(VAC, ABSOLUTE)
    for number in range(2, 6):
        text += f'[tensiometers.n{number}]\nzone = "north"\ndepth_cm = 30\nheight_cm = 45\n'
        text += f'channel = "bus1/b{number}"\ntransducer = "vac"\n'
    assert "n1, n2, n3, ..., which" in config.warning(text).found


# --- where it matters


def test_uncertainty_is_told_at_the_limit_that_decides(config: ConfigFolder) -> None:
    def at_kpa(text: str) -> float:
        loaded = config.load(text)
        return decides_at_kpa(loaded, loaded.pipeline.tensiometers[0].place)

    plan_only = changed("now_kpa = 40\n", "")
    assert (at_kpa(BASE), at_kpa(plan_only)) == (40.0, 30.0)
    assert at_kpa(changed("height_cm = 45", "height_cm = 45\nplan_kpa = 22")) == 22.0
    assert at_kpa(changed("plan_kpa = 30\nnow_kpa = 40\n", "")) == USUAL_KPA


def test_the_place_is_asked_for_by_name_and_zone(config: ConfigFolder) -> None:
    loaded = config.load()
    elsewhere = replace(loaded.pipeline.tensiometers[0].place, zone="creek")
    assert decides_at_kpa(loaded, elsewhere) == USUAL_KPA
