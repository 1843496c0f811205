"""How a terminal can be written on: letters, shapes, colours."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TextIO

from parchd.demo.picture import Sign

HEAT = (73, 67, 97, 127)
"""Colours of the 256-colour table from moist to dry: #5fafaf, #5f87af, #875faf, #af00af. Each is darker than the one
before, so the order survives any colour blindness and a grey screen; each can be seen on black and on white."""

_SIGNS = (Sign.ENOUGH, Sign.PLAN, Sign.NOW, Sign.UNKNOWN, Sign.WELL, Sign.FAULT, Sign.SILENT)


@dataclass(frozen=True, slots=True)
class Letters:
    """What bars, curves and signs are made of.

    Args:
        blocks: parts of a cell filled from the left, growing.
        steps: heights of a curve, growing.
        track: the empty part of a bar.
        plan, now: marks of the limits.
        rule: of horizontal lines.
        gap: a moment without a value.
        cut: where a text was cut off.
    """

    blocks: str
    steps: str
    track: str
    plan: str
    now: str
    rule: str
    gap: str
    cut: str
    signs: Mapping[Sign, str]


UNICODE = Letters("▏▎▍▌▋▊▉█", "▁▂▃▄▅▆▇█", "·", "┊", "┃", "─", "·", "…", dict(zip(_SIGNS, "○◐●?✓✗…", strict=True)))
ASCII = Letters("#", "_.-=^", ".", ":", "|", "-", " ", "~", dict(zip(_SIGNS, "o+!?=x~", strict=True)))


@dataclass(frozen=True, slots=True)
class Style:
    """Letters, and whether attributes and colours may be used. All text is measured before it is painted."""

    letters: Letters = ASCII
    attributes: bool = False
    colours: bool = False

    def strong(self, text: str) -> str:
        return self._with("1", text)

    def faint(self, text: str) -> str:
        return self._with("2", text)

    def reversed(self, text: str) -> str:
        return self._with("7", text)

    def heat(self, text: str, share: float) -> str:
        """Paint a part of a bar; ``share``: where on the scale its end is, 0 to 1."""
        step = min(len(HEAT) - 1, max(0, int(share * len(HEAT))))
        return f"\x1b[38;5;{HEAT[step]}m{text}\x1b[0m" if self.colours and text else text

    def _with(self, code: str, text: str) -> str:
        return f"\x1b[{code}m{text}\x1b[0m" if self.attributes and text else text


def letters_for(out: TextIO, environ: Mapping[str, str]) -> Letters:
    """Choose letters that the terminal can show."""
    encoding = (out.encoding or "").lower().replace("-", "")
    plain = environ.get("TERM", "") in ("linux", "vt100", "vt220")  # their fonts have few shapes
    return UNICODE if encoding == "utf8" and not plain else ASCII


def style_for(out: TextIO, environ: Mapping[str, str]) -> Style:
    """Choose how to write on a terminal. ``NO_COLOR`` (any text but none) forbids colours, as no-color.org has it."""
    has_256 = "256color" in environ.get("TERM", "") or environ.get("COLORTERM", "") in ("truecolor", "24bit")
    return Style(letters_for(out, environ), attributes=True, colours=has_256 and not environ.get("NO_COLOR"))
