"""Bringing influxdb-client in without what it brings along."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

_UNWANTED = ("numpy", "pandas")


@contextmanager
def slim_import() -> Iterator[None]:
    """Import influxdb-client as if NumPy and pandas were not installed.

    It takes them in wherever it finds them, some 14 MB for what we never use. What is loaded already stays.
    """
    modules: dict[str, Any] = sys.modules
    hidden = [] if "influxdb_client" in modules else [name for name in _UNWANTED if name not in modules]
    modules.update(dict.fromkeys(hidden))  # None in this place means: not to be found
    try:
        yield
    finally:
        for name in hidden:
            del modules[name]
