"""What is said of a kind of finding, and cautions that several of them share."""

from dataclasses import dataclass

NAME = "NAME"
"""Stands for the tensiometer in commands; `words.named` puts its name there."""

BY_OTHERS = "Until it is mended, judge this spot by its neighbours and by the ground itself, dug up and felt."
FILLING = (
    "Fill it up with boiled, cooled water (not hot: it scalds), pump the air out at 60 to 80 kPa of vacuum and tap the "
    "tube until no bubble rises*. Eye protection: a tube under vacuum can burst inwards."
)
GLUING = (
    "Solvent cement and epoxy: gloves, eye protection, ventilation or a respirator, no flame near; grinding a cup or "
    "tube makes dust that must not be breathed."
)
MAINS = (
    "Switch off and unplug before you touch a connection. Work on mains belongs to a licensed electrician; local codes "
    "come first."
)
STAR = "* Common practice; we know of no published source."


@dataclass(frozen=True, slots=True)
class FindingWords:
    """Words for one kind of finding.

    Args:
        title: a noun, short; fits after ``north-1-30:`` and after ``because:``.
        meaning: what is wrong, and what the readings are worth; whole sentences.
        doing: what to do in the field, in order: look, test, do. A star marks common practice without a source.
        trust_again: when readings are believed again.
    """

    title: str
    meaning: str
    doing: tuple[str, ...]
    trust_again: str


@dataclass(frozen=True, slots=True)
class EventWords:
    """Words for one kind of event.

    Args:
        title: short.
        meaning: what it is; a whole sentence.
    """

    title: str
    meaning: str


def only_service(work: str) -> str:
    """Say that nothing but a service brings trust back."""
    return (
        f"Only after the work was written down (parchd service -t {NAME} --work {work}) and it has settled. "
        f"Good-looking readings alone bring nothing back: this fault hides itself."
    )


def by_itself(when: str, work: str = "other") -> str:
    """Say that good readings bring trust back, or a service."""
    return f"By itself {when}; or after a service that was written down (parchd service -t {NAME} --work {work})."
