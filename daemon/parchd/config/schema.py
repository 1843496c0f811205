"""Finding one's way in the models: what a key may hold, and what it is called."""

import difflib
from collections.abc import Collection, Iterable
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel, SecretBytes, SecretStr
from pydantic.fields import FieldInfo

from parchd.config.generic import kind_like
from parchd.config.toml_lines import Loc
from parchd.contract import SECRET


def members(annotation: Any) -> tuple[Any, ...]:
    """Take unions and annotations apart into what a value may be.

    >>> members(Annotated[int, "x"] | None)
    (<class 'int'>, <class 'NoneType'>)
    """
    origin = get_origin(annotation)
    if origin is Annotated:
        return members(get_args(annotation)[0])
    if origin in (Union, UnionType):
        return tuple(member for arg in get_args(annotation) for member in members(arg))
    return (annotation,)


def models(annotation: Any) -> tuple[type[BaseModel], ...]:
    """The models among what a value may be."""
    return tuple(m for m in members(annotation) if isinstance(m, type) and issubclass(m, BaseModel))


def children(annotation: Any, key: str | int) -> tuple[tuple[Any, FieldInfo | None], ...]:
    """Find what may stand under a key: annotations, each with its field if it is one of a model."""
    found: list[tuple[Any, FieldInfo | None]] = []
    for member in members(annotation):
        args = get_args(member)
        if isinstance(member, type) and issubclass(member, BaseModel):
            if (info := member.model_fields.get(str(key))) is not None:
                found.append((info.annotation, info))
        elif get_origin(member) is dict:
            found.append((args[1], None))
        elif args and isinstance(key, int):
            found.append((args[min(key, len(args) - 1)] if args[-1] is not Ellipsis else args[0], None))
    return tuple(found)


def walk(root: Any, loc: Loc) -> tuple[tuple[Any, FieldInfo | None], ...]:
    """Find what may stand at a path; nothing if no model has such a key."""
    found: tuple[tuple[Any, FieldInfo | None], ...] = ((root, None),)
    for key in loc:
        found = tuple(child for annotation, _ in found for child in children(annotation, key))
    return found


def keys_at(root: Any, loc: Loc, value: Any = None) -> tuple[str, ...]:
    """The keys that a table may have in a file; where ``kind`` decides, those of the kind that ``value`` has."""
    candidates = [model for annotation, _ in walk(root, loc) for model in models(annotation)]
    kind = value.get("kind") or kind_like(value.get("like")) if isinstance(value, dict) else None
    fitting = [model for model in candidates if kind in _kinds(model)] or candidates
    fields = {name: info for model in fitting for name, info in model.model_fields.items()}
    return tuple(f"{name}_file" if is_secret(info) else name for name, info in fields.items())


def is_secret(info: FieldInfo) -> bool:
    """Tell whether a field of an adapter's options must not stand in a file."""
    return SECRET in info.metadata or any(member in (SecretStr, SecretBytes) for member in members(info.annotation))


def secret_at(root: Any, loc: Loc) -> bool:
    """Tell whether what stands at a path must not be shown."""
    return any(info is not None and is_secret(info) for _, info in walk(root, loc))


def described(root: Any, loc: Loc) -> str:
    """What the model says about a key; empty if it says nothing."""
    return next((info.description for _, info in walk(root, loc) if info is not None and info.description), "")


def closest(word: str, known: Iterable[str]) -> str:
    """Guess which word was meant; empty if none is near.

    >>> closest("altitude", ["altitude_m", "name"]), closest("x", ["name"])
    ('altitude_m', '')
    """
    close = difflib.get_close_matches(word.lower(), list(known), 1, 0.6)
    return close[0] if close else ""


def suggestion(word: str, known: Iterable[str]) -> str:
    """
    >>> suggestion("altitude", ["altitude_m", "name"])
    'did you mean altitude_m?'
    """
    close = closest(word, known)
    return f"did you mean {close}?" if close else ""


def among(word: str, known: Collection[str]) -> str:
    """Guess what was meant, or say what there is.

    >>> among("north", ["nort"]), among("x", ["b", "a"]), among("x", [])
    ('did you mean nort?', 'there are a, b', 'there is none')
    """
    listed = ", ".join(sorted(known)[:8]) + ", ..." * (len(known) > 8)
    return suggestion(word, known) or (
        f"there {'are' if len(known) > 1 else 'is'} {listed}" if known else "there is none"
    )


def _kinds(model: type[BaseModel]) -> tuple[Any, ...]:
    info = model.model_fields.get("kind")
    return get_args(info.annotation) if info is not None else ()
