"""What a fault means and what to do about it, in the words of messages."""

from dataclasses import dataclass

from parchd.alarms.rules import AlarmKind


@dataclass(frozen=True, slots=True)
class FaultWords:
    """Words for one kind of alarm: its name, what is the matter, what is said at its end, and what to do."""

    subject: str
    summary: str
    cleared: str
    advice: tuple[str, ...]


FAULT_WORDS = {
    AlarmKind.SILENT: FaultWords(
        "no data",
        "nothing with a believable time has arrived for several of its intervals.",
        "data arrives again",
        (
            "See whether other tensiometers of the same board or gateway are silent too: then look there first.",
            "Check supply, cable and connector, then the log of the daemon.",
        ),
    ),
    AlarmKind.ELECTRICAL: FaultWords(
        "electrical fault",
        "its electrical signal is not one a working transducer gives.",
        "the electrical signal is good again",
        (
            "Check the cable for breaks, water and loose screws; measure the supply at the transducer.",
            "Compare the wiring and the transducer's settings with parchd check.",
        ),
    ),
    AlarmKind.IMPOSSIBLE: FaultWords(
        "impossible value",
        "its reading is one that soil water cannot have.",
        "the reading is possible again",
        (
            "Check unit, sign and calibration of the channel, and the height that is set.",
            "Look for a cracked cup, a loose fitting or a transducer that was changed.",
        ),
    ),
    AlarmKind.ABOVE_LIMIT: FaultWords(
        "above its usable limit",
        "it reads more than its water column can bear at this altitude; air will enter soon or has entered.",
        "back below its usable limit",
        (
            "The ground there is dry, or the tensiometer is about to lose its water.",
            "Irrigate if the plants call for it; refill the tensiometer afterwards and watch it rise again.",
        ),
    ),
}
