"""Where keys come from, in order: the caller, variables, credentials, files."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic.fields import FieldInfo
from pydantic_settings import (
    BaseSettings,
    EnvSettingsSource,
    InitSettingsSource,
    NestedSecretsSettingsSource,
    PydanticBaseSettingsSource,
    SecretsSettingsSource,
)

from parchd.config.model import Settings


class VariablesSource(EnvSettingsSource):
    """Variables that were handed over, not those of the process."""

    def __init__(self, variables: Mapping[str, str]) -> None:
        super().__init__(Settings)
        self.env_vars = variables

    def decode_complex_value(self, field_name: str, field: FieldInfo, value: Any) -> Any:
        """Read lists and tables written as JSON; whatever else it is, the model will say what it expected."""
        del field_name, field
        return decoded(value)


class CredentialsSource(NestedSecretsSettingsSource):
    """Files of a credential folder, named like ``sources__bus1__password``."""

    def __init__(self, folder: Path) -> None:
        super().__init__(
            SecretsSettingsSource(Settings),
            secrets_dir=folder,
            secrets_dir_missing="error",
            secrets_prefix="",
            secrets_nested_delimiter="__",
        )

    def decode_complex_value(self, field_name: str, field: FieldInfo, value: Any) -> Any:
        """See `VariablesSource`."""
        del field_name, field
        return decoded(value)


class DocumentSource(InitSettingsSource):
    """What the TOML files say, merged already."""

    def __init__(self, data: dict[str, Any]) -> None:
        super().__init__(Settings, data)


def settings_from(sources: tuple[PydanticBaseSettingsSource, ...]) -> Settings:
    """Build the settings from sources, the first one first.

    Raises:
        ValidationError: what they say does not fit the model.
    """

    class Sourced(Settings):
        @classmethod
        def settings_customise_sources(
            cls,
            settings_cls: type[BaseSettings],
            init_settings: PydanticBaseSettingsSource,
            env_settings: PydanticBaseSettingsSource,
            dotenv_settings: PydanticBaseSettingsSource,
            file_secret_settings: PydanticBaseSettingsSource,
        ) -> tuple[PydanticBaseSettingsSource, ...]:
            del settings_cls, env_settings, dotenv_settings, file_secret_settings
            return (init_settings, *sources)

    return Sourced()


def decoded(value: Any) -> Any:
    """Read a JSON list or object; give anything else back as it is.

    >>> decoded('["05:00", "08:00"]'), decoded("30"), decoded("[oops")
    (['05:00', '08:00'], '30', '[oops')
    """
    if isinstance(value, str) and value.lstrip().startswith(("[", "{")):
        try:
            return json.loads(value)
        except ValueError:
            return value
    return value
