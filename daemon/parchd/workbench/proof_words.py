"""What a test asks for, and what its outcomes mean.

Numbers without a published source are common practice and carry a star in what people read.
"""

from parchd.workbench.proof import Outcome, Proof, Subject, Terms, time_text

STAR = "* Common practice; we know of no published source."

SCALDS = "Boiling water scalds: fill with cool water only."
HAND_TIGHT = "Hand-tighten only: a wrench cracks a plastic tee."
VACUUM = (
    "Eye protection: glass and brittle plastic can burst under vacuum. Only ever pull a vacuum: "
    "never put a tensiometer under pressure."
)

Judged = tuple[Outcome, str, tuple[str, ...], tuple[str, ...]]
"""Outcome, headline, meaning, advice."""

TITLES = {Proof.HOLD: "Vacuum-hold test", Proof.TOWEL: "Towel test", Proof.RETURN: "Return-to-water test"}

TOWEL_SOUND = "The instrument is tight, its cup takes up and gives off water, and it is wired the right way round."
TOWEL_ENOUGH = "It builds up tension and keeps it: enough, though a good one gets further in the same time*."
TOWEL_LOST = (
    "It built up tension and lost it again: air got in. A joint opened under the vacuum, or the cup lets air through "
    "(a crack, a hole in the glue, or a spot that had dried out)."
)
TOWEL_LEVELS_OFF = (
    "It levels off too low: as much air or water gets in as the towel takes out. That is a small leak, or a towel that "
    "is wet by now."
)
TOWEL_SLOW = (
    "It rises, but slowly. There is air in the tube, in the branch below the transducer or dissolved in the water (was "
    "it boiled?), or the pores of the cup are closed by glue, grease or dirt; or the towel is wet."
)
TOWEL_FLAT = (
    "Nothing happens at the cup: the tube or the cup does not seal (a loose cap, a crack), the cup was not wet "
    "through, or the transducer is not connected to the water."
)
FALLS = (
    "The tension falls while it must rise: the transducer counts the other way round. Its ports or its wires are "
    "swapped, or low_kpa and high_kpa are in the configuration."
)
STUCK = "Not one digit moves: what arrives is no measurement. A wire, the converter or the program of the board."
NO_VALUE = "No pressure came from the transducer in the whole test: {trouble}."

NEXT_RETURN = "Go on with the return-to-water test at once, while the tension is there."
LEAK_ADVICE = (
    (
        "Look where bubbles come into the tube: cap or stopper, thread of the transducer's fitting, tee, glue of the "
        "cup, in this order. No clear tube: wet one joint after the other; where the curve bends, it leaks."
    ),
    f"Seal that joint anew (tape on the thread, epoxy at the cup). {HAND_TIGHT} Fill up with boiled, cooled water.",
    "A cup with a crack or a hole in its glue is replaced.",
)
NO_SEAL_ADVICE = (
    "Is the tube full to the brim, the cap on and tight, and is there water (no air) in the branch to the transducer?",
    "Soak the cup overnight* and begin again: a cup that dried out lets air through.",
    *LEAK_ADVICE[:1],
)
SLOW_ADVICE = (
    "Draw the air out with the hand pump and tap the tube until no bubble rises; fill up with boiled, cooled water.",
    "Take a fresh, dry towel, and moving air. Try again, with a longer --time-limit if it still rose at the end.",
    "If it stays slow, rub the cup with fine abrasive paper under water: eye protection, and gloves.",
)
POLARITY_ADVICE = (
    "Swap low_kpa and high_kpa of its transducer in the configuration, or the ports, and test again.",
)  # fmt: skip
WIRING_ADVICE = (
    "Look at the wires: supply, ground, signal, and the channel they go to. parchd status shows what arrives.",
    "Pull with the hand pump: the value must move.",
)

HOLD_TIGHT = "The joints are tight."
HOLD_DOUBTFUL = "A small leak: it may pass in the field, but will need water often. Better find it now."
HOLD_LEAK = "It leaks: in the field it would be empty within days, and read wet in dry soil."
HOLD_OPEN = "The vacuum is gone at once: something is open. A valve, the hose, the cap, a thread without tape, a crack."
HOLD_RISES = (
    "The vacuum grew by itself: the cup gives off water, or the instrument cools down. A leak may hide behind that."
)
HOLD_LOW = "It began with less vacuum than it should: a leak is the smaller, the less it is pulled at."
HOLD_WEAK = "The pump does not get there: something is open, or the pump is worn."
HOLD_RISES_ADVICE = ("Wrap the cup in plastic film, keep the instrument out of sun and draught, and test again.",)
HOLD_ADVICE = (
    ("The pump's hose and valve first: close the valve at the instrument, not at the pump."),
    *LEAK_ADVICE,
)

RETURN_QUICK = "It comes back to rest as it should: cup and tube carry water freely."
RETURN_SLOW = (
    "It comes back slowly: air in the tube or under the transducer, or pores that are closed by glue, grease, salt or "
    "fine soil. In the field it will lag behind irrigation."
)
RETURN_NEVER = (
    "It does not come back: no water gets in through the cup. It is dirty or sealed by glue, does not stand in the "
    "water, or what arrives is no measurement."
)
ZERO_RIGHT = "The zero is right."
NOTHING_TO_FALL = "There was too little tension to return from, so nothing is said about how fast it is."
COARSE = "Samples come too far apart to tell the time constant: it is this or less."

REZERO_ADVICE = (
    "Leave it in the water and set its zero anew: parchd calibrate {name} --zero. Is its height in the configuration "
    "right? 1 cm is 0.1 kPa."
)
DRY_TUBE = (
    "The transducer shows no vacuum where a column of water hangs below it ({head:.1f} kPa): there is air under it. Or "
    "its gauge was set to zero with the cup in water: then zeroed_in_water = true belongs into the configuration."
)

RECORDED = 300


def instructions(proof: Proof, subject: Subject, terms: Terms) -> list[str]:
    """What to do before a test begins, step by step."""
    if proof is Proof.HOLD:
        low, high = hold_range_kpa(subject)
        more = "; this altitude allows no more" if high < 80.0 else ""
        return [
            "Tube full of water, soaked cup wrapped in plastic film, so that no water gets in or out there.",
            (
                f"Put the hand pump on top, in place of the cap, with a valve between. Pull {low:.0f} to {high:.0f} "
                f"kPa* as the transducer shows it{more}. Tap the tube: at first bubbles of air come out of the water."
            ),
            (
                "Close the valve and leave it alone. The test begins by itself when the vacuum stops rising, and "
                f"takes {time_text(terms.hold_s)}."
            ),
        ]
    if proof is Proof.TOWEL:
        return [
            (
                "The cup has soaked in clean water overnight*. The tube is full to the brim with water that was boiled "
                "and has cooled; tap it until no bubble rises. Put on the cap."
            ),
            "Stand it upright, out of the sun. Wipe the cup and wrap it in a dry paper towel. Moving air helps.",
            (
                f"The tension at the cup must reach {terms.target_kpa:g} kPa*; {terms.good_kpa:g} is good*. That takes "
                f"minutes to an hour*."
            ),
        ]
    return [
        "Do it right after the towel test, while the tension is there.",
        "Press Enter first, then take the towel off and stand the cup in water up to its middle. Leave it there.",
        f"The tension must fall to 0 within minutes*: the transducer then shows the {subject.head_kpa:.1f} kPa of its "
        "column of water." if subject.head_kpa else "The tension must fall to 0 within minutes*.",
    ]  # fmt: skip


def cautions(proof: Proof) -> list[str]:
    """What to beware of before a test."""
    return {Proof.HOLD: [VACUUM, HAND_TIGHT], Proof.TOWEL: [SCALDS, HAND_TIGHT], Proof.RETURN: []}[proof]


def hold_range_kpa(subject: Subject) -> tuple[float, float]:
    """Give the least and the most vacuum for the hold test, at the transducer.

    60 to 80 kPa is common practice; higher up the air allows less.

    >>> hold_range_kpa(Subject("a", 5.9, 79.1)), hold_range_kpa(Subject("a", 5.9, 48.0))
    ((60.0, 80.0), (43.0, 53.0))
    """
    high = float(int(min(80.0, subject.usable_vacuum_kpa)))
    return min(60.0, float(int(high * 0.82))), high


def feels_air(vacuum_kpa: float, head_kpa: float) -> str:
    return (
        f"The transducer shows {vacuum_kpa:z.1f} kPa of vacuum, though {head_kpa:.1f} kPa of water hang below it: it "
        "feels the air. The tube is not full, does not seal, or the transducer is not connected to it."
    )


def no_values(trouble: str) -> Judged:
    why = trouble or "nothing arrived"
    return Outcome.FAILED, f"no value: {why}", (NO_VALUE.format(trouble=why),), WIRING_ADVICE


def rate(kpa_per_min: float) -> str:
    """
    >>> rate(1.04), rate(-0.3), rate(0.004)
    ('rises 1.0 kPa/min', 'falls 0.3 kPa/min', 'stands still')
    """
    if abs(kpa_per_min) < 0.05:
        return "stands still"
    return f"{'rises' if kpa_per_min > 0 else 'falls'} {abs(kpa_per_min):.1f} kPa/min"
