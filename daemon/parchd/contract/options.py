"""Options of adapters: what stands under ``[sources.NAME]`` and its like."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, SecretStr


class _SecretMark:
    """Marks a field whose value must not stand in a configuration file."""


SECRET = _SecretMark()

Secret = Annotated[SecretStr, SECRET]
"""A password, token or key.

In the TOML file it is written ``NAME_file = "path"``; it may also come from the environment
(``PARCHD_SOURCES__BUS1__PASSWORD``) or a systemd credential (``sources__bus1__password``). The loader
resolves all three: an adapter sees the value only.
"""


class Options(BaseModel):
    """Base of every adapter's options: unknown keys are errors, values do not change."""

    model_config = ConfigDict(extra="forbid", frozen=True)
