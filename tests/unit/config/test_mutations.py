"""Whatever is in the files, loading gives a configuration or a `ConfigError`, and nothing else."""

import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from parchd.config import load
from parchd.config.report import effective_text, errors_text
from parchd.contract import ConfigError

VALUES = [
    '""', "0", "-1", "1e400", "nan", "-inf", "9" * 400, "true", "[]", "[[]]", "{}", "[1, 2, 3]", '"a/b"', '"\\u0000"',
    "2026-03-01", "0001-01-01", "9999-12-31", "06:30:00", "2026-03-01T00:00:00Z", '["05:00"]', '[["a", 1]]', "[{}]",
    '"../../.."', '"mqtt"', "1979-05-27T07:32:00.999999-07:00", '"' + "x" * 300 + '"', "{ a.b.c = 1 }", '"9e999"',
    "{ kind = 3 }", '"loop-4-20"', '{ like = "bridge-100kpa" }', '"absolute"', "[10000, 20000]", "-300",
]  # fmt: skip
KEYS = ["zone", "kind", "points", "calibration", "defaults", "adc", "window", "channel", "password_file", "include",
        "tensiometers_table", "calibration_dir", "site", "zones", "sources", "name", "path", "quiet_hours",
        "like", "reference", "transducer", "height_cm", "water_cm", "divider_ohm", "full_scale_kpa", "accuracy_kpa",
        "barometer_channel"]  # fmt: skip
TABLES = ["north-block", "field", "x", "orchard"]


def value_changed(line: str, chance: random.Random) -> list[str]:
    return [f"{line.partition(' = ')[0]} = {chance.choice(VALUES)}"]


def key_changed(line: str, chance: random.Random) -> list[str]:
    return [f"{chance.choice(KEYS)} = {line.partition(' = ')[2]}"]


def gone(line: str, chance: random.Random) -> list[str]:
    return []


def twice(line: str, chance: random.Random) -> list[str]:
    return [line, line]


def key_added(line: str, chance: random.Random) -> list[str]:
    return [f"{chance.choice(KEYS)} = {chance.choice(VALUES)}", line]


def table_added(line: str, chance: random.Random) -> list[str]:
    return [f"[{chance.choice(KEYS)}.{chance.choice(TABLES)}]", line]


def array_added(line: str, chance: random.Random) -> list[str]:
    return [f"[[tensiometers.north-1-30.{chance.choice(KEYS)}]]", line]


def character_changed(line: str, chance: random.Random) -> list[str]:
    position = chance.randrange(len(line) + 1)
    return [line[:position] + chance.choice("\"'[]{}=#,.\\ \t;é\x00-_9") + line[position + 1 :]]


CHANGES = [value_changed, key_changed, gone, twice, key_added, table_added, array_added, character_changed]


def mutated(text: str, chance: random.Random) -> str:
    """Change a few lines: values, keys, headers, order, single characters."""
    lines = text.splitlines()
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(lines))
        lines[at : at + 1] = chance.choice(CHANGES)(lines[at], chance)
        lines = lines or [""]
    return "\n".join(lines) + "\n"


def problems_or_text(path: Path, environ: dict[str, str]) -> str:
    """Load, and write down whatever came of it."""
    try:
        return effective_text(load(path, environ, None))
    except ConfigError as error:
        unclear = [problem for problem in error.problems if not problem.expected or not problem.key]
        return "" if unclear or not error.problems else errors_text(error.problems)


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the farm that may be spoiled."""
    examples = Path(__file__).parents[3] / "config"
    folder = tmp_path_factory.mktemp("farm")
    for path in examples.rglob("*.*"):
        if path.is_file():
            target = folder / path.relative_to(examples)
            target.parent.mkdir(exist_ok=True)
            target.write_bytes(path.read_bytes())
    return folder


ORIGINALS = [
    "farm.toml",
    "farm-tensiometers.csv",
    "farm.d/nursery.toml",
    "farm-calibrations/north-1-30_2026-02-11.toml",
]


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 2**32), name=st.sampled_from(ORIGINALS), value=st.sampled_from(VALUES))
def test_a_spoiled_farm_gives_problems_and_never_a_crash(farm: Path, seed: int, name: str, value: str) -> None:
    path = farm / name
    original = path.read_text("utf-8")
    environ = {"PARCHD_SITE__ALTITUDE_M": value.strip('"')} if seed % 4 == 0 else {}
    path.write_text(mutated(original, random.Random(seed)), "utf-8")
    try:
        assert problems_or_text(farm / "farm.toml", environ)
    finally:
        path.write_text(original, "utf-8")


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=300), name=st.sampled_from(ORIGINALS))
def test_any_bytes_give_problems_and_never_a_crash(farm: Path, content: bytes, name: str) -> None:
    path = farm / name
    original = path.read_bytes()
    path.write_bytes(content)
    try:
        assert problems_or_text(farm / "farm.toml", {})
    finally:
        path.write_bytes(original)
