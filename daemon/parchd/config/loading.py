"""From a file to a configuration that can be used."""

from collections.abc import Mapping
from pathlib import Path

from parchd.config.loaded import Loaded


def load(path: Path, environ: Mapping[str, str], credentials: Path | None) -> Loaded:
    """Read, check and compile a configuration.

    Args:
        path: the main TOML file.
        environ: variables ``PARCHD_...`` change single keys; ``STATE_DIRECTORY`` is where the journal goes.
        credentials: folder of systemd credentials (``$CREDENTIALS_DIRECTORY``).

    Raises:
        ConfigError: it cannot be used; carries every problem, not the first only.
    """
    raise NotImplementedError
