"""Which notifiers a command is about."""

from collections.abc import Iterable

from parchd.contract import ParchdError


def chosen(wanted: Iterable[str] | None, known: Iterable[str]) -> tuple[str, ...]:
    """The notifiers that are meant; all of them if none is named.

    Raises:
        ParchdError: one of them is not configured, or none is.
    """
    names = tuple(known)
    if unknown := sorted(set(wanted or ()) - set(names)):
        raise ParchdError(
            f"no notifier is called {', '.join(unknown)}; the configuration has: {', '.join(names) or 'none'}"
        )
    if not names:
        raise ParchdError("the configuration has no notifier: add a [notifiers.NAME] table")
    return tuple(name for name in names if not wanted or name in wanted)
