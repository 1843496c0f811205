"""The configuration that the demo writes is one that people could have written."""

from pathlib import Path

import pytest

from parchd.config import load
from parchd.demo.configuration import SECRET_FILE, Places, write_configuration
from parchd.demo.farm import tensiometers
from parchd.demo.sandbox import new_secret

PLACES = Places("/dev/serial/by-id/north", 1883, 2525, "http://127.0.0.1:8080/alarms")


@pytest.fixture(params=["plain", 'with "quotes" and spaces', "Äpfel"])
def folder(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    folder = tmp_path / str(request.param)
    folder.mkdir()
    new_secret(folder / SECRET_FILE)
    return folder


def test_it_loads_without_a_problem_or_a_warning(folder: Path) -> None:
    loaded = load(write_configuration(folder, PLACES), {}, None)
    assert loaded.warnings == ()
    assert loaded.store.path == folder / "parchd.db"


def test_it_has_twelve_channels_two_sources_and_two_notifiers(folder: Path) -> None:
    loaded = load(write_configuration(folder, PLACES), {}, None)
    assert {t.place.tensiometer for t in loaded.pipeline.tensiometers} == {one.name for _, one in tensiometers()}
    assert {entry.kind for entry in loaded.sources.values()} == {"serial-lines", "mqtt"}
    assert {entry.kind for entry in loaded.notifiers.values()} == {"email", "webhook"}


def test_at_each_station_the_shallow_one_decides(folder: Path) -> None:
    loaded = load(write_configuration(folder, PLACES), {}, None)
    assert loaded.schedulers["creek-terrace"] == ("bridge-30", "willow-30")


def test_the_device_may_have_any_name(folder: Path) -> None:
    device = str(folder / 'north "board"')
    loaded = load(write_configuration(folder, Places(device, 1883, 2525, "http://127.0.0.1:1/")), {}, None)
    assert loaded.sources["north-board"].options.model_dump()["port"] == device
