"""What people install: the wheel made from the sdist, with the source tree out of the way."""

import importlib.metadata
import json
import os
import re
import subprocess
import sys
import sysconfig
import tomllib
import zipfile
from pathlib import Path
from typing import Any

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
PROJECT: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
LOCK = (ROOT / "requirements.lock").read_text()
SOURCES = (ROOT / "daemon" / "parchd", ROOT / "adapters" / "parchd_adapters")


def run(*command: str | Path, cwd: Path) -> str:
    environment = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "COV_"))}
    done = subprocess.run(command, cwd=cwd, env=environment, capture_output=True, text=True, check=False, timeout=100)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def sources() -> set[str]:
    """Each file of the two packages, as the wheel should hold it."""
    return {
        file.relative_to(package.parent).as_posix()
        for package in SOURCES
        for file in package.rglob("*")
        if file.is_file() and "__pycache__" not in file.parts and not is_ignored(file)
    }


def is_ignored(file: Path) -> bool:
    return file.name.startswith(".") or file.suffix in {".pyc", ".orig", ".rej"}


@pytest.fixture(scope="module")
def sdist(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sdist")
    run(sys.executable, "-m", "hatchling", "build", "--target", "sdist", "--directory", folder, cwd=ROOT)
    (archive,) = folder.iterdir()
    return archive


@pytest.fixture(scope="module")
def wheel(sdist: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built from the unpacked sdist: a file that the sdist forgets is missing here too."""
    folder = tmp_path_factory.mktemp("wheel")
    run("tar", "--extract", "--file", sdist, cwd=folder)
    (unpacked,) = folder.iterdir()
    run(sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", folder / "out", cwd=unpacked)
    (built,) = (folder / "out").iterdir()
    return built


@pytest.fixture(scope="module")
def python(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment with the wheel installed; the libraries are borrowed from ours."""
    home = tmp_path_factory.mktemp("installed") / "venv"
    run(sys.executable, "-m", "venv", "--without-pip", home, cwd=home.parent)
    interpreter = home / "bin" / "python"
    pip = (sys.executable, "-m", "pip", "--disable-pip-version-check", "--python", str(interpreter))
    run(*pip, "install", "--quiet", "--no-deps", "--no-index", wheel, cwd=home.parent)
    (site,) = home.glob("lib/python*/site-packages")
    (site / "borrowed.pth").write_text(sysconfig.get_path("purelib") + "\n")
    return interpreter


def test_the_wheel_holds_every_file_of_both_packages_and_nothing_else(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        held = {name for name in archive.namelist() if ".dist-info/" not in name}
    assert held == sources()
    assert {"parchd/py.typed", "parchd_adapters/py.typed"} <= held
    assert any(re.fullmatch(r"parchd/store/migrations/\d+\w*\.sql", name) for name in held)


def test_the_installed_packages_are_not_the_source_tree(python: Path, tmp_path: Path) -> None:
    script = "import parchd, parchd_adapters; print(parchd.__file__, parchd_adapters.__file__, sep='\\n')"
    places = run(python, "-c", script, cwd=tmp_path).splitlines()
    assert all(Path(place).is_relative_to(python.parents[1]) for place in places)


LOAD_ALL = """
import importlib.metadata, json
points = importlib.metadata.distribution("parchd").entry_points
print(json.dumps([[p.group, p.name, p.load().__class__.__name__] for p in points if p.group != "console_scripts"]))
"""


def test_every_adapter_loads_from_the_wheel(python: Path, tmp_path: Path) -> None:
    loaded = json.loads(run(python, "-c", LOAD_ALL, cwd=tmp_path))
    registered = {(group, name) for group, points in PROJECT["entry-points"].items() for name in points}
    assert {(group, name) for group, name, _ in loaded} == registered
    assert {kind for *_, kind in loaded} == {"AdapterKind"}


def test_the_installed_command_tells_its_version(python: Path, wheel: Path, tmp_path: Path) -> None:
    version = wheel.name.split("-")[1]
    assert version in run(python.parent / "parchd", "--version", cwd=tmp_path)


# --- requirements.lock


def pinned() -> dict[str, str]:
    return dict(re.findall(r"^([a-z0-9-]+)==(\S+)", LOCK, re.MULTILINE))


def needed_by(requirements: list[str]) -> dict[str, Requirement]:
    """What this interpreter must install for them, and for what they need in turn."""
    found: dict[str, Requirement] = {}
    waiting = [Requirement(text) for text in requirements]
    while waiting:
        requirement = waiting.pop()
        if requirement.marker and not requirement.marker.evaluate({"extra": ""}):
            continue
        name = canonicalize_name(requirement.name)
        if name not in found:
            waiting += [Requirement(text) for text in importlib.metadata.requires(name) or []]
        found[name] = requirement
    return found


def test_the_lock_file_names_no_address() -> None:
    """Whoever installs chooses the package index."""
    assert not re.search(r"://|@|\.(com|org|io|net)\b|^--(?!hash)", LOCK, re.MULTILINE)


def test_the_lock_file_pins_all_that_the_daemon_needs() -> None:
    assert needed_by(PROJECT["dependencies"]).keys() <= pinned().keys()


def test_pinned_versions_are_ones_that_the_project_accepts() -> None:
    for text in PROJECT["dependencies"]:
        requirement = Requirement(text)
        assert requirement.specifier.contains(pinned()[canonicalize_name(requirement.name)]), text


def test_every_pinned_library_has_hashes() -> None:
    for entry in re.split(r"\n(?=\S)", LOCK.strip()):
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", entry), entry
