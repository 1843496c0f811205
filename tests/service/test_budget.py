"""``parchd budget`` and ``parchd check`` as their own process, the way people run them over a line."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

CONFIG = Path(__file__).parents[2] / "config"
PARCHD = (sys.executable, "-m", "parchd")


def run(*words: object, **environ: str) -> subprocess.CompletedProcess[str]:
    command = [*PARCHD, *(str(word) for word in words)]
    return subprocess.run(
        command, capture_output=True, text=True, timeout=30, check=False, env={**os.environ, **environ}
    )


def test_the_budget_fits_a_terminal_that_knows_ascii_only() -> None:
    found = run("budget", "north-1-30", CONFIG / "farm.toml", LC_ALL="C", PYTHONUTF8="0", PYTHONIOENCODING="ascii")
    assert (found.returncode, found.stderr) == (0, "")
    assert "expanded, k = 2." in found.stdout
    assert max(map(len, found.stdout.splitlines())) <= 80


def test_a_key_from_outside_changes_the_budget() -> None:
    """The way a container says how good its transducer is."""
    found = run("budget", "pot", CONFIG / "bench.toml", PARCHD_TRANSDUCERS__VACUUM__ACCURACY_KPA="0.25")
    assert "not calibrated: +/-0.25 kPa" in found.stdout


@pytest.mark.parametrize("name", ["bench", "farm", "integrator"])
def test_every_example_is_checked_with_its_uncertainty(name: str) -> None:
    found = run("check", CONFIG / f"{name}.toml")
    assert found.returncode == 0
    assert "U: expanded uncertainty (k = 2)" in found.stdout
    assert "offset model" in found.stdout


def test_help_tells_what_there_is_to_say() -> None:
    found = run("budget", "--help")
    assert found.returncode == 0
    assert {"--at", "--date", "TENSIOMETER"} <= set(found.stdout.replace(",", " ").split())


def test_a_wrong_name_ends_with_an_exit_code_for_scripts() -> None:
    assert run("budget", "nobody", CONFIG / "farm.toml").returncode == 1
    assert run("budget").returncode == 2
