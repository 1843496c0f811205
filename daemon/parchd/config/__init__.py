"""The TOML configuration: read, checked, and compiled into what the core works with."""

from parchd.config.loaded import (
    AdapterEntry,
    Loaded,
    NotifierEntry,
    NotifierPolicy,
    ScheduleSettings,
    SecretOrigin,
    StoreSettings,
)
from parchd.config.loading import load

__all__ = [
    "AdapterEntry", "Loaded", "NotifierEntry", "NotifierPolicy", "ScheduleSettings", "SecretOrigin", "StoreSettings",
    "load",
]  # fmt: skip
