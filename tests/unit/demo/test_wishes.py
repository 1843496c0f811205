"""What the user may ask for, and where things are kept."""

from pathlib import Path

import pytest

from parchd.demo.errors import DemoError
from parchd.demo.show import work_folder
from parchd.demo.wishes import Wishes


@pytest.mark.parametrize("speed", [0.0, -1.0, 0.5, 601.0, float("nan"), float("inf")])
def test_a_speed_out_of_range_is_refused_with_the_range(speed: float) -> None:
    with pytest.raises(DemoError, match="1 to 600"):
        Wishes(speed=speed)


@pytest.mark.parametrize("seconds", [0.0, -5.0, float("nan")])
def test_a_time_that_is_none_is_refused(seconds: float) -> None:
    with pytest.raises(DemoError, match="more than 0"):
        Wishes(seconds=seconds)


@pytest.mark.parametrize("speed", [1.0, 60.0, 240.0, 600.0])
def test_between_two_ticks_less_than_half_a_minute_passes_on_the_farm(speed: float) -> None:
    assert Wishes(speed=speed).tick_s * speed <= 30.0


def test_a_folder_to_keep_is_made_with_its_parents(tmp_path: Path) -> None:
    with work_folder(tmp_path / "a" / "b") as folder:
        assert folder.is_dir()
    assert folder.is_dir()


def test_a_folder_that_holds_something_is_refused_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / "demo.toml").write_text("mine")
    with pytest.raises(DemoError, match="an earlier demo"), work_folder(tmp_path):
        pass
    assert (tmp_path / "demo.toml").read_text() == "mine"


def test_a_folder_that_cannot_be_made_is_refused_with_the_reason(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(DemoError, match="Not a directory"), work_folder(tmp_path / "file" / "below"):
        pass


def test_without_a_wish_the_folder_is_gone_afterwards() -> None:
    with work_folder(None) as folder:
        (folder / "something").touch()
    assert not folder.exists()
