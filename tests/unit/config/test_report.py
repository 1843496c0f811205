"""Texts for people."""

import pytest

from parchd.config.report import effective_text, errors_text
from parchd.contract import Problem
from parchd.testing.config_folder import BASE, ConfigFolder, changed


def test_problems_of_one_file_stand_together() -> None:
    problems = [
        Problem("a.toml", 1, "x", "1", "2"),
        Problem("a.toml", 2, "y", "", "3"),
        Problem("b.toml", None, "z", "", "4"),
    ]
    assert [block.splitlines()[0] for block in errors_text(problems).split("\n\n")] == [
        "a.toml:1: x",
        "b.toml: z",
        "3 problems",
    ]


def test_nothing_is_found_and_no_hint_is_known_leave_no_line() -> None:
    assert errors_text([Problem("a.toml", 1, "x", "", "2")]) == "a.toml:1: x\n    expected  2\n\n1 problem"


def test_warnings_are_counted_as_such() -> None:
    assert errors_text([Problem("", None, "PARCHD_X", "a", "b")], "warning").endswith("\n\n1 warning")


def test_long_places_and_long_words_keep_their_line() -> None:
    path = "/etc/parchd/" + "x" * 70 + ".toml"
    text = errors_text([Problem(path, 7, "site.name", "y" * 90, "z " * 90)])
    assert text.splitlines()[:2] == [f"{path}:7:", "    site.name"]
    assert "y" * 90 in text


AIR = '\nbarometer_channel = "bus1/air"'
BRIDGE = 'kind = "bridge"\nsensitivity_mv_per_v = 3.33\nfull_scale_kpa = 100\n'
VAC = 'kind = "ratiometric"\nlow_kpa = 0\nhigh_kpa = -100\n'


def words(config: ConfigFolder, text: str, now_us: int | None = None) -> str:
    return " ".join(effective_text(config.load(text), now_us).split())


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("altitude_m = 100", "altitude_m = 1500\nwater_c = 12", "water 12 C where none is measured limit 69.4 kPa"),
        ("now_kpa = 40", 'now_kpa = 40\ncrop = "apples"\nsoil = "silt"', "north apples; silt plan at 30 kPa"),
        ("now_kpa = 40", 'now_kpa = 40\ndecide = "any"', "by readings of any time from n1"),
        ("plan_kpa = 30\n", "", "irrigate at 40 kPa; clears 3 kPa lower"),
        ("plan_kpa = 30\nnow_kpa = 40\n", "", "north no irrigation alarm"),
        ("height_cm = 45", "height_cm = 45", "n1 north/main 30 45 4.41 79.4 30 40 yes"),
        ("height_cm = 45", "zeroed_in_water = true", "n1 north/main 30 zeroed 0.00 79.4 30 40 yes"),
        ("height_cm = 45", "height_cm = 45\nnow_kpa = 50", "4.41 79.4 - 50* yes"),
        ("height_cm = 45", "height_cm = 45\ndecides = false", "4.41 79.4 - - no"),
        ("high_kpa = -100", "high_kpa = -100\nadc = { bits = 12, full_scale_v = 5 }", "12 bit, 5 V"),
        ("high_kpa = -100", "high_kpa = -100\nsupply_channel = 'bus1/vcc'", "supply on bus1/vcc"),
        ("height_cm = 45", "height_cm = 45\ntemperature_channel = 'bus1/t'", "temperature on bus1/t"),
        ('"ratiometric"', '"current-loop"\nshunt_ohm = 150', "4 to 20 mA for 0 to -100 kPa, over 150 ohm"),
        (VAC, 'kind = "linear"\nv1 = 0\nkpa1 = 0\nv2 = 5\nkpa2 = -100\n', "0 to 5 V for 0 to -100 kPa"),
        (VAC, 'kind = "pressure"\n', "bus1/a0 kPa, vacuum negative"),
        (VAC, 'kind = "pressure"\nvacuum_positive = true\n', "bus1/a0 kPa of vacuum"),
        (
            VAC,
            'kind = "pressure"\nreference = "absolute"\n',
            "bus1/a0 kPa; absolute; air taken from the altitude, +/-3 kPa",
        ),
        (VAC, VAC + 'reference = "sealed"\nsealed_at_kpa = 100\n', "for 0 to -100 kPa; sealed at 100 kPa; air taken"),
        (VAC, BRIDGE, "bridge on 5 V, 3.33 mV/V for 100 kPa not calibrated"),
        (
            VAC,
            BRIDGE + "zero_mv_per_v = 0.1\nvacuum_positive = true\n",
            "100 kPa, 0.1 mV/V at rest, rising with vacuum",
        ),
        (VAC, 'kind = "digital"\nbits = 14\nlow_kpa = -100\nhigh_kpa = 0\n', "10 to 90 % of 14 bit for -100 to 0 kPa"),
        ("altitude_m = 100", "altitude_m = 1500", "altitude 1500 m, 84.8 kPa of air barometer none, the air is taken"),
        ("altitude_m = 100", "altitude_m = 1000" + AIR, "bus1/air; it should read about 90 kPa, and not the 101 kPa"),
        ("altitude_m = 100", "altitude_m = 100" + AIR, "bus1/air; it should read about 100 kPa water"),
        # facts 2.4: 68.4 by the offset model and 72.1 by the ratio model at 1500 m
        ("altitude_m = 100", "altitude_m = 1500", "limit 68.4 kPa less the head (offset model"),
        ("altitude_m = 100", "altitude_m = 1500", "the ratio model, 85 % of the air, gives 72.1)"),
        ("height_cm = 45", "height_cm = 45", "the line of the data sheet; U 2.9 kPa at 40 kPa (data sheet, 96 %)"),
        ("now_kpa = 40", "now_kpa = 40\nmin_trusted = 1", "from n1 Tensiometers"),
        ("[zones.north]", "[store]\nkeep_days = 0\n[zones.north]", "readings kept for ever"),
        ("[zones.north]", "[schedule]\ndigest_at = 'never'\n[zones.north]", "digest never"),
        ("/hook", "/hook/token-in-the-path?key=abc", "url http://localhost:9/...; secret not set"),
        ("[notifiers.hook]", "[notifiers.hook]\nquiet_hours = ['21:00', '06:00']", "quiet 21:00 to 06:00 but high"),
    ],
)
def test_the_effective_values_are_told(config: ConfigFolder, old: str, new: str, expected: str) -> None:
    assert expected in words(config, changed(old, new))


def test_the_calibration_in_force_is_told(config: ConfigFolder) -> None:
    text = BASE
    for year, volts in ((2025, 0.5), (2026, 0.516)):
        text += f"[[tensiometers.n1.calibration]]\nvalid_from = {year}-03-01\npoints = [[{volts}, 0]]\n"
    assert "calibrated 2026-03-01: 1 point, slope 1.000, offset -0.40 kPa" in words(config, text)
    assert "calibrated 2025-03-01" in words(config, text, 1_750_000_000_000_000)
    assert "not calibrated" in words(config, text, 1_700_000_000_000_000)


def test_the_air_of_an_absolute_transducer_is_told_with_its_barometer(config: ConfigFolder) -> None:
    text = changed(
        "altitude_m = 100", "altitude_m = 100" + AIR, changed(VAC, 'kind = "pressure"\nreference = "absolute"\n')
    )
    assert "bus1/a0 kPa; absolute; air on bus1/air" in words(config, text)


def test_a_calibration_that_says_nothing_of_its_reference_is_told(config: ConfigFolder) -> None:
    text = BASE + "[[tensiometers.n1.calibration]]\nvalid_from = 2026-03-01\n"
    text += "points = [[0.5, 0], [2.1, 40.1], [3.7, 80]]\n"
    assert "; nothing is known of its reference)" in words(config, text)
    assert "; nothing is known" not in words(config, text + "reference_u_kpa = 0.2\n")


def test_a_site_without_anything_has_a_text_too(config: ConfigFolder) -> None:
    assert effective_text(config.load(BASE[: BASE.index("[transducers")])).startswith("Quillmere Orchard\n  time zone")
