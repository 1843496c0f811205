import logging
from collections.abc import Iterator
from pathlib import Path

import pytest

from parchd.testing.commands import Farm


@pytest.fixture
def quillmere(tmp_path: Path) -> Farm:
    """A farm with a configuration and no journal yet."""
    return Farm(tmp_path)


@pytest.fixture(autouse=True)
def logs_as_they_were() -> Iterator[None]:
    """Take back what a command does to loggers and their handlers."""
    loggers = [logging.getLogger(name) for name in ("", "parchd", "parchd_adapters", "apscheduler")]
    before = [(logger.level, list(logger.handlers)) for logger in loggers]
    yield
    for logger, (level, handlers) in zip(loggers, before, strict=True):
        logger.setLevel(level)
        logger.handlers[:] = handlers
