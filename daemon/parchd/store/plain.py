"""Plain data as JSON text and back, whatever fields it has: so that a field may be added without touching this."""

import json
from collections.abc import Callable, Collection, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cache
from types import NoneType, UnionType
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

PlainT = TypeVar("PlainT")

_LISTS: Mapping[Any, type] = {list: list, set: set, frozenset: frozenset}


def to_text(value: object, leave_out: Collection[str] = ()) -> str:
    """Write a dataclass of numbers, words, enums, lists, tuples, tables and dataclasses of such.

    Numbers come back bit for bit; NaN and infinity are written as Python's JSON has them. A class of another kind says
    with ``plain`` how it is written, and reads it with ``from_plain``.

    Args:
        leave_out: fields of the outermost dataclass that are kept elsewhere.
    """
    if is_dataclass(value):
        value = {name: getattr(value, name) for name in _names(type(value)) if name not in leave_out}
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), default=_plain)


def from_text(kind: type[PlainT], text: str, **known: object) -> PlainT:
    """Read what `to_text` wrote; fields it does not know have their defaults, and ones that are gone are passed over.

    Args:
        kind: what it is.
        text: as written.
        known: values of fields that were left out.

    Raises:
        ValueError, TypeError, KeyError: it is something else.
    """
    raw = json.loads(text)
    if not is_dataclass(kind):
        return _shaped(kind, raw)  # type: ignore[no-any-return] # it has the shape of the kind
    return _filled(kind, raw, **known)  # type: ignore[no-any-return] # an instance of the kind


def _plain_names(kind: Any) -> tuple[str, ...]:
    return tuple(one.name for one in fields(kind))


_names: Callable[[Any], tuple[str, ...]] = cache(_plain_names)
"""Names of the fields of a dataclass."""
_hints: Callable[[Any], Mapping[str, Any]] = cache(get_type_hints)
"""What each field of a dataclass or named tuple is."""


def _plain(value: object) -> object:
    """Give what JSON has no form for as something that it has: one level of it, the rest is asked for again."""
    if isinstance(value, set | frozenset):
        return sorted(value)
    if hasattr(value, "plain"):
        return value.plain()
    return {name: getattr(value, name) for name in _names(type(value))}


def _shaped(hint: Any, raw: Any) -> Any:
    """Give raw JSON the shape that a type hint asks for."""
    origin = get_origin(hint)
    if origin in (Union, UnionType):
        return _one_of(get_args(hint), raw)
    if origin is tuple:
        return _as_tuple(get_args(hint), raw)
    if origin in _LISTS:
        (inner,) = get_args(hint)
        return _LISTS[origin](_shaped(inner, one) for one in raw)
    if isinstance(origin, type) and issubclass(origin, Mapping):
        key, inner = get_args(hint)
        return {key(name): _shaped(inner, one) for name, one in raw.items()}
    if hasattr(hint, "from_plain"):
        return hint.from_plain(raw)
    if is_dataclass(hint):
        return _filled(hint, raw)
    if hasattr(hint, "_fields"):
        hints = _hints(hint)
        return hint(*(_shaped(hints[name], one) for name, one in zip(hint._fields, raw, strict=False)))
    is_enum = isinstance(hint, type) and issubclass(hint, Enum)
    return hint(raw) if is_enum or hint in (int, float, str) else raw


def _filled(kind: Any, raw: Mapping[str, Any], **known: object) -> Any:
    hints = _hints(kind)
    found = {name: _shaped(hints[name], raw[name]) for name in _names(kind) if name in raw and name not in known}
    return kind(**found, **known)


def _one_of(kinds: tuple[Any, ...], raw: Any) -> Any:
    """Choose among the kinds of a union: of plain JSON, whatever it is; else the first that is not ``None``."""
    if raw is None or not any(is_dataclass(kind) or hasattr(kind, "_fields") or get_origin(kind) for kind in kinds):
        return raw
    if {str, int, float, bool, NoneType} <= set(kinds):
        return raw
    return _shaped(next(kind for kind in kinds if kind is not NoneType), raw)


def _as_tuple(kinds: tuple[Any, ...], raw: Any) -> Any:
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        return tuple(_shaped(kinds[0], one) for one in raw)
    return tuple(_shaped(kind, one) for kind, one in zip(kinds, raw, strict=True))
