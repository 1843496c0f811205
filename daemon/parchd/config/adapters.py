"""Sources, sinks and notifiers: from their tables to entries that can be built."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.metadata import EntryPoint
from typing import Any

from pydantic import BaseModel, ValidationError

from parchd.config.loaded import AdapterEntry, NotifierEntry, NotifierPolicy
from parchd.config.model import PolicyTable, Settings
from parchd.config.origins import Origins
from parchd.config.paths import absolute_paths
from parchd.config.problems import Translator, one_of
from parchd.config.registry import GROUPS, UnknownKind, listing, load_kind
from parchd.config.schema import is_secret, secret_at, suggestion
from parchd.config.secrets import resolve_secrets, three_ways
from parchd.config.sources import decoded
from parchd.config.toml_lines import Loc
from parchd.contract import AdapterKind, Options, Problem, RegistryError


@dataclass(slots=True)
class Adapters:
    """All adapters of a configuration, by group and name, and what is wrong with the others."""

    entries: dict[str, dict[str, AdapterEntry[Any]]] = field(default_factory=lambda: {"sources": {}, "sinks": {}})
    notifiers: dict[str, NotifierEntry] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)


def read_adapters(settings: Settings, written: Mapping[str, Any], origins: Origins) -> Adapters:
    """Find the kind of each adapter, and validate its options with the kind's own model.

    Args:
        settings: with the tables as merged from all places.
        written: what the files say: secrets must not stand there.
        origins: where keys stand.
    """
    adapters = Adapters()
    for group in GROUPS:
        try:
            kinds = listing(group)
        except RegistryError as error:
            adapters.problems.append(Problem("", None, group, str(error), "one adapter of each name"))
            continue
        for name, table in getattr(settings, group).items():
            reader = _Reader(adapters, origins, (group, name))
            kind = reader.find_kind(kinds, table.get("kind"))
            if kind is not None:
                reader.read(kind, table, written.get(group, {}).get(name))
    return adapters


@dataclass(frozen=True, slots=True)
class _Reader:
    adapters: Adapters
    origins: Origins
    loc: Loc

    def find_kind(self, kinds: Mapping[str, EntryPoint], kind: Any) -> AdapterKind[Any, Any] | None:
        if not isinstance(kind, str):
            self._problem("kind", expected=f"kind: {one_of(kinds)}", found="nothing")
            return None
        try:
            return load_kind(kinds, kind)
        except UnknownKind as error:
            self._problem("kind", expected=error.expected, found=f'"{kind}"', hint=error.hint)
        except RegistryError as error:
            self._problem("kind", expected="an adapter that works", found=str(error))
        return None

    def read(self, factory: AdapterKind[Any, Any], table: Mapping[str, Any], written: Any) -> None:
        group, name = map(str, self.loc)
        given = {key: value for key, value in table.items() if key != "kind"}
        policy = self._policy(given) if group == "notifiers" else None
        resolved = resolve_secrets(
            factory.options, self._known(factory.options, given), written, self.loc, self.origins
        )
        self.adapters.problems += resolved.problems
        self.adapters.warnings += resolved.warnings
        options = self._validated(
            factory.options, absolute_paths(factory.options, resolved.table, self.loc, self.origins)
        )
        if options is None:
            return
        common = (group, name, table["kind"], options, factory, tuple(resolved.origins))
        if policy is None:
            self.adapters.entries[group][name] = AdapterEntry(*common)
        else:
            self.adapters.notifiers[name] = NotifierEntry(*common, policy)

    def _policy(self, given: dict[str, Any]) -> NotifierPolicy:
        """Take the keys out of a notifier's table that every notifier has."""
        mine = {key: decoded(given.pop(key)) for key in PolicyTable.model_fields if key in given}
        table = self._validated(PolicyTable, mine)
        if not isinstance(table, PolicyTable):
            return NotifierPolicy()
        return NotifierPolicy(
            table.lowest_priority, table.max_per_hour, table.quiet_hours, table.quiet_lets_pass, table.digest,
            table.transitions,
        )  # fmt: skip

    def _known(self, model: type[Options], given: Mapping[str, Any]) -> dict[str, Any]:
        """Leave out what a variable or credential adds that the adapter does not know: it changes nothing."""
        secrets = {f"{name}_file" for name, info in model.model_fields.items() if is_secret(info)}
        known = {}
        for key, value in given.items():
            here = (*self.loc, key)
            if here not in self.origins.overridden or key in secrets:
                known[key] = value
            elif key in model.model_fields:
                known[key] = value if is_secret(model.model_fields[key]) else decoded(value)
            else:
                hint = suggestion(key, model.model_fields)
                self.adapters.warnings.append(
                    self.origins.problem(here, found="a name that changes nothing", expected="a key of it", hint=hint)
                )
        return known

    def _validated(self, model: type[BaseModel], table: Mapping[str, Any]) -> Any:
        try:
            return model.model_validate(table)
        except ValidationError as error:
            translator = Translator(model, table, self.origins, self.loc, lambda loc: secret_at(model, loc))
            for finding in translator.findings(error):
                problem = finding.problem
                if finding.kind == "missing" and secret_at(model, finding.loc):
                    problem = self.origins.problem(
                        self.loc, found="nothing", expected=problem.expected, hint=three_ways((*self.loc, *finding.loc))
                    )
                self.adapters.problems.append(problem)
        return None

    def _problem(self, key: str, *, expected: str, found: str, hint: str = "") -> None:
        problem = self.origins.problem((*self.loc, key), expected=expected, found=found, hint=hint)
        self.adapters.problems.append(problem)
