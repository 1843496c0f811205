"""The set-up commands say what to do when something is missing, and change nothing then."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MISSING_PROGRAMS = ROOT / "tests" / "missing_programs.py"
OF_AN_OUTER_MAKE = {"MAKEFLAGS", "MAKELEVEL", "MAKEOVERRIDES", "MFLAGS", "PYTHON", "VENV", "ARGS", "WITHOUT"}


class Machine:
    """A pretended machine: a user who is not root, an interpreter and an environment of our making."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.venv = folder / "venv"
        self.add("id", "echo 1000")
        self.add("apt-get", "echo apt-get was called >&2; exit 9")

    def add(self, name: str, script: str) -> Path:
        program = self.folder / name
        program.parent.mkdir(parents=True, exist_ok=True)
        program.write_text(f"#!/bin/sh\n{script}\n")
        program.chmod(0o755)
        return program

    def make(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        environment = {name: value for name, value in os.environ.items() if name not in OF_AN_OUTER_MAKE}
        environment["PATH"] = f"{self.folder}:{environment['PATH']}"
        command = ("make", "--no-print-directory", "-C", str(ROOT), f"VENV={self.venv}", *arguments)
        return subprocess.run(command, env=environment, capture_output=True, text=True, check=False, timeout=60)

    def pretend_set_up(self, python: str) -> None:
        self.add("venv/bin/python", f"""test "$2" = 'print("runs")' && echo runs && exit\n{python}""")
        for stamp in (".made", ".has-demo", ".has-dev"):
            (self.venv / stamp).touch()


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    return Machine(tmp_path)


def test_an_old_python_is_named_together_with_the_way_out(machine: Machine) -> None:
    old = machine.add("python3.9", 'case "$*" in *version_info*) exit 1;; --version) echo Python 3.9.2;; esac')
    done = machine.make("demo", f"PYTHON={old}")
    assert done.returncode != 0
    assert "needs Python 3.11 or newer" in done.stderr
    assert "Python 3.9.2" in done.stderr
    assert not machine.venv.exists()


def test_no_python_at_all_is_named_together_with_the_package(machine: Machine) -> None:
    done = machine.make("demo", "PYTHON=python3.99")
    assert done.returncode != 0
    assert "apt-get install python3 python3-venv" in done.stderr


def test_a_python_without_venv_is_named_together_with_its_package(machine: Machine) -> None:
    bare = machine.add("python3.12", 'case "$*" in *ensurepip*) exit 1;; *print*) echo 3.12;; esac')
    done = machine.make("demo", f"PYTHON={bare}")
    assert done.returncode != 0
    assert "sudo apt-get install python3.12-venv" in done.stderr
    assert "apt-get was called" not in done.stderr
    assert not machine.venv.exists()


def test_a_user_who_is_not_root_is_told_which_packages_the_tests_need(machine: Machine) -> None:
    machine.pretend_set_up("echo mosquitto socat")
    done = machine.make("programs")
    assert done.returncode != 0
    assert "sudo apt-get install --no-install-recommends mosquitto socat" in done.stderr
    assert "apt-get was called" not in done.stderr


def test_the_tests_start_at_once_when_nothing_is_missing(machine: Machine) -> None:
    machine.pretend_set_up("true")
    done = machine.make("programs")
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_programs_are_left_out_only_when_named(machine: Machine) -> None:
    machine.pretend_set_up('echo "$*" >&2')
    done = machine.make("programs", "WITHOUT=influxd chromium")
    assert done.stderr.strip() == "tests/missing_programs.py --without influxd --without chromium"


def test_what_is_set_up_is_not_set_up_again(machine: Machine) -> None:
    machine.pretend_set_up("echo called >&2; exit 9")
    machine.add("venv/bin/parchd", 'echo "$*"')
    done = machine.make("demo", "ARGS=--seconds 5")
    assert (done.returncode, done.stdout, done.stderr) == (0, "demo --seconds 5\n", "")


def missing(tmp_path: Path, *arguments: str) -> list[str]:
    command = (sys.executable, str(MISSING_PROGRAMS), *arguments)
    environment = {**os.environ, "PATH": str(tmp_path)}
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=True, timeout=60)
    return done.stdout.split()


def test_packages_of_marked_programs_are_missing_where_no_program_is(tmp_path: Path) -> None:
    assert "systemd" in missing(tmp_path)
    assert "systemd" not in missing(tmp_path, "--without", "systemd-analyze")
