"""Names that refer to something, wiring, and numbers that are seldom meant."""

import pytest

from parchd.alarms.rules import FaultRule
from parchd.physics.adc import Adc
from parchd.physics.transducers import CurrentLoop, DirectPressure, LinearVoltage, Ratiometric, Transducer
from parchd.testing.config_folder import BASE, ConfigFolder, changed, line_of

SECOND = """\
[tensiometers.n2]
zone = "north"
depth_cm = 60
height_cm = 75
channel = "bus1/a1"
transducer = "vac"
"""


@pytest.mark.parametrize(
    ("old", "new", "found", "hint"),
    [
        ('zone = "north"', 'zone = "nort"', '"nort"', "did you mean north?"),
        ('zone = "north"', 'zone = "creek"', '"creek"', "there is north"),
        ('transducer = "vac"', 'transducer = "vak"', '"vak"', "did you mean vac?"),
        ('channel = "bus1/a0"', 'channel = "bus2/a0"', '"bus2/a0"', "did you mean bus1?"),
        ("height_cm = 45", 'height_cm = 45\ntemperature_channel = "bus3/t"', '"bus3/t"', "did you mean bus1?"),
        ("high_kpa = -100", 'high_kpa = -100\nsupply_channel = "usb/vcc"', '"usb/vcc"', "there is bus1"),
    ],
)
def test_a_name_that_refers_to_nothing_has_its_line_and_a_guess(
    config: ConfigFolder, old: str, new: str, found: str, hint: str
) -> None:
    text = changed(old, new)
    problem, *_ = [p for p in config.problems(text) if p.found == found]
    assert problem.line == line_of(new.splitlines()[-1], text)
    assert problem.hint == hint


def test_two_tensiometers_on_one_channel_are_both_named(config: ConfigFolder) -> None:
    text = BASE + SECOND.replace("bus1/a1", "bus1/a0")
    problem = config.problem(text)
    assert (problem.key, problem.line) == ("tensiometers.n2.channel", text.count("\n") - 1)
    assert f"n1 has it (farm.toml:{line_of('height_cm = 45', text) + 1})" in problem.expected.replace(
        str(config.folder) + "/", ""
    )


@pytest.mark.parametrize("key", ["supply_channel", "temperature_channel"])
def test_no_signal_is_its_own_supply_or_thermometer(config: ConfigFolder, key: str) -> None:
    text = changed("height_cm = 45", f'height_cm = 45\n{key} = "bus1/a0"')
    assert config.problem(text).key == f"tensiometers.n1.{key}"


def test_a_supply_for_a_transducer_that_needs_none_is_odd(config: ConfigFolder) -> None:
    text = changed('kind = "ratiometric"', 'kind = "current-loop"')
    text = changed("height_cm = 45", 'height_cm = 45\nsupply_channel = "bus1/vcc"', text)
    assert config.warning(text).key == "tensiometers.n1.supply_channel"
    assert config.load(text).pipeline.tensiometers[0].supply_channel is None


def test_what_nobody_uses_is_odd(config: ConfigFolder) -> None:
    text = BASE + '[zones.west]\nplan_kpa = 20\n[transducers.old]\nkind = "pressure"\n'
    assert {warning.key: warning.line for warning in config.warnings(text)} == {
        "zones.west": line_of("[zones.west]", text),
        "transducers.old": line_of("[transducers.old]", text),
    }


def test_a_site_without_tensiometers_or_notifiers_is_odd(config: ConfigFolder) -> None:
    text = BASE[: BASE.index("[tensiometers.n1]")]
    assert {"tensiometers", "notifiers"} <= {warning.key for warning in config.warnings(text)}


TRANSDUCERS: list[tuple[str, Transducer]] = [
    (
        """\
kind = "ratiometric"
low_kpa = 0
high_kpa = -80
low_fraction = 0.2
high_fraction = 0.8
supply_v = 3.3
open_below = 0.1
open_above = 0.9
supply_tolerance = 0.1
""",
        Ratiometric(0.0, -80.0, 0.2, 0.8, 3.3, 0.1, 0.9, 0.1),
    ),
    ('kind = "current-loop"\nlow_kpa = 0\nhigh_kpa = -100\nshunt_ohm = 150\n', CurrentLoop(0.0, -100.0, 150.0)),
    (
        'kind = "linear"\nv1 = 0.5\nkpa1 = 0\nv2 = 4.5\nkpa2 = -100\nfault_below_v = 0.2\nfault_above_v = 4.8\n',
        LinearVoltage(0.5, 0.0, 4.5, -100.0, 0.2, 4.8),
    ),
    ('kind = "pressure"\nvacuum_positive = true\n', DirectPressure(vacuum_positive=True)),
]
LOOP = 'kind = "current-loop"\nlow_kpa = 0\nhigh_kpa = -100\n'
VAC = 'kind = "ratiometric"\nlow_kpa = 0\nhigh_kpa = -100\n'


@pytest.mark.parametrize(("keys", "transducer"), TRANSDUCERS)
def test_each_kind_of_transducer_is_built(config: ConfigFolder, keys: str, transducer: Transducer) -> None:
    assert config.load(changed(VAC, keys)).pipeline.tensiometers[0].transducer == transducer


def test_a_converter_is_built(config: ConfigFolder) -> None:
    adc = 'adc = { bits = 16, full_scale_v = 6.144, signed = true, steps = "2^N-1", gain = 1.25 }\n'
    assert config.load(changed(VAC, VAC + adc)).pipeline.tensiometers[0].adc == Adc(16, 6.144, True, "2^N-1", 1.25)


@pytest.mark.parametrize(
    ("keys", "key", "word"),
    [
        ('kind = "ratiometric"\nlow_kpa = -100\nhigh_kpa = -100\n', "", "two different pressures"),
        ('kind = "ratiometric"\nlow_kpa = 0\nhigh_kpa = -100\nlow_fraction = 0.95\n', "", "must rise"),
        ('kind = "linear"\nv1 = 1\nkpa1 = 0\nv2 = 1\nkpa2 = -100\n', "", "two voltages"),
        ('kind = "ratiometric"\nlow_kpa = 0\nhigh_kpa = 100\n', ".high_kpa", "reaches into vacuum"),
        ('kind = "linear"\nv1 = 1\nkpa1 = 0\nv2 = 2\nkpa2 = 100\n', ".kpa2", "reaches into vacuum"),
        (
            'kind = "current-loop"\nlow_kpa = 0\nhigh_kpa = -100\nadc = { bits = 12, full_scale_v = 5 }\n',
            ".adc",
            "shunt",
        ),
    ],
)
def test_a_transducer_that_cannot_be_is_refused(config: ConfigFolder, keys: str, key: str, word: str) -> None:
    problem = config.problem(changed(VAC, keys))
    assert problem.key == f"transducers.vac{key}"
    assert word in problem.expected


@pytest.mark.parametrize(
    ("keys", "ends"),
    [
        (VAC + "adc = { bits = 12, full_scale_v = 3.3 }\n", "3.3 V"),
        (LOOP + "shunt_ohm = 250\nadc = { bits = 10, full_scale_v = 3.3 }\n", "3.3 V"),
        ('kind = "linear"\nv1 = 0\nkpa1 = 0\nv2 = 10\nkpa2 = -100\nadc = { bits = 10, full_scale_v = 5 }\n', "5 V"),
    ],
)
def test_a_converter_that_ends_before_the_transducer_is_odd(config: ConfigFolder, keys: str, ends: str) -> None:
    warning = config.warning(changed(VAC, keys))
    assert warning.key == "transducers.vac.adc"
    assert ends in warning.found


def test_a_divider_makes_the_converter_reach_further(config: ConfigFolder) -> None:
    assert config.warnings(changed(VAC, VAC + "adc = { bits = 12, full_scale_v = 3.3, gain = 0.6 }\n")) == []


@pytest.mark.parametrize(
    ("old", "new", "key", "word"),
    [
        ("depth_cm = 30", "depth_cm = 3", "depth_cm", "centimetres"),
        ("height_cm = 45", "height_cm = 4.5", "height_cm", "centimetres"),
        ("depth_cm = 30\nheight_cm = 45", "depth_cm = 30\nheight_cm = 350", "height_cm", "centimetres"),
        ("height_cm = 45", "tube_length_cm = 50\ntube_angle_deg = 20", "tube_length_cm", "centimetres"),
    ],
)
def test_depths_and_heights_that_look_like_another_unit_are_odd(
    config: ConfigFolder, old: str, new: str, key: str, word: str
) -> None:
    warning = config.warning(changed(old, new))
    assert warning.key == f"tensiometers.n1.{key}"
    assert word in warning.hint


def test_a_transducer_below_the_cup_is_nothing_odd(config: ConfigFolder) -> None:
    assert config.warnings(changed("height_cm = 45", "height_cm = -30")) == []


def test_a_site_too_high_for_a_tensiometer_is_odd(config: ConfigFolder) -> None:
    text = changed("altitude_m = 100", "altitude_m = 7500", changed("plan_kpa = 30\nnow_kpa = 40", "plan_kpa = 10"))
    assert "usable limit of 1" in config.warning(text).found


@pytest.mark.parametrize(("at", "fine"), [("00:00", False), ("03:59", False), ("04:00", True), ("23:59", True)])
def test_the_digest_keeps_clear_of_the_hours_when_clocks_change(config: ConfigFolder, at: str, fine: bool) -> None:
    text = f'{BASE}[schedule]\ndigest_at = "{at}"\n'
    assert [p.key for p in config.problems(text)] == ["schedule.digest_at"] * (not fine)


def test_there_may_be_no_digest(config: ConfigFolder) -> None:
    assert config.load(BASE + '[schedule]\ndigest_at = "never"\n').schedule.digest_at is None


def test_each_tensiometer_has_a_rule_for_its_faults(config: ConfigFolder) -> None:
    text = changed("height_cm = 45", "height_cm = 45\ninterval_s = 30\nsilent_intervals = 5")
    assert config.load(text).alarms.faults == (FaultRule("n1", "bus1/a0", 30.0, 5.0),)


def test_tensions_that_cannot_be_lie_outside_of_ceiling_and_free_water(config: ConfigFolder) -> None:
    setup = config.load().pipeline.tensiometers[0]
    assert setup.highest_kpa == pytest.approx(setup.usable_limit_kpa + 14.0)
    assert setup.lowest_kpa == -15.0
    deep = changed("depth_cm = 30\nheight_cm = 45", "depth_cm = 180\nheight_cm = 200")
    lowest = (
        config.load(changed("plan_kpa = 30\nnow_kpa = 40", "plan_kpa = 30", deep)).pipeline.tensiometers[0].lowest_kpa
    )
    assert lowest == pytest.approx(-2.8 * 9.789, abs=0.01)  # facts 1.4: 9.7891 kPa a metre at 20 C
