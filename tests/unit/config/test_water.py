"""Air in the tube, transducers below the cup, and the limits that follow."""

import pytest

from parchd.pipeline.setup import TensiometerSetup
from parchd.testing.config_folder import BASE, ConfigFolder, changed, line_of

VAC = 'kind = "ratiometric"\nlow_kpa = 0\nhigh_kpa = -100\n'


def only(config: ConfigFolder, text: str) -> TensiometerSetup:
    (tensiometer,) = config.load(text).pipeline.tensiometers
    return tensiometer


@pytest.mark.parametrize(
    ("keys", "height_m"),
    [
        ("height_cm = 45\nwater_cm = 38", 0.38),
        ("height_cm = 45\nwater_cm = 60", 0.45),
        ("tube_length_cm = 100\ntube_angle_deg = 30\nwater_cm = 42", 0.42),
        ("tube_length_cm = 100\ntube_angle_deg = 30\nwater_cm = 60", 0.50),
        ("height_cm = -20\nwater_cm = 30", -0.2),
    ],
)
def test_air_in_the_tube_ends_the_column(config: ConfigFolder, keys: str, height_m: float) -> None:
    """Facts 1.2: with a pocket of air the column goes up to the water's surface."""
    found = only(config, changed("height_cm = 45", keys))
    assert found.height_m == found.errors.height_m == pytest.approx(height_m)


def test_the_surface_of_the_water_is_inherited_beside_the_height(config: ConfigFolder) -> None:
    assert only(config, BASE + "[defaults]\nwater_cm = 40\n").height_m == 0.40


def test_the_surface_alone_is_no_height(config: ConfigFolder) -> None:
    assert config.problem(changed("height_cm = 45", "water_cm = 40")).expected.startswith("height_cm: ")


def test_water_and_a_zero_in_water_would_correct_twice(config: ConfigFolder) -> None:
    text = changed("height_cm = 45", "zeroed_in_water = true\nwater_cm = 40")
    problem = config.problem(text)
    assert (problem.key, problem.line) == ("tensiometers.n1.water_cm", line_of("water_cm", text))
    assert "twice" in problem.expected


def test_a_zero_of_ones_own_takes_the_place_of_water_for_all(config: ConfigFolder) -> None:
    text = changed("height_cm = 45", "zeroed_in_water = true") + "[defaults]\nheight_cm = 45\nwater_cm = 40\n"
    assert only(config, text).height_m == 0.0


def test_a_contradiction_stays_one_with_water(config: ConfigFolder) -> None:
    text = changed("height_cm = 45", "height_cm = 45\nwater_cm = 40\ntube_angle_deg = 60")
    assert config.problem(text).found == "an angle together with height_cm"


def test_a_tube_without_water_is_odd(config: ConfigFolder) -> None:
    text = changed("height_cm = 45", "height_cm = 45\nwater_cm = 4")
    warning = config.warning(text)
    assert (warning.key, warning.line) == ("tensiometers.n1.water_cm", line_of("water_cm", text))


def test_water_below_the_ground_is_nothing_odd(config: ConfigFolder) -> None:
    assert config.warnings(changed("height_cm = 45", "height_cm = 45\nwater_cm = 20")) == []


@pytest.mark.parametrize(("height_cm", "odd"), [(-100, False), (-101, True), (-400, True)])
def test_a_transducer_far_below_the_cup_is_odd(config: ConfigFolder, height_cm: int, odd: bool) -> None:
    warnings = config.warnings(changed("height_cm = 45", f"height_cm = {height_cm}"))
    assert [warning.key for warning in warnings] == ["tensiometers.n1.height_cm"] * odd
    assert all("below the cup" in warning.found for warning in warnings)


# --- the usable limit; facts 2.2 and 2.3: 100.12 kPa at 100 m, less 2.338 of vapour and 14 for gas is 83.78


@pytest.mark.parametrize(
    ("keys", "limit_kpa"),
    [
        ("height_cm = 45", 83.78 - 4.405),  # facts 1.4: 0.45 m at 20 C
        ("height_cm = 60\nwater_cm = 45", 83.78 - 4.405),
        ("height_cm = 45\nwater_cm = 60", 83.78 - 5.873),  # it boils at its highest point
        ("height_cm = -20", 83.78),
        ("height_cm = -20\nwater_cm = 30", 83.78 - 2.937),
    ],
)
def test_the_limit_counts_up_to_the_highest_water(config: ConfigFolder, keys: str, limit_kpa: float) -> None:
    found = only(config, changed("height_cm = 45", keys))
    assert found.usable_limit_kpa == pytest.approx(limit_kpa, abs=0.01)
    assert found.highest_kpa == pytest.approx(limit_kpa + 14.0, abs=0.01)


ABSOLUTE = 'kind = "ratiometric"\nlow_kpa = {}\nhigh_kpa = 115\nreference = "absolute"\n'


@pytest.mark.parametrize(
    ("keys", "height", "limit_kpa"),
    [
        (VAC.replace("-100", "-50"), "height_cm = 45", 50.0 - 4.405),
        (VAC.replace("-100", "-50"), "height_cm = -20", 50.0 + 1.958),  # 0.20 m at 20 C, 9.7891 kPa a metre
        (VAC.replace("-100", "-50"), "zeroed_in_water = true", 50.0 - 4.405),
        (ABSOLUTE.format(40), "height_cm = 45", 100.12 - 40.0 - 4.405),
        (ABSOLUTE.format(5), "height_cm = 45", 83.78 - 4.405),
        (VAC.replace("-100", "-50") + 'reference = "sealed"\n', "height_cm = 45", 100.12 - 51.325 - 4.405),
        ('kind = "bridge"\nsensitivity_mv_per_v = 2\nfull_scale_kpa = 50\n', "height_cm = 45", 50.0 - 4.405),
        ('kind = "pressure"\n', "height_cm = 45", 83.78 - 4.405),
    ],
)
def test_a_transducer_that_ends_before_the_water_is_the_limit(
    config: ConfigFolder, keys: str, height: str, limit_kpa: float
) -> None:
    text = changed("height_cm = 45", height, changed(VAC, keys))
    text = changed("altitude_m = 100", 'altitude_m = 100\nbarometer_channel = "bus1/air"', text)
    assert only(config, text).usable_limit_kpa == pytest.approx(limit_kpa, abs=0.01)


def test_an_alarm_beyond_the_range_of_the_transducer_is_refused(config: ConfigFolder) -> None:
    problem = config.problem(changed("high_kpa = -100", "high_kpa = -40"))
    assert problem.key == "zones.north.now_kpa"
    assert problem.expected == (
        "at most 35.6 kPa, the usable limit of n1: "
        "the range of vac ends at 40.0 kPa of vacuum, less 4.4 for 45 cm of water"
    )


def test_a_range_that_is_refused_binds_no_limit(config: ConfigFolder) -> None:
    assert config.problem(changed("high_kpa = -100", "high_kpa = 100")).key == "transducers.vac.high_kpa"
