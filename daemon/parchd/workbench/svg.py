"""Shapes of a drawing in SVG, in millimetres of paper."""

from collections.abc import Mapping
from html import escape


def element(name: str, attributes: Mapping[str, object], content: str = "") -> str:
    """Write one element; ``content`` is markup already.

    >>> element("rect", {"x": 1.0, "class": "tube"})
    '<rect x="1" class="tube"/>'
    """
    written = "".join(f' {key}="{_written(value)}"' for key, value in attributes.items())
    return f"<{name}{written}>{content}</{name}>" if content else f"<{name}{written}/>"


def line(x1: float, y1: float, x2: float, y2: float, kind: str = "") -> str:
    attributes: dict[str, object] = {"x1": x1, "y1": y1, "x2": x2, "y2": y2}
    return element("line", attributes | ({"class": kind} if kind else {}))


def rect(x: float, y: float, width: float, height: float, kind: str, *, round_mm: float = 0.0) -> str:
    attributes: dict[str, object] = {"x": x, "y": y, "width": width, "height": height}
    return element("rect", attributes | ({"rx": round_mm} if round_mm else {}) | {"class": kind})


def path(d: str, kind: str) -> str:
    return element("path", {"d": d, "class": kind})


def text(x: float, y: float, words: str, kind: str = "") -> str:
    attributes: dict[str, object] = {"x": x, "y": y}
    return element("text", attributes | ({"class": kind} if kind else {}), escape(words))


def upward(x: float, y: float, words: str) -> str:
    """Write text that runs upwards, its middle at a point."""
    turn = f"rotate(-90 {_written(x)} {_written(y)})"
    return element("text", {"x": x, "y": y, "class": "mid", "transform": turn}, escape(words))


def _written(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.2f}".rstrip("0").rstrip(".") if abs(value) >= 0.005 else "0"
    return escape(str(value))
