"""What is said of a kind of finding, and cautions that several of them share."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from parchd.words import Text, Voice, text

NAME = "NAME"
"""Stands for the tensiometer in commands where none is meant."""

CAUTIONS: Mapping[str, Text] = MappingProxyType(
    {
        "by_others": text(
            "Until it is mended, judge this spot by its neighbours and by the ground itself, dug up and felt."
        ),
        "filling": text(
            "Fill it up with boiled, cooled water (not hot: it scalds), pump the air out at {kpa:60} to {kpa:80} of "
            "vacuum and tap the tube until no bubble rises*. Eye protection: a tube under vacuum can burst inwards."
        ),
        "gluing": text(
            "Solvent cement and epoxy: gloves, eye protection, ventilation or a respirator, no flame near; grinding a "
            "cup or tube makes dust that must not be breathed."
        ),
        "mains": text(
            "Switch off and unplug before you touch a connection. Work on mains belongs to a licensed electrician; "
            "local codes come first."
        ),
    }
)
"""What stands in the places of words about findings, beside the name of the tensiometer or source."""
STAR = text("Common practice; we know of no published source.")


@dataclass(frozen=True, slots=True)
class FindingWords:
    """Words for one kind of finding, to be `spoken`.

    Args:
        title: a noun, short; fits after ``north-1-30:`` and after ``because:``.
        need: what to do about it, for the subject of a message: short, an imperative.
        meaning: what is wrong, and what the readings are worth; whole sentences.
        doing: what to do in the field, in order: look, test, do. A star marks common practice without a source.
        trust_again: when readings are believed again.
    """

    title: str
    need: str
    meaning: str
    doing: tuple[str, ...]
    trust_again: str | Text


@dataclass(frozen=True, slots=True)
class EventWords:
    """Words for one kind of event.

    Args:
        title: short.
        meaning: what it is; a whole sentence.
    """

    title: str
    meaning: str


def only_service(work: str) -> Text:
    """Say that nothing but a service brings trust back."""
    return text(
        "Only after the work was written down (parchd service -t {name} --work {work}) and it has settled. "
        "Good-looking readings alone bring nothing back: this fault hides itself.",
        work=work,
    )


def by_itself(when: Text, work: str = "other") -> Text:
    """Say that good readings bring trust back, or a service."""
    return text(
        "By itself {when}; or after a service that was written down (parchd service -t {name} --work {work}).",
        when=when,
        work=work,
    )


def spoken(what: str | Text, name: str = NAME, voice: Voice | None = None) -> str:
    """Say something about a finding of a tensiometer or source.

    Args:
        voice: ``None``: English and kPa.

    >>> spoken("parchd prove {name} --test hold", "north-1-30")
    'parchd prove north-1-30 --test hold'
    """
    return (voice or Voice()).say(what, name=name, **CAUTIONS)
