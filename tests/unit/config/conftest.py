from pathlib import Path

import pytest

from parchd.testing.config_folder import ConfigFolder


@pytest.fixture
def config(tmp_path: Path) -> ConfigFolder:
    """A folder to write configurations into."""
    return ConfigFolder(tmp_path)


@pytest.fixture
def examples() -> Path:
    """The folder with the example configurations."""
    return Path(__file__).parents[3] / "config"
