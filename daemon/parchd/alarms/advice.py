"""What a fault means and what to do about it, in the words of messages."""

from dataclasses import dataclass

from parchd.alarms.rules import AlarmKind


@dataclass(frozen=True, slots=True)
class FaultWords:
    """Words for one kind of alarm, to be said with its ``name``.

    Args:
        subject: what is the matter, in a word or two.
        need: what to do about it, for the subject of a message: short, an imperative.
        summary: what that means; whole sentences.
        cleared: what is said at its end, in a few words.
        advice: what to do, in order.
    """

    subject: str
    need: str
    summary: str
    cleared: str
    advice: tuple[str, ...]


FAULT_WORDS = {
    AlarmKind.SILENT: FaultWords(
        "no data",
        "look at cable and supply of {name}",
        "Nothing with a believable time has arrived for several of its intervals.",
        "data arrives again",
        (
            "See whether other tensiometers of the same board or gateway are silent too: then look there first.",
            "Check supply, cable and connector, then the log of the daemon.",
        ),
    ),
    AlarmKind.ELECTRICAL: FaultWords(
        "electrical fault",
        "check the wiring of {name}",
        "Its electrical signal is not one a working transducer gives.",
        "the electrical signal is good again",
        (
            "Check the cable for breaks, water and loose screws; measure the supply at the transducer.",
            "Compare the wiring and the transducer's settings with parchd check.",
        ),
    ),
    AlarmKind.IMPOSSIBLE: FaultWords(
        "impossible value",
        "check {name}",
        "Its reading is one that soil water cannot have.",
        "the reading is possible again",
        (
            "Check unit, sign and calibration of the channel, and the height that is set.",
            "Look for a cracked cup, a loose fitting or a transducer that was changed.",
        ),
    ),
    AlarmKind.ABOVE_LIMIT: FaultWords(
        "above its usable limit",
        "look how dry it is at {name}",
        "It reads more than its water column can bear at this altitude; air will enter soon or has entered. The "
        "ground there is dry, or the tensiometer is about to lose its water.",
        "back below its usable limit",
        (
            "Irrigate if the plants call for it.",
            "Refill the tensiometer afterwards and watch it rise again.",
        ),
    ),
}
