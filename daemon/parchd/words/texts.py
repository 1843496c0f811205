"""Texts that are written in one place and said in another, in the language of whoever reads them."""

from dataclasses import dataclass
from typing import Union


@dataclass(frozen=True, slots=True)
class Text:
    """A text to be said later.

    Args:
        source: in English, with places like ``{name}``: the key in the catalogues. ``{kpa:60}`` is 60 kPa, said in the
            reader's unit.
        values: what stands in its places, as far as it is known already.
    """

    source: str
    values: tuple[tuple[str, "Value"], ...] = ()

    def __bool__(self) -> bool:
        return bool(self.source)


Value = Union[str, int, Text]  # noqa: UP007  # a union with a name that comes later needs the long form


def noted(source: str) -> str:
    """Mark a text that is stored in English and said later.

    >>> noted("a leap of tension")
    'a leap of tension'
    """
    return source


def text(source: str, **values: Value) -> Text:
    """Mark a text for translation; `Voice.say` says it.

    >>> text("Wait {hours} h.", hours=3)
    Text(source='Wait {hours} h.', values=(('hours', 3),))
    """
    return Text(source, tuple(values.items()))
