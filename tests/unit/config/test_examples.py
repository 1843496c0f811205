"""The example configurations load as they are, and say what their comments say."""

from pathlib import Path

import pytest

from parchd.config import load
from parchd.contract import Priority

EXAMPLES = ["bench", "farm", "integrator"]


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_example_loads_as_it_is(examples: Path, name: str) -> None:
    warnings = load(examples / f"{name}.toml", {}, None).warnings
    assert [warning.key for warning in warnings] == ["notifiers"] * (name == "bench")


def test_there_is_no_example_that_is_not_tried(examples: Path) -> None:
    assert sorted(path.stem for path in examples.glob("*.toml")) == EXAMPLES


def test_the_farm_is_what_it_says_it_is(examples: Path) -> None:
    loaded = load(examples / "farm.toml", {}, None)
    assert len(loaded.settings.zones) == 3
    assert len(loaded.pipeline.tensiometers) == 14
    by_name = {t.place.tensiometer: t for t in loaded.pipeline.tensiometers}
    assert by_name["north-1-30"].calibrations[0].label == "2026-02-11"
    assert by_name["north-1-60"].supply_channel == "field/n1.supply"
    assert loaded.zeroed == {"bench-1", "bench-2", "bench-3", "bench-4"}
    assert loaded.schedulers["north-block"] == ("north-1-30", "north-2-30", "north-3-30")
    rules = {rule.subject: rule for rule in loaded.alarms.irrigation}
    assert set(rules) == {"zone/north-block", "zone/creek-terrace", "zone/nursery", "tensiometer/bench-4"}
    creek = rules["zone/creek-terrace"]
    assert (creek.now_kpa, creek.plan_kpa, creek.deadband_kpa) == (32, 25, 4)  # "clears at 28 and 21 kPa"
    assert [(one.name, sorted(one.roles), sorted(one.zones)) for one in loaded.people] == [
        ("Mara Ilves", ["irrigation"], ["creek-terrace", "north-block"]), ("Jonas Berg", ["sensors", "system"], []),
        ("Lene Torv", ["irrigation", "sensors", "system"], []),
    ]  # fmt: skip
    assert {one.lets_pass for one in loaded.people} == {Priority.HIGH}
    assert loaded.escalation is not None
    assert loaded.escalation.people == ("mara", "jonas", "lene")


def test_the_commented_lines_of_the_examples_work_too(examples: Path, tmp_path: Path) -> None:
    """Whoever takes away the # from a line that is no sentence gets a configuration that loads."""
    secrets = {"/etc/parchd/secrets/broker": "b", "/etc/parchd/secrets/influxdb-token": "t"}
    secrets |= {"/etc/parchd/secrets/mail-password": "m", "/run/secrets/hook": "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"}
    secrets |= {"/run/secrets/influxdb": "t", "/run/secrets/plc": "5d9e1f60f4c1a9d27b6e8035"}
    for name in ("farm", "integrator"):
        for path in examples.rglob("*"):
            if path.is_file() and path.suffix in (".toml", ".csv"):
                target = tmp_path / path.relative_to(examples)
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_text(path.read_text("utf-8"), "utf-8")
        text = uncommented((tmp_path / f"{name}.toml").read_text("utf-8"))
        for number, (path_text, secret) in enumerate(secrets.items()):
            file = tmp_path / f"secret{number}"
            file.write_text(secret)
            file.chmod(0o600)
            text = text.replace(path_text, str(file))
        (tmp_path / f"{name}.toml").write_text(text, "utf-8")
        loaded = load(tmp_path / f"{name}.toml", {}, None)
        entries = [*loaded.sources.values(), *loaded.sinks.values(), *loaded.notifiers.values()]
        assert any(secret.origin.startswith("file") for entry in entries for secret in entry.secrets)
        assert loaded.warnings == ()


def uncommented(text: str) -> str:
    """Take the # from lines like ``# key = value`` and ``# [table]``; what such a line replaces goes."""
    lines: list[str] = []
    table_end = 0
    for line in text.splitlines():
        body = line.removeprefix("# ")
        key = body.partition(" = ")[0]
        if line.startswith(("[", "# [")):
            table_end = len(lines)
        if line.startswith("# ") and (body.startswith("[") or (" = " in body and " " not in key)):
            lines = [old for n, old in enumerate(lines) if n < table_end or not old.startswith(f"{key} = ")]
            lines.append(body)
        else:
            lines.append(line)
    return "\n".join(lines) + "\n"
