"""The broker that tests and the demo start."""

import re
import shutil
from pathlib import Path

import pytest

from parchd.testing.broker import Mosquitto, find_mosquitto
from parchd.testing.publisher import Publisher


def test_a_missing_broker_is_named_with_the_command_that_installs_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda *_, **__: None)
    with pytest.raises(FileNotFoundError, match="apt-get install mosquitto"):
        find_mosquitto()


@pytest.mark.needs("mosquitto")
def test_a_broker_that_does_not_start_says_why(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError, match="no_such_setting"):
        Mosquitto(tmp_path, settings=["no_such_setting true"]).start()


@pytest.mark.needs("mosquitto")
def test_without_a_folder_nothing_stays_behind() -> None:
    with Mosquitto() as broker:
        assert (broker.folder / "mosquitto.conf").exists()
        with Publisher(broker.host, broker.port) as publisher:
            assert publisher.publish([("a", b"1")] * 3) == 3
    assert not broker.folder.exists()


@pytest.mark.needs("mosquitto")
def test_a_publisher_is_told_that_it_may_not_come_in(tmp_path: Path) -> None:
    with Mosquitto(tmp_path, users={"parchd": "quiet water"}) as broker:
        with pytest.raises(ConnectionError, match="refused"):
            Publisher(broker.host, broker.port)
        with Publisher(broker.host, broker.port, "parchd", "quiet water") as publisher:
            assert publisher.publish([("a", b"1")]) == 1


@pytest.mark.needs("mosquitto")
def test_the_settings_that_the_page_asks_for_are_settings_of_the_broker(tmp_path: Path) -> None:
    page = (Path(__file__).parents[2] / "adapters/docs/mqtt.md").read_text("utf-8")
    (block,) = re.findall(r"```\n(persistence true\n.*?)```", page, re.DOTALL)
    lines = [line for line in block.splitlines() if not line.startswith("persistence")]
    assert len(lines) >= 3
    with Mosquitto(tmp_path, settings=lines) as broker, Publisher(broker.host, broker.port) as publisher:
        assert publisher.publish([("a", b"1")]) == 1
