"""What to do, in short, and what to beware of while doing it.

Numbers without a published source are common practice and carry a star: soaking overnight, 20 to 30 kPa within an hour
on the bench, minutes back in water. The 24 hours after filling are those of UC Drought Tip 92-38.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from parchd.workbench.limits import PROOF_GOOD_KPA, PROOF_LEAST_KPA
from parchd.workbench.parts import Closure, Readout

ALWAYS = (
    "Follow the labels of the products you use and the rules that hold where you live; they come before this sheet. "
    "Gloves, eye protection, and fresh air or a respirator lie ready before you open a can or start to grind."
)
STAR = "* Common practice; we know of no published source. The 24 hours after filling: UC Drought Tip 92-38."


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do. ``caution`` may be empty; ``ticked``: whether it is ticked off when done."""

    title: str
    text: str
    caution: str = ""
    ticked: bool = True


_READOUT: Mapping[Readout, str] = MappingProxyType({Readout.TRANSDUCER: "transducer", Readout.GAUGE: "gauge"})
_CLOSURE: Mapping[Closure, str] = MappingProxyType({Closure.CAP: "cap", Closure.STOPPER: "stopper"})


def build_steps(readout: Readout, closure: Closure) -> tuple[Step, ...]:
    """From pipe to a finished instrument."""
    shows, closes = _READOUT[readout], _CLOSURE[closure]
    return (
        Step(
            "Cut",
            "Saw the tubes square, after the cutting plan. Break the edges inside and outside and rinse out the chips.",
            "Clamp the pipe before you saw, never hold it in the hand. Eye protection.",
        ),
        Step(
            "Try it dry",
            "Put everything together without glue. Draw the ground mark on each lower tube, and a line where it goes "
            "into the tee.",
        ),
        Step(
            "Roughen",
            "Take abrasive paper to the neck of the cup and the end of the tube, where the epoxy goes. Wipe off the "
            "dust. Keep fingers, grease and glue off the porous part.",
            "Grinding makes dust: eye protection, gloves, ventilation or a respirator; clamp what you grind.",
        ),
        Step(
            "Glue the cup",
            "Epoxy the cup into the lower tube, straight and with glue all around. Let it harden as long as its label "
            "says.",
            "Epoxy: gloves, eye protection, ventilation or a respirator.",
        ),
        Step(
            "Cement the tee",
            "Join the lower tube and the top piece to the tee; keep cement out of the branch. Let it cure.",
            "Solvent cement and primer: gloves, eye protection, ventilation or a respirator; no flame or spark near.",
        ),
        Step(
            f"Fit the {shows}",
            f"Wrap tape around the thread of the fitting; screw fitting and {shows} into the branch. Pull the boot "
            f"over the {shows}, try the {closes}.",
            "Hand-tighten only: a wrench cracks a plastic tee.",
        ),
        Step(
            "Number and measure",
            f"Write a number on the tube. Measure from the middle of the cup to the {shows} and enter it in the "
            "record: in centimetres this is its height_cm in the configuration.",
        ),
    )


def proof_steps(readout: Readout, closure: Closure) -> tuple[Step, ...]:
    """What a finished instrument must show before it leaves the bench."""
    shows, closes = _READOUT[readout], _CLOSURE[closure]
    return (
        Step("Soak", "Stand the cup in clean water overnight*."),
        Step(
            "Fill",
            "Boil water and let it cool under a lid: it holds little air then. Fill the tube to the brim, tap it until "
            f"no bubble rises, fill up again. Put on the {closes}.",
            "Boiling water scalds: fill with cool water only.",
        ),
        Step(
            "Towel",
            f"Stand it upright and wrap the cup in a dry paper towel. The tension must reach at least "
            f"{PROOF_LEAST_KPA:g} kPa*, {PROOF_GOOD_KPA:g} is good*, in minutes to an hour*. The {shows} itself shows "
            "more, by the head: see the table.",
        ),
        Step(
            "Water",
            "Take the towel off and stand the cup in water up to its middle. Within minutes* the vacuum falls back to "
            "the head and stays there: the tension is 0.",
        ),
        Step(
            "If it fails",
            f"Does not rise: air gets in at a thread, at the {closes} or through a crack of the cup; look "
            "where bubbles come into the tube. Rises or falls slowly: air in the tube (fill again), or pores closed by "
            "glue or grease. It is not installed before it passes.",
            ticked=False,
        ),
    )


def install_steps(readout: Readout, closure: Closure) -> tuple[Step, ...]:
    """A reminder for the field."""
    shows, closes = _READOUT[readout], _CLOSURE[closure]
    return (
        Step(
            "Hole",
            "Make a hole as wide as the tube and as deep as the depth plus half the cup. Pour in a little "
            "slurry of sieved soil from that depth and water.",
            "Know where pipes and cables lie before you make holes.",
        ),
        Step(
            "Set",
            "Push it in by hand until the ground mark is level with the soil; never with a hammer. Firm the soil "
            "around the tube so that no water runs down along it.",
        ),
        Step(
            "Fill and wait",
            f"Fill up with boiled, cooled water and put on the {closes}. Wait 24 hours after filling before you "
            f"believe the {shows}.",
        ),
        Step("Frost", "Take it out, or drain it, before the frost: ice bursts cup, tube and " + shows + "."),
    )
