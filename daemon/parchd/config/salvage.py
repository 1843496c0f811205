"""Validating as much as can be validated, so that every problem is found at once."""

import copy
import itertools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError
from pydantic_settings import PydanticBaseSettingsSource

from parchd.config.model import Settings
from parchd.config.origins import Origins
from parchd.config.problems import Finding, Translator
from parchd.config.schema import secret_at
from parchd.config.sources import DocumentSource, settings_from
from parchd.config.toml_lines import Loc
from parchd.contract import Problem

SITE_STAND_IN = {"name": "?", "time_zone": "UTC", "altitude_m": 0.0}
_ROUNDS = 20


@dataclass(slots=True)
class Salvaged:
    """Settings, and what had to be left out of them.

    Args:
        settings: what could be validated.
        problems: what could not.
        broken: paths of tables that were left out, such as ``("zones", "north")``: nobody should miss them.
    """

    settings: Settings
    problems: list[Problem] = field(default_factory=list)
    broken: set[Loc] = field(default_factory=set)


def validate(sources: tuple[PydanticBaseSettingsSource, ...], origins: Origins) -> Salvaged:
    """Build the settings; where they do not fit the model, leave out what is wrong and go on with the rest."""
    try:
        return Salvaged(settings_from(sources))
    except ValidationError as error:
        first = error
    data = copy.deepcopy(_merged(sources))
    findings = _translator(data, origins).findings(first)
    problems = [finding.problem for finding in findings]
    broken: set[Loc] = set()
    for _ in range(_ROUNDS):
        for finding in findings:
            broken.update(_leave_out(data, finding))
        try:
            return Salvaged(settings_from((DocumentSource(data),)), problems, broken)
        except ValidationError as error:
            findings = _translator(data, origins).findings(error)
    stand_in = settings_from((DocumentSource({"site": SITE_STAND_IN}),))
    return Salvaged(stand_in, problems, {(key,) for key in data})


def _translator(data: Mapping[str, Any], origins: Origins) -> Translator:
    return Translator(Settings, data, origins, is_secret=lambda loc: secret_at(Settings, loc))


def _merged(sources: tuple[PydanticBaseSettingsSource, ...]) -> dict[str, Any]:
    data: dict[str, Any] = {}
    for source in reversed(sources):
        data = _over(data, source())
    return data


def _over(below: Mapping[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    both = dict(below)
    for key, value in above.items():
        under = both.get(key)
        both[key] = _over(under, value) if isinstance(under, Mapping) and isinstance(value, Mapping) else value
    return both


def _leave_out(data: dict[str, Any], finding: Finding) -> Iterator[Loc]:
    """Take what is wrong out of the data, or the table around what is missing; gives the paths that are gone."""
    if finding.meant is not None:
        yield finding.meant
    loc = finding.loc
    if loc[:1] == ("site",) and finding.kind == "missing":
        data["site"] = {**SITE_STAND_IN, **data.get("site", {})}
    else:
        loc = loc[:-1] if finding.kind == "missing" else loc
        loc = tuple(itertools.takewhile(lambda key: isinstance(key, str), loc))
        _delete(data, loc)
    yield loc


def _delete(data: dict[str, Any], loc: Loc) -> None:
    """Delete a key, unless it went with a table around it."""
    node: Any = data
    for key in loc[:-1]:
        node = node.get(key, {})
    node.pop(loc[-1], None)
