"""Names and zones as options write them."""

from typing import Annotated

from pydantic import AfterValidator, StringConstraints

from parchd_adapters._shared.times import parse_zone

Channel = Annotated[str, StringConstraints(pattern=r"^[a-zA-Z0-9._-]{1,64}$")]


def _check_zone(name: str) -> str:
    parse_zone(name)
    return name


ZoneName = Annotated[str, AfterValidator(_check_zone)]
