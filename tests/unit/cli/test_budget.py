"""What ``parchd budget`` prints."""

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from pydantic import BaseModel

from parchd.cli.budget import Asked, budget_lines
from parchd.cli.budget_words import ADVICE, KEYS, notes, where
from parchd.cli.exits import Exit
from parchd.config.ground import SiteTable, TensiometerDefaults
from parchd.config.transducer_table import TransducerTable
from parchd.physics.calibration import fit
from parchd.physics.uncertainty import Sources, budget
from parchd.testing.commands import Farm, parchd
from parchd.testing.config_folder import BASE, ConfigFolder, changed

ROOT = Path(__file__).parents[3]
FARM = ROOT / "config" / "farm.toml"
GOLDEN = ROOT / "tests" / "data" / "budget.txt"
VAC = 'kind = "ratiometric"\nlow_kpa = 0\nhigh_kpa = -100\n'
CALIBRATED = """
[[tensiometers.n1.calibration]]
valid_from = 2026-03-01
points = [[0.5, 0], [1.3, 20.1], [2.1, 39.9], [3.7, 80]]
"""
EVERYTHING = Sources(
    step_kpa=0.1, reference_u_kpa=0.1, height_m=1.0, air_u_kpa=0.1, transducer_half_kpa=0.1, drift_kpa_per_year=0.1
)


@pytest.fixture
def config(tmp_path: Path) -> ConfigFolder:
    return ConfigFolder(tmp_path)


def said(config: ConfigFolder, text: str, at_kpa: float = 40.0, time_us: int = 1_780_000_000_000_000) -> str:
    """What is said of the one tensiometer of a configuration; the time is in May 2026 unless told otherwise."""
    loaded = config.load(text)
    return "\n".join(budget_lines(Asked(loaded, loaded.pipeline.tensiometers[0], at_kpa, time_us)))


def rows(text: str) -> list[tuple[str, float, str, float, str]]:
    """Name, standard uncertainty, evaluation, share in percent, and bar of each contribution."""
    found = re.findall(r"^  ([a-z ]+?) +(\d+\.\d{3})   ([AB])   +(\d+) %  ([#.]+)$", text, re.MULTILINE)
    return [(name, float(u), kind, float(share), bar) for name, u, kind, share, bar in found]


def test_the_budget_of_the_example_is_as_it_was_agreed() -> None:
    out = parchd("budget", "north-1-30", FARM, "--date", "2026-06-01T06:00").out
    assert out.splitlines() == GOLDEN.read_text("utf-8").splitlines()
    assert all(len(line) <= 80 for line in out.splitlines())
    assert out.isascii()


def test_contributions_stand_in_order_with_their_shares(config: ConfigFolder) -> None:
    text = said(config, BASE + CALIBRATED + "reference_u_kpa = 0.3\n")
    found = rows(text)
    shares = [share for _, _, _, share, _ in found]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) == pytest.approx(100.0, abs=len(shares) / 2)
    assert {name: kind for name, _, kind, _, _ in found}["calibration"] == "A"
    assert all(kind == "B" for name, _, kind, _, _ in found if name != "calibration")


def test_bars_are_as_long_as_shares(config: ConfigFolder) -> None:
    for _, _, _, share, bar in rows(said(config, BASE)):
        assert len(bar) == 20
        assert bar.count("#") == pytest.approx(share / 5.0, abs=0.61)


def test_the_sum_is_that_of_the_rows(config: ConfigFolder) -> None:
    text = said(config, BASE)
    combined = math.hypot(*(u for _, u, _, _, _ in rows(text)))
    assert float(re.findall(r"combined +(\S+)", text)[0]) == pytest.approx(combined, abs=0.002)
    k, expanded = re.findall(r"expanded, k = (\S+) +(\S+)  U", text)[0]
    assert float(expanded) == pytest.approx(float(k) * combined, abs=0.01)
    assert f"40 kPa stands for {40 - float(expanded):.1f} to {40 + float(expanded):.1f} kPa" in text


def test_what_is_assumed_is_told_with_its_key_and_table(config: ConfigFolder) -> None:
    text = " ".join(said(config, BASE).split())
    assert "assumed: set accuracy_kpa in [transducers.vac]" in text
    assert "assumed: set height_half_cm in [tensiometers.n1]" in text
    stated = changed("height_cm = 45", "height_cm = 45\nheight_half_cm = 1", changed(VAC, VAC + "accuracy_kpa = 2.5\n"))
    text = said(config, stated)
    assert "set accuracy_kpa" not in text
    assert "set height_half_cm" not in text


def test_a_generic_transducer_needs_a_table_to_say_more(config: ConfigFolder) -> None:
    bare = changed('transducer = "vac"', 'transducer = "loop-4-20"', changed(f"[transducers.vac]\n{VAC}\n", ""))
    assert 'accuracy_kpa in a table [transducers.NAME] with like = "loop-4-20"' in " ".join(said(config, bare).split())


@pytest.mark.parametrize(
    ("site", "told"),
    [
        ("", "assumed: set barometer_channel in [site]"),
        ('\nbarometer_channel = "bus1/air"', "assumed: set barometer_u_kpa in [site]"),
        ('\nbarometer_channel = "bus1/air"\nbarometer_u_kpa = 0.1', ""),
    ],
)
def test_the_air_is_told_of_where_it_counts(config: ConfigFolder, site: str, told: str) -> None:
    keys = 'kind = "pressure"\nreference = "absolute"\n'
    loaded = config.load(changed("altitude_m = 100", f"altitude_m = 100{site}", changed(VAC, keys)))
    assert where("pressure of the air", loaded, "n1") == told
    assert "pressure of the air" not in said(config, BASE)


def test_there_is_advice_for_every_contribution() -> None:
    curve = fit(tuple((kpa + 0.1 * (kpa == -20.0), kpa) for kpa in (0.0, -20.0, -40.0, -60.0)))
    names = {one.name for one in budget(EVERYTHING, -30.0, 1.0).contributions}
    names |= {one.name for one in budget(replace(EVERYTHING, curve=curve), -30.0, 1.0).contributions}
    assert names == set(ADVICE)
    assert set(KEYS) <= set(ADVICE)


def test_keys_that_are_advised_are_keys_of_their_table() -> None:
    models: dict[str, type[BaseModel]] = {
        "transducers": TransducerTable,
        "site": SiteTable,
        "tensiometers": TensiometerDefaults,
    }
    assert all(key in models[table].model_fields for table, key in KEYS.values())


def test_the_largest_is_named_with_what_would_lower_it(config: ConfigFolder) -> None:
    text = " ".join(said(config, BASE).split())
    assert "Largest: data sheet, 96 %. A calibration takes its place" in text
    calibrated = " ".join(said(config, BASE + CALIBRATED + "reference_u_kpa = 3\n").split())
    assert "Largest: reference, " in calibrated


def test_the_calibration_of_the_date_counts_and_ages(config: ConfigFolder) -> None:
    text = BASE + CALIBRATED
    before, after = (said(config, text, time_us=ms * 1_000) for ms in (1_700_000_000_000, 1_800_000_000_000))
    assert "not calibrated" in before
    assert "calibrated 2026-03-01" in after
    assert "checked 11 months ago" in " ".join(after.split())


CURVE = fit(((0.1, 0.0), (-20.0, -20.0), (-40.1, -40.0)))


@pytest.mark.parametrize(
    ("sources", "label", "beyond", "at_kpa", "words"),
    [
        (Sources(), "", False, 30.0, []),
        (Sources(), "2026-03-01", False, 30.0, ["too few points", "how good its reference was"]),
        (Sources(curve=CURVE, reference_u_kpa=0.1), "2026-03-01", False, 30.0, []),
        (Sources(curve=CURVE), "2026-03-01", False, 30.0, ["how good its reference was"]),
        (Sources(curve=CURVE, reference_u_kpa=0.1), "2026-03-01", True, 50.0, ["no points at this pressure"]),
        (Sources(), "", False, 80.1, ["above the usable limit of 80.0 kPa"]),
    ],
)
def test_what_a_reader_should_know_besides_is_told(
    sources: Sources, label: str, beyond: bool, at_kpa: float, words: list[str]
) -> None:
    found = notes(sources, label, beyond_span=beyond, at_kpa=at_kpa, usable_kpa=80.0)
    assert len(found) == len(words)
    assert all(word in note for word, note in zip(words, found, strict=True))


def test_it_goes_by_the_limit_of_the_zone_unless_told_otherwise(quillmere: Farm) -> None:
    assert "How uncertain is a tension of 40 kPa on" in parchd("budget", "t0", quillmere.config).out
    assert "12.5 kPa stands for" in parchd("budget", "t0", quillmere.config, "--at", "12.5").out


def test_it_needs_no_journal_and_makes_none(quillmere: Farm) -> None:
    assert parchd("budget", "t0", quillmere.config).code == Exit.OK
    assert not quillmere.journal.exists()


def test_a_tensiometer_that_is_not_there_is_told(quillmere: Farm) -> None:
    found = parchd("budget", "t9", quillmere.config)
    assert (found.code, found.out) == (Exit.FAILED, "")
    assert "no tensiometer is called t9" in found.err


@pytest.mark.parametrize("at", ["nan", "inf", "-201", "201", "much"])
def test_a_tension_that_is_none_is_a_wrong_argument(quillmere: Farm, at: str) -> None:
    assert parchd("budget", "t0", quillmere.config, f"--at={at}").code == Exit.USAGE


def test_a_date_that_is_none_is_told(quillmere: Farm) -> None:
    assert "is no time" in parchd("budget", "t0", quillmere.config, "--date", "spring").err
