"""Channel names made from topics and payloads: ``"{1}-deep"``."""

import re
from dataclasses import dataclass

from parchd.contract import JsonValue
from parchd_adapters._shared.pointer import Tokens, look_up, parse_pointer
from parchd_adapters.mqtt.topics import Captures, wildcards

_CHANNEL = re.compile(r"[A-Za-z0-9._-]{1,64}")
_LITERAL = re.compile(r"[A-Za-z0-9._-]*")
_PART = re.compile(r"\{([^{}]*)\}")


@dataclass(frozen=True, slots=True)
class Template:
    """A channel name with holes: texts and, in between, pointers into the payload."""

    parts: tuple[str | Tokens, ...]

    @property
    def fixed(self) -> str | None:
        """The name itself, if nothing of it comes from the payload."""
        return "".join(map(str, self.parts)) if all(isinstance(part, str) for part in self.parts) else None

    def fill(self, document: JsonValue) -> str:
        """Fill the holes from a payload.

        Raises:
            LookupError: the payload has no text or whole number there.
        """
        return "".join(part if isinstance(part, str) else _text(look_up(document, part)) for part in self.parts)


def is_channel(name: str) -> bool:
    """Tell whether a name may be a channel's.

    >>> is_channel("north-deep"), is_channel("north/deep"), is_channel("")
    (True, False, False)
    """
    return _CHANNEL.fullmatch(name) is not None


def check_template(template: str, topic_filter: str) -> None:
    """Check a template against the filter whose topics will fill it.

    Raises:
        ValueError: what is wrong with it.
    """
    for literal in _PART.split(template)[::2]:
        if not _LITERAL.fullmatch(literal):
            raise ValueError(f"a channel's name of a-z A-Z 0-9 . _ - and places such as {{1}}, without {literal!r}")
    for hole in _PART.findall(template):
        _check_hole(hole, topic_filter)
    if not template:
        raise ValueError("a channel's name")


def bind(template: str, topic: str, topic_filter: str, captures: Captures) -> Template:
    """Fill in what the topic tells. Slashes become dots.

    >>> bind("{1}.{#}", "farm/north/a/b", "farm/+/#", ("north", "a/b")).fixed
    'north.a.b'
    """
    words = _words(topic, topic_filter, captures)
    pieces = _PART.split(template)
    holes = (parse_pointer(hole) if hole.startswith("/") else words[hole] for hole in pieces[1::2])
    parts: list[str | Tokens] = [pieces[0]]
    for hole, literal in zip(holes, pieces[2::2], strict=True):
        parts += [hole, literal]
    return Template(tuple(part for part in parts if part != ""))


def _words(topic: str, topic_filter: str, captures: Captures) -> dict[str, str]:
    plus, rest = wildcards(topic_filter)
    names = [*(str(number + 1) for number in range(plus)), *(["#"] if rest else [])]
    return {name: text.replace("/", ".") for name, text in (*zip(names, captures, strict=True), ("topic", topic))}


def _check_hole(hole: str, topic_filter: str) -> None:
    if hole.startswith("/"):
        parse_pointer(hole)
        return
    known = _words("", topic_filter, ("",) * sum(wildcards(topic_filter)))
    if hole not in known:
        offers = ", ".join(f"{{{name}}}" for name in known)
        raise ValueError(f"{offers}, which the filter {topic_filter!r} offers, not {{{hole}}}")


def _text(value: JsonValue) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        return str(value)
    raise LookupError("no text")
