"""Relative paths start from the folder of the file they stand in."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from parchd.config.origins import Origins
from parchd.config.schema import children, members
from parchd.config.toml_lines import Loc


def absolute_paths(annotation: Any, value: Any, loc: Loc, origins: Origins) -> Any:
    """Make relative paths in an adapter's options absolute, wherever its model has a ``Path``."""
    if isinstance(value, str) and value and Path in members(annotation):
        return str(origins.folder(loc) / value)
    if isinstance(value, Mapping):
        return {key: _below(annotation, key, item, loc, origins) for key, item in value.items()}
    if isinstance(value, list):
        return [_below(annotation, index, item, loc, origins) for index, item in enumerate(value)]
    return value


def _below(annotation: Any, key: str | int, value: Any, loc: Loc, origins: Origins) -> Any:
    for inner, _ in children(annotation, key):
        value = absolute_paths(inner, value, (*loc, key), origins)
    return value
