"""Variables and credentials: which key each of them changes, and which change nothing."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic_settings import PydanticBaseSettingsSource
from pydantic_settings.exceptions import SettingsError

from parchd.config.model import Settings
from parchd.config.origins import Origins, Where
from parchd.config.schema import keys_at, suggestion, walk
from parchd.config.sources import CredentialsSource, VariablesSource, decoded
from parchd.config.toml_lines import Loc
from parchd.contract import Problem

PREFIX = "PARCHD_"
DELIMITER = "__"
ADAPTERS = ("sources", "sinks", "notifiers")
NAMED = ("transducers", "zones", "tensiometers", "alarms", "rules", "people", *ADAPTERS)
NOT_OURS = frozenset({"PARCHD_CONFIG"})
"""Variables with our prefix that are for the command line."""


@dataclass(slots=True)
class Overrides:
    """What does not stand in a file: sources for pydantic-settings, and what is wrong or odd about them."""

    sources: list[PydanticBaseSettingsSource] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)


def read_overrides(
    environ: Mapping[str, str], credentials: Path | None, names: Mapping[str, Iterable[str]], origins: Origins
) -> Overrides:
    """Sort variables and credentials into those that change a key and those that change nothing.

    Args:
        environ: all variables; only those that begin with ``PARCHD_`` and are not empty count.
        credentials: a folder of files, or ``None``.
        names: what stands in the files, by table. Only adapters may be new, with a ``..__KIND`` of their own.
        origins: gets the place of each key that is changed.
    """
    overrides = Overrides()
    texts = {v: text for v, text in environ.items() if v.startswith(PREFIX) and v not in NOT_OURS and text.strip()}
    new = frozenset(v.removeprefix(PREFIX).lower() for v in texts)
    sorter = _Sorter(names, new, origins, overrides.warnings)
    if credentials is not None:
        _add_credentials(overrides, sorter, credentials)
    keys = {name: name.removeprefix(PREFIX) for name in texts}
    accepted = sorter.accept(texts, keys, lambda name: Where("", variable=name))
    overrides.sources.insert(0, VariablesSource({PREFIX.lower() + key: text for key, text in accepted.items()}))
    return overrides


def _add_credentials(overrides: Overrides, sorter: "_Sorter", folder: Path) -> None:
    try:
        source = CredentialsSource(folder)
    except (OSError, UnicodeDecodeError, SettingsError) as error:
        overrides.problems.append(
            Problem(str(folder), None, "credentials", "", "a folder of text files that can be read", str(error))
        )
        return
    texts = {name: text for name, text in source.env_vars.items() if text and DELIMITER in name}
    keys = {name: name for name in texts}
    source.env_vars = sorter.accept(texts, keys, lambda name: Where(str(folder / name)))
    overrides.sources.append(source)


@dataclass(frozen=True, slots=True)
class _Sorter:
    names: Mapping[str, Iterable[str]]
    new: frozenset[str]
    origins: Origins
    warnings: list[Problem]

    def accept(
        self, texts: Mapping[str, str | None], keys: Mapping[str, str], place: Callable[[str], Where]
    ) -> dict[str, str]:
        """Keep what changes a key, under the exact name of that key; warn of the rest."""
        accepted: dict[str, str] = {}
        for name, text in sorted(texts.items()):
            loc, hint = self._resolve(keys[name].lower().split(DELIMITER))
            if hint is None:
                accepted[DELIMITER.join(map(str, loc))] = text or ""
                self.origins.texts[loc] = text or ""
                self._note(loc, place(name), decoded(text))
            else:
                where = place(name)
                self.warnings.append(
                    Problem(where.file, None, name, "a name that changes nothing", "a key of the configuration", hint)
                )
        return accepted

    def _note(self, loc: Loc, where: Where, value: Any) -> None:
        self.origins.override(loc, where)
        if isinstance(value, dict):
            for key, item in value.items():
                self._note((*loc, key), where, item)

    def _resolve(self, parts: list[str]) -> tuple[Loc, str | None]:
        """Find the key that is meant; where there is none, a hint (which may be empty)."""
        loc: Loc = ()
        for part in parts:
            if len(loc) == 1 and loc[0] in NAMED:
                name = self._named(str(loc[0]), part)
                if name is None:
                    return loc, suggestion(part, self.names.get(str(loc[0]), ()))
                loc = (*loc, name)
            elif (len(loc) >= 2 and loc[0] in ADAPTERS) or walk(Settings, (*loc, part)):
                loc = (*loc, part)
            else:
                return loc, suggestion(part, keys_at(Settings, loc))
        return loc, None

    def _named(self, group: str, part: str) -> str | None:
        """Find the name that is meant: variables have no dashes, so an underscore may stand for one."""
        names = list(self.names.get(group, ()))
        if part in names:
            return part
        close = [name for name in names if name.replace("-", "_") == part]
        if len(close) == 1:
            return close[0]
        return part if group in ADAPTERS and DELIMITER.join((group, part, "kind")) in self.new else None
