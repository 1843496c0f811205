"""Adapters by name: found through entry points, imported only when one is used."""

from collections.abc import Mapping
from importlib.metadata import EntryPoint, entry_points
from typing import Any

from parchd.config.problems import one_of
from parchd.config.schema import suggestion
from parchd.contract import AdapterKind, RegistryError

GROUPS = ("sources", "sinks", "notifiers")


def listing(group: str) -> dict[str, EntryPoint]:
    """List the kinds of a group (``sources``, ``sinks``, ``notifiers``, ``outputs``) by name; nothing is imported.

    Raises:
        RegistryError: two distributions claim one name; both are named.
    """
    found: dict[str, EntryPoint] = {}
    for entry in entry_points(group=f"parchd.{group}"):
        other = found.get(entry.name)
        if other is not None and (other.value != entry.value or owner(other) != owner(entry)):
            raise RegistryError(
                f'two distributions claim the name "{entry.name}" among {group}: '
                f"{owner(other)} ({other.value}) and {owner(entry)} ({entry.value}); uninstall one of them"
            )
        found[entry.name] = entry
    return dict(sorted(found.items()))


def owner(entry: EntryPoint) -> str:
    """Name the distribution that an entry point belongs to."""
    return entry.dist.name if entry.dist is not None else "an unknown distribution"


def load_kind(entries: Mapping[str, EntryPoint], kind: str) -> AdapterKind[Any, Any]:
    """Import one kind.

    Raises:
        UnknownKind: there is none of that name.
        RegistryError: it cannot be imported, or is no adapter.
    """
    if kind not in entries:
        raise UnknownKind(one_of(entries) if entries else "a kind, but none is installed", suggestion(kind, entries))
    entry = entries[kind]
    try:
        loaded = entry.load()
    except Exception as error:  # whatever a stranger's module raises must not hide the other problems
        reason = f"{type(error).__name__}: {error}"
        raise RegistryError(f"{entry.value} of {owner(entry)} cannot be imported ({reason})") from error
    if not isinstance(loaded, AdapterKind):
        raise RegistryError(f"{entry.value} of {owner(entry)} is a {type(loaded).__name__}, not an AdapterKind")
    return loaded


class UnknownKind(RegistryError):
    """No adapter of that name. ``expected`` and ``hint`` are for the problem that people see."""

    def __init__(self, expected: str, hint: str) -> None:
        super().__init__(f"expected {expected} {hint}")
        self.expected = expected
        self.hint = hint
