"""What alarms about the ground mean, beside those that ask for water."""

from parchd.alarms.advice import FaultWords
from parchd.alarms.kinds import AlarmKind

GROUND_WORDS = {
    AlarmKind.DRYING_FAST: FaultWords(
        "dries fast",
        "expect to irrigate sooner",
        "Its tension rises from morning to morning by more than is usual there.",
        "dries at its usual pace again",
        (
            "Expect the limit to irrigate sooner than usual, and look at the forecast.",
            "Where only one tensiometer says so, look at its station: roots of a weed, a leak of the tube, a crack.",
        ),
    ),
    AlarmKind.WET_TOO_LONG: FaultWords(
        "wet for too long",
        "stop irrigating",
        "The ground has been nearly saturated for longer than roots like it: it gets more water than drains away.",
        "no longer so wet",
        (
            "Stop irrigating there, and look for standing water, a leaking pipe or a valve that does not close.",
            "If it comes back after each irrigation, give less at a time, or see to the drainage.",
        ),
    ),
}
