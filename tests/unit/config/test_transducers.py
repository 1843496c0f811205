"""Bridges, digital transducers, what a transducer measures against, dividers and shunts."""

from typing import Any

import pytest

from parchd.config.electrics import BY_KIND
from parchd.physics.adc import Adc, divider_gain
from parchd.physics.reference import SEALED_AT_KPA, Reference
from parchd.physics.transducers import (
    Bridge,
    CurrentLoop,
    DigitalScale,
    DirectPressure,
    LinearVoltage,
    Ratiometric,
    Transducer,
)
from parchd.pipeline.setup import TensiometerSetup
from parchd.testing.config_folder import BASE, ConfigFolder, changed, line_of

VAC = 'kind = "ratiometric"\nlow_kpa = 0\nhigh_kpa = -100\n'
LOOP = 'kind = "current-loop"\nlow_kpa = 0\nhigh_kpa = -100\n'
BRIDGE = 'kind = "bridge"\nsensitivity_mv_per_v = 3.33\nfull_scale_kpa = 100\n'
DIGITAL = 'kind = "digital"\nbits = 14\nlow_kpa = -100\nhigh_kpa = 0\n'
ABSOLUTE = 'kind = "ratiometric"\nlow_kpa = 15\nhigh_kpa = 115\nreference = "absolute"\n'
BAROMETER = changed("altitude_m = 100", 'altitude_m = 100\nbarometer_channel = "bus1/air"')


def only(config: ConfigFolder, keys: str, text: str = BAROMETER) -> TensiometerSetup:
    (tensiometer,) = config.load(changed(VAC, keys, text)).pipeline.tensiometers
    return tensiometer


MINIMAL: list[tuple[dict[str, Any], Transducer]] = [
    ({"kind": "ratiometric", "low_kpa": 0, "high_kpa": -100}, Ratiometric(0.0, -100.0)),
    ({"kind": "current-loop", "low_kpa": 0, "high_kpa": -100}, CurrentLoop(0.0, -100.0)),
    ({"kind": "linear", "v1": 0, "kpa1": 0, "v2": 5, "kpa2": -100}, LinearVoltage(0.0, 0.0, 5.0, -100.0)),
    ({"kind": "bridge", "sensitivity_mv_per_v": 3.33, "full_scale_kpa": 100}, Bridge(3.33, 100.0)),
    ({"kind": "digital", "bits": 14, "low_kpa": -100, "high_kpa": 0}, DigitalScale(14, -100.0, 0.0)),
    ({"kind": "pressure"}, DirectPressure()),
]


@pytest.mark.parametrize(("keys", "transducer"), MINIMAL, ids=lambda value: type(value).__name__)
def test_what_a_table_leaves_out_is_as_physics_has_it(keys: dict[str, Any], transducer: Transducer) -> None:
    assert BY_KIND[keys["kind"]].model_validate(keys).build() == transducer


def test_every_kind_is_tried_with_what_it_must_have() -> None:
    assert {keys["kind"] for keys, _ in MINIMAL} == set(BY_KIND)


def test_a_bridge_has_all_of_its_keys(config: ConfigFolder) -> None:
    keys = "excitation_v = 3.3\nzero_mv_per_v = 0.2\nvacuum_positive = true\nover_range = 2\nsupply_tolerance = 0.1\n"
    found = only(config, BRIDGE + keys + 'supply_channel = "bus1/vex"\n')
    assert found.transducer == Bridge(3.33, 100.0, 3.3, 0.2, vacuum_positive=True, over_range=2.0, supply_tolerance=0.1)
    assert found.supply_channel == "bus1/vex"


def test_a_digital_transducer_has_all_of_its_keys(config: ConfigFolder) -> None:
    keys = "low_percent = 5\nhigh_percent = 95\nstatus_bits = 2\ntolerance_percent = 3\n"
    found = only(config, DIGITAL + keys)
    assert found.transducer == DigitalScale(14, -100.0, 0.0, 5.0, 95.0, 2, 3.0)
    assert found.adc is None


@pytest.mark.parametrize(
    ("keys", "word"),
    [
        (DIGITAL + "low_percent = 95\n", "percentages must rise"),
        (BRIDGE + 'vacuum_positive = true\nreference = "absolute"\n', "only a gauge"),
        ('kind = "pressure"\nvacuum_positive = true\nreference = "sealed"\n', "only a gauge"),
    ],
)
def test_a_new_kind_that_cannot_be_is_refused_as_a_whole(config: ConfigFolder, keys: str, word: str) -> None:
    problem = config.problem(changed(VAC, keys, BAROMETER))
    assert problem.key == "transducers.vac"
    assert word in problem.expected


@pytest.mark.parametrize(
    ("old", "new", "key", "expected"),
    [
        (VAC, BRIDGE.replace("3.33", "0"), "sensitivity_mv_per_v", "more than 0"),
        (VAC, BRIDGE.replace("= 100", "= -100"), "full_scale_kpa", "more than 0"),
        (VAC, BRIDGE + "over_range = 0.5\n", "over_range", "1 or more"),
        (VAC, DIGITAL.replace("14", "7"), "bits", "8 or more"),
        (VAC, DIGITAL + "status_bits = 9\n", "status_bits", "8 or less"),
        (VAC, DIGITAL + "tolerance_percent = -1\n", "tolerance_percent", "0 or more"),
        (VAC, DIGITAL + "adc = { bits = 10, full_scale_v = 5 }\n", "adc", "one of "),
        (VAC, VAC + 'reference = "absolut"\n', "reference", "one of absolute, gauge, sealed"),
        (VAC, VAC + 'reference = "sealed"\nsealed_at_kpa = 1013\n', "sealed_at_kpa", "150 or less"),
        (VAC, VAC + "accuracy_kpa = -1\n", "accuracy_kpa", "0 or more"),
        (VAC, VAC + "readings_averaged = 0\n", "readings_averaged", "1 or more"),
    ],
)
def test_a_wrong_value_has_its_key_and_line(config: ConfigFolder, old: str, new: str, key: str, expected: str) -> None:
    text = changed(old, new, BAROMETER)
    problem = config.problem(text)
    assert (problem.key, problem.line) == (f"transducers.vac.{key}", line_of(f"{key} = ", text))
    assert expected in problem.expected


# --- what it measures against


@pytest.mark.parametrize(
    ("keys", "reference"),
    [
        (VAC, Reference.GAUGE),
        (VAC + 'reference = "sealed"\n', Reference.SEALED),
        (ABSOLUTE, Reference.ABSOLUTE),
        (LOOP.replace("= -100", "= 120") + 'reference = "absolute"\n', Reference.ABSOLUTE),
        ('kind = "linear"\nv1 = 0\nkpa1 = 0\nv2 = 5\nkpa2 = 120\nreference = "absolute"\n', Reference.ABSOLUTE),
        (BRIDGE.replace("= 100", "= 120") + 'reference = "absolute"\n', Reference.ABSOLUTE),
        (DIGITAL.replace("= -100", "= 0").replace("high_kpa = 0", "high_kpa = 120") + 'reference = "absolute"\n',
         Reference.ABSOLUTE),
        ('kind = "pressure"\nreference = "absolute"\n', Reference.ABSOLUTE),
    ],
)  # fmt: skip
def test_every_kind_may_measure_against_something_else(config: ConfigFolder, keys: str, reference: Reference) -> None:
    assert only(config, keys).transducer.reference is reference
    assert config.warnings(changed(VAC, keys, BAROMETER)) == []


def test_a_sealed_gauge_knows_what_was_sealed_into_it(config: ConfigFolder) -> None:
    sealed = VAC + 'reference = "sealed"\n'
    assert only(config, sealed).sealed_at_kpa == SEALED_AT_KPA
    assert only(config, sealed + "sealed_at_kpa = 100\n").sealed_at_kpa == 100.0


@pytest.mark.parametrize("reference", ["gauge", "absolute"])
def test_nothing_is_sealed_into_another(config: ConfigFolder, reference: str) -> None:
    keys = (VAC if reference == "gauge" else ABSOLUTE) + "sealed_at_kpa = 101\n"
    problem = config.problem(changed(VAC, keys, BAROMETER))
    assert problem.key == "transducers.vac.sealed_at_kpa"
    assert f'reference = "{reference}"' in problem.found


def test_an_absolute_pressure_is_never_negative(config: ConfigFolder) -> None:
    problem = config.problem(changed(VAC, VAC + 'reference = "absolute"\n', BAROMETER))
    assert problem.key == "transducers.vac.high_kpa"
    assert "0 kPa or more" in problem.expected


def test_a_gauge_for_pressure_is_told_of_absolute_ones(config: ConfigFolder) -> None:
    problem = config.problem(changed("high_kpa = -100", "high_kpa = 100"))
    assert 'reference = "absolute"' in problem.hint


def test_an_absolute_range_that_ends_below_the_air_is_odd(config: ConfigFolder) -> None:
    """Without vacuum it feels 100 kPa at 100 m (facts 2.3), and some 3 kPa more in good weather."""
    short = changed(VAC, ABSOLUTE.replace("115", "100"), BAROMETER)
    warning = config.warning(short)
    assert warning.key == "tensiometers.n1.transducer"
    assert "100.1 kPa" in warning.expected
    assert config.warnings(changed("altitude_m = 100", "altitude_m = 1000", short)) == []


# --- converters


def test_a_divider_is_a_gain(config: ConfigFolder) -> None:
    adc = "adc = { bits = 12, full_scale_v = 3.3, divider_ohm = [10000, 20000] }\n"
    assert only(config, VAC + adc).adc == Adc(12, 3.3, gain=divider_gain(10_000.0, 20_000.0))
    assert config.warnings(changed(VAC, VAC + adc, BAROMETER)) == []


def test_a_divider_that_is_not_enough_is_odd(config: ConfigFolder) -> None:
    adc = "adc = { bits = 12, full_scale_v = 3.3, divider_ohm = [1000, 20000] }\n"
    warning = config.warning(changed(VAC, VAC + adc))
    assert "ends at 3.46 V" in warning.found
    assert "divider_ohm" in warning.hint


def test_a_gain_and_a_divider_are_one_too_many(config: ConfigFolder) -> None:
    text = BASE + "[transducers.vac.adc]\nbits = 12\nfull_scale_v = 3.3\ngain = 0.5\ndivider_ohm = [10000, 10000]\n"
    problem = config.problem(text)
    assert (problem.key, problem.line) == ("transducers.vac.adc.divider_ohm", line_of("divider_ohm", text))
    assert problem.found == "gain and divider_ohm"


@pytest.mark.parametrize(
    ("value", "key"),
    [
        ("[10000]", ""),
        ("[0, 10000]", "[1]"),
        ("[10000, -1]", "[2]"),
        ("[1, 2, 3]", ""),
        ("0.5", ""),
        ('["a", 1]', "[1]"),
    ],
)
def test_a_divider_has_two_resistors(config: ConfigFolder, value: str, key: str) -> None:
    text = BASE + f"[transducers.vac.adc]\nbits = 12\nfull_scale_v = 5\ndivider_ohm = {value}\n"
    problem = config.problem(text)
    assert (problem.key, problem.line) == (f"transducers.vac.adc.divider_ohm{key}", line_of("divider_ohm", text))


@pytest.mark.parametrize(
    ("shunt_ohm", "full_scale_v", "hidden"),
    [
        (250, 5.0, True),  # facts 3.2: 5.25 V at 21 mA do not fit
        (238, 5.0, False),  # 21.008 mA
        (150, 3.3, False),  # facts 3.2: 3.15 V at 21 mA
        (150, 3.15, True),  # 21 mA itself is no failure: above it is
        (100, 2.048, True),  # 20.48 mA
        (100, 2.5, False),
    ],
)
def test_a_shunt_that_hides_the_failure_of_a_transmitter_is_odd(
    config: ConfigFolder, shunt_ohm: int, full_scale_v: float, hidden: bool
) -> None:
    text = changed(VAC, LOOP + f"shunt_ohm = {shunt_ohm}\nadc = {{ bits = 12, full_scale_v = {full_scale_v} }}\n")
    warnings = config.warnings(text)
    assert [warning.key for warning in warnings] == ["transducers.vac.shunt_ohm"] * hidden
    assert all("NE 43" in warning.hint for warning in warnings)


def test_the_shunt_that_is_named_instead_shows_the_failure(config: ConfigFolder) -> None:
    keys = LOOP + "shunt_ohm = {}\nadc = {{ bits = 12, full_scale_v = 5 }}\n"
    expected = config.warning(changed(VAC, keys.format(250))).expected
    ohm = int(expected.removeprefix("at most ").partition(" ")[0])
    assert 200 < ohm < 238
    assert config.warnings(changed(VAC, keys.format(ohm))) == []


def test_a_converter_that_ends_before_full_scale_is_told_once(config: ConfigFolder) -> None:
    text = changed(VAC, LOOP + "shunt_ohm = 250\nadc = { bits = 12, full_scale_v = 3.3 }\n")
    assert [warning.key for warning in config.warnings(text)] == ["transducers.vac.adc"]


@pytest.mark.parametrize(
    ("keys", "signed", "odd"),
    [
        (BRIDGE, "false", True),
        (BRIDGE, "true", False),
        (BRIDGE + "vacuum_positive = true\n", "false", False),
        (BRIDGE.replace("= 100", "= 120") + 'reference = "absolute"\n', "false", False),
        ('kind = "linear"\nv1 = 0\nkpa1 = 0\nv2 = -5\nkpa2 = -100\n', "false", True),
        ('kind = "linear"\nv1 = 0\nkpa1 = 0\nv2 = -5\nkpa2 = -100\n', "true", False),
    ],
)
def test_a_negative_signal_needs_a_signed_converter(config: ConfigFolder, keys: str, signed: str, odd: bool) -> None:
    adc = f"adc = {{ bits = 24, full_scale_v = 5, signed = {signed} }}\n"
    warnings = config.warnings(changed(VAC, keys + adc, BAROMETER))
    assert [warning.key for warning in warnings] == ["transducers.vac.adc"] * odd
    assert all("begins at 0 V" in warning.found for warning in warnings)


def test_status_bits_do_not_survive_averaging(config: ConfigFolder) -> None:
    text = changed(VAC, DIGITAL + "status_bits = 2\nreadings_averaged = 4\n")
    assert config.problem(text).key == "transducers.vac.readings_averaged"
    assert config.problems(changed("status_bits = 2\n", "", text)) == []
