"""Loading the configuration the way every command does."""

import os
from pathlib import Path

from parchd.config import Loaded, load


def load_config(path: Path) -> Loaded:
    """Load a configuration with this process's environment and credentials.

    Raises:
        ConfigError: it cannot be used.
    """
    credentials = os.environ.get("CREDENTIALS_DIRECTORY")
    return load(path, os.environ, Path(credentials) if credentials else None)
