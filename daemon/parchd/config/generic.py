"""Generic transducers as tables, and tables that are like one of them."""

from collections.abc import Mapping
from dataclasses import fields
from types import MappingProxyType
from typing import Any

from pydantic_core import PydanticCustomError

from parchd.physics.transducers import (
    GENERIC,
    Bridge,
    CurrentLoop,
    DigitalScale,
    DirectPressure,
    LinearVoltage,
    Ratiometric,
    Transducer,
)

KINDS: Mapping[type[Any], str] = MappingProxyType(
    {
        Ratiometric: "ratiometric",
        CurrentLoop: "current-loop",
        LinearVoltage: "linear",
        Bridge: "bridge",
        DigitalScale: "digital",
        DirectPressure: "pressure",
    }
)
"""What each kind of transducer is called in a configuration."""

UNKNOWN, BOTH = "like_unknown", "like_and_kind"
"""Kinds of errors, for `parchd.config.problems`."""


def keys_of(transducer: Transducer) -> dict[str, Any]:
    """Write a transducer as the keys of its table.

    >>> keys_of(GENERIC["vacuum-kpa"])
    {'kind': 'pressure', 'vacuum_positive': True, 'reference': 'gauge'}
    """
    made: Any = transducer
    keys = {one.name: getattr(made, one.name) for one in fields(made) if one.init}
    return {"kind": KINDS[type(made)], **keys, "reference": transducer.reference.value}


def kind_like(name: object) -> str | None:
    """The kind of a generic transducer; ``None``: there is no such.

    >>> kind_like("loop-4-20"), kind_like("loop")
    ('current-loop', None)
    """
    transducer = GENERIC.get(name) if isinstance(name, str) else None
    return None if transducer is None else KINDS[type(transducer)]


def expanded(table: Any) -> Any:
    """Put the keys of a generic transducer under those of a table that is like it; leave any other as it is.

    >>> expanded({"like": "vacuum-kpa", "vacuum_positive": False})["vacuum_positive"]
    False
    """
    if not isinstance(table, Mapping) or table.get("like") is None:
        return table
    name = table["like"]
    if "kind" in table:
        raise PydanticCustomError(BOTH, "like and kind")
    if kind_like(name) is None:
        raise PydanticCustomError(UNKNOWN, "no generic transducer")
    return {**keys_of(GENERIC[name]), **table}
