"""What stands under ``[sinks.NAME]`` with ``kind = "influxdb"``."""

import re
from pathlib import Path
from typing import Annotated
from urllib.parse import urlsplit

from pydantic import AfterValidator, Field

from parchd.contract import Options, Secret

OUR_TAGS = ("site", "zone", "station", "tensiometer", "depth_m", "channel")
"""Tags that the sink sets itself."""

_NAME = r"^[A-Za-z][A-Za-z0-9_.-]*$"
_KEY = re.compile(r"^[A-Za-z][A-Za-z0-9_]*$")


def _base_address(text: str) -> str:
    parts = urlsplit(text)
    if parts.scheme not in ("http", "https") or not parts.hostname or any(char.isspace() for char in text):
        raise ValueError("expected an address like http://localhost:8086")
    if parts.port == 0:
        raise ValueError("expected a port from 1 to 65535")
    if parts.username or parts.password or parts.query or parts.fragment:
        raise ValueError("expected a bare address; the token stands in token_file, org and bucket in their own keys")
    if "/api/" in parts.path:
        raise ValueError("expected the server's base address; leave out /api/v2/write, the sink adds it")
    return text.rstrip("/")


def _free_keys(tags: dict[str, str]) -> dict[str, str]:
    for key, value in tags.items():
        if key in OUR_TAGS or key == "time":
            raise ValueError(f"{key!r} is taken; expected another name for this tag")
        if not _KEY.match(key):
            raise ValueError(f"{key!r} is not a tag name; expected letters, digits and _, a letter first")
        if not value.strip():
            raise ValueError(f"tag {key!r} is empty; expected a text")
    return tags


class InfluxOptions(Options):
    """Options of the sink. ``adapters/docs/influxdb.md`` explains each."""

    url: Annotated[str, AfterValidator(_base_address)]
    org: str = Field(min_length=1)
    bucket: str = Field(min_length=1)
    token: Secret | None = None
    measurement: str = Field(default="tension", pattern=_NAME, max_length=64)
    channel_measurement: str = Field(default="channel", pattern=_NAME, max_length=64)
    tags: Annotated[dict[str, str], AfterValidator(_free_keys)] = Field(default_factory=dict)
    gzip: bool = False
    timeout_s: float = Field(default=10.0, ge=0.1, le=60.0)
    batch_rows: int = Field(default=2000, ge=1, le=20_000)
    ca_file: Path | None = None
