"""Plain data as JSON text and back, whatever fields it has: so that a field may be added without touching this."""

import json
from collections.abc import Collection, Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

PlainT = TypeVar("PlainT")

_LISTS: Mapping[Any, type] = {list: list, set: set, frozenset: frozenset}


def to_text(value: object, leave_out: Collection[str] = ()) -> str:
    """Write a dataclass of numbers, words, lists, tuples, tables and dataclasses of such.

    Numbers come back bit for bit; NaN and infinity are written as Python's JSON has them.

    Args:
        leave_out: fields of the outermost dataclass that are kept elsewhere.
    """
    if is_dataclass(value):
        named = (one.name for one in fields(value) if one.name not in leave_out)
        value = {name: _plain(getattr(value, name)) for name in named}
    return json.dumps(_plain(value), ensure_ascii=False, separators=(",", ":"))


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
    hints = _hints(kind)
    found = {name: _shaped(hints[name], raw[name]) for name in _names(kind) if name in raw and name not in known}
    return kind(**found, **known)


@cache
def _hints(kind: type) -> Mapping[str, Any]:
    return get_type_hints(kind)


def _names(kind: Any) -> list[str]:
    return [one.name for one in fields(kind)]


def _plain(value: object) -> object:
    if is_dataclass(value):
        return {one.name: _plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [_plain(inner) for inner in value]
    return value


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
    if is_dataclass(hint):
        hints = _hints(hint)  # type: ignore[arg-type] # a class, for it is a type hint
        return hint(**{name: _shaped(hints[name], raw[name]) for name in _names(hint) if name in raw})  # type: ignore[operator] # as above
    if hasattr(hint, "_fields"):
        hints = _hints(hint)
        return hint(*(_shaped(hints[name], one) for name, one in zip(hint._fields, raw, strict=False)))
    return hint(raw) if hint in (int, float, str) else raw


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
