"""Servers and lines that service tests share."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from parchd.testing.broker import Mosquitto
from parchd.testing.line import PtyLine
from parchd.testing.receivers import HttpReceiver, MailSandbox


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker") as broker:
        yield broker


@pytest.fixture
def hooks() -> Iterator[HttpReceiver]:
    with HttpReceiver() as receiver:
        yield receiver


@pytest.fixture
def mails() -> Iterator[MailSandbox]:
    with MailSandbox() as sandbox:
        yield sandbox


@pytest.fixture
def line() -> Iterator[PtyLine]:
    with PtyLine() as line:
        yield line
