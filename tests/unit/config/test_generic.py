"""Transducers by a generic name, and tables that are like one."""

from dataclasses import replace
from pathlib import Path

import pytest

from parchd.config.electrics import BY_KIND
from parchd.config.generic import KINDS, keys_of
from parchd.physics.adc import Adc
from parchd.physics.transducers import GENERIC, CurrentLoop, Ratiometric, Transducer
from parchd.pipeline.setup import TensiometerSetup
from parchd.testing.config_folder import BASE, ConfigFolder, changed, line_of

TABLE = '[transducers.vac]\nkind = "ratiometric"\nlow_kpa = 0\nhigh_kpa = -100\n\n'
BARE = changed(TABLE, "")
SITE = 'altitude_m = 100\nbarometer_channel = "bus1/air"'


def only(config: ConfigFolder, text: str) -> TensiometerSetup:
    (tensiometer,) = config.load(text).pipeline.tensiometers
    return tensiometer


@pytest.mark.parametrize("name", GENERIC)
def test_every_generic_name_is_a_transducer_without_a_table(config: ConfigFolder, name: str) -> None:
    text = changed('transducer = "vac"', f'transducer = "{name}"', BARE)
    assert only(config, changed("altitude_m = 100", SITE, text)).transducer == GENERIC[name]
    assert config.warnings() == []


@pytest.mark.parametrize("name", GENERIC)
def test_a_table_that_is_like_a_generic_one_and_says_no_more_is_the_same(config: ConfigFolder, name: str) -> None:
    text = changed(TABLE, f'[transducers.vac]\nlike = "{name}"\n')
    assert only(config, changed("altitude_m = 100", SITE, text)).transducer == GENERIC[name]


@pytest.mark.parametrize("transducer", GENERIC.values(), ids=GENERIC)
def test_a_transducer_is_the_same_after_it_was_written_as_a_table(transducer: Transducer) -> None:
    keys = keys_of(transducer)
    assert BY_KIND[keys["kind"]].model_validate(keys).build() == transducer


def test_each_kind_has_a_name_and_a_table() -> None:
    assert {table.makes: kind for kind, table in BY_KIND.items()} == KINDS
    assert {type(transducer) for transducer in GENERIC.values()} == set(KINDS)


def test_other_keys_of_the_table_change_what_it_is_like(config: ConfigFolder) -> None:
    keys = 'like = "ratiometric-5v-rising"\nhigh_kpa = -80\nadc = { bits = 10, full_scale_v = 5 }\n'
    found = only(config, changed(TABLE, f"[transducers.vac]\n{keys}"))
    generic = GENERIC["ratiometric-5v-rising"]
    assert isinstance(generic, Ratiometric)
    assert (found.transducer, found.adc) == (replace(generic, high_kpa=-80.0), Adc(10, 5.0))


def test_a_table_takes_the_place_of_the_generic_one_of_its_name(config: ConfigFolder) -> None:
    text = changed(TABLE, '[transducers.loop-4-20]\nlike = "loop-4-20"\nshunt_ohm = 150\n')
    found = only(config, changed('transducer = "vac"', 'transducer = "loop-4-20"', text))
    assert found.transducer == CurrentLoop(0.0, -100.0, 150.0)


def test_a_variable_may_say_what_it_is_like(config: ConfigFolder) -> None:
    config.environ["PARCHD_TRANSDUCERS__VAC__LIKE"] = "vacuum-kpa"
    assert only(config, changed(TABLE, "[transducers.vac]\n")).transducer == GENERIC["vacuum-kpa"]


def test_a_generic_name_that_is_none_is_told_with_a_guess(config: ConfigFolder) -> None:
    text = changed(TABLE, '[transducers.vac]\nlike = "loop-4-22"\nshunt_ohm = 150\n')
    problem = config.problem(text)
    assert (problem.key, problem.line) == ("transducers.vac.like", line_of("like", text))
    assert (problem.found, problem.hint) == ('"loop-4-22"', "did you mean loop-4-20?")
    assert all(name in problem.expected for name in GENERIC)


@pytest.mark.parametrize("value", ["4", "[]", "true"])
def test_a_generic_name_is_a_name(config: ConfigFolder, value: str) -> None:
    assert config.problem(changed(TABLE, f"[transducers.vac]\nlike = {value}\n")).key == "transducers.vac.like"


def test_like_and_kind_are_one_too_many(config: ConfigFolder) -> None:
    text = changed('kind = "ratiometric"', 'kind = "ratiometric"\nlike = "loop-4-20"')
    problem = config.problem(text)
    assert (problem.key, problem.line) == ("transducers.vac.like", line_of("like", text))
    assert (problem.found, problem.expected) == ("like together with kind", "one of them")


def test_unknown_keys_are_compared_with_those_of_the_kind_it_is_like(config: ConfigFolder) -> None:
    problem = config.problem(changed(TABLE, '[transducers.vac]\nlike = "loop-4-20"\nshunt = 150\n'))
    assert (problem.key, problem.hint) == ("transducers.vac.shunt", "did you mean shunt_ohm?")
    assert "supply_v" not in problem.expected


def test_wrong_values_beside_like_have_their_line(config: ConfigFolder) -> None:
    text = changed(TABLE, '[transducers.vac]\nlike = "loop-4-20"\nshunt_ohm = "big"\n')
    problem = config.problem(text)
    assert (problem.key, problem.line) == ("transducers.vac.shunt_ohm", line_of("shunt_ohm", text))


def test_a_table_without_kind_may_say_like(config: ConfigFolder) -> None:
    assert "or like" in config.problem(changed('kind = "ratiometric"\n', "")).expected


def test_a_name_that_is_neither_a_table_nor_generic_is_told_with_a_guess(config: ConfigFolder) -> None:
    problem = config.problem(changed('transducer = "vac"', 'transducer = "loop-4-21"', BARE))
    assert "or a generic one" in problem.expected
    assert problem.hint == "did you mean loop-4-20?"
    assert config.problem(changed('transducer = "vac"', 'transducer = "x"')).hint == "there is vac"


def test_a_supply_may_be_named_for_a_generic_transducer(config: ConfigFolder) -> None:
    text = changed('transducer = "vac"', 'transducer = "bridge-100kpa"\nsupply_channel = "bus1/vex"', BARE)
    assert only(config, text).supply_channel == "bus1/vex"


def test_the_page_lists_every_generic_name(examples: Path) -> None:
    page = (examples / "README.md").read_text("utf-8")
    section = page.partition("\n## Transducers\n")[2].partition("\n## ")[0]
    assert [row.split("`")[1] for row in section.splitlines() if row.startswith("| `")] == list(GENERIC)


def test_generic_transducers_cost_a_configuration_that_has_none_nothing(config: ConfigFolder) -> None:
    assert config.load(BASE).transducers == {"n1": "vac"}
    assert config.load(changed('transducer = "vac"', 'transducer = "gauge-kpa"', BARE)).transducers == {
        "n1": "gauge-kpa"
    }
