"""What is said of one change of an alarm, before it is a message."""

from dataclasses import dataclass

Pair = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Said:
    """The parts of a message about one alarm, in the language of its reader.

    Args:
        need: for the subject, after the place: what to do or what is over, short.
        what: what is the matter.
        sure: how sure that is.
        means: what it means.
        do: what to do first.
        then: what to do after that, in order, and what to know about it.
        facts: labels and values.
    """

    need: str
    what: str
    sure: str
    means: str
    do: str
    then: tuple[str, ...] = ()
    facts: tuple[Pair, ...] = ()
