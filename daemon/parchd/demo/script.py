"""What happens on the farm, and when: minutes after the start, which at 60 times the speed of life are seconds."""

from dataclasses import dataclass
from datetime import UTC, datetime

from parchd.clock import US_PER_S, from_datetime
from parchd.demo.farm import CREEK

START_US = from_datetime(datetime(2026, 5, 12, 4, 40, tzinfo=UTC))
"""An invented day: a Tuesday. The early morning whose readings decide, 05:00 to 08:00, begins 20 minutes later."""
DIGEST_AT = "06:00"
MINUTE_US = 60 * US_PER_S

OPEN = "open"
SILENT = "silent"


@dataclass(frozen=True, slots=True)
class Trouble:
    """A board's or sensor's fault; ``kind`` is a word of the source ``sim``."""

    tensiometer: str
    kind: str
    begin_min: float
    end_min: float


@dataclass(frozen=True, slots=True)
class Watering:
    """A valve that is opened."""

    zone: str
    begin_min: float


@dataclass(frozen=True, slots=True)
class Moment:
    """A line of the story."""

    minute: float
    text: str


LOOSE_PLUG = Trouble("gate-60", SILENT, 5.0, 55.0)
CUT_WIRE = Trouble("shed-60", OPEN, 42.0, 88.0)
TROUBLES = (LOOSE_PLUG, CUT_WIRE)
WATERINGS = (Watering(CREEK.key, 40.0),)

STORY = (
    Moment(LOOSE_PLUG.begin_min, "north block: the plug of gate-60 comes loose, no more values"),
    Moment(20.0, "early morning: readings from now until 08:00 decide on water"),
    Moment(WATERINGS[0].begin_min, "creek terrace: the grower opens the valve"),
    Moment(CUT_WIRE.begin_min, "nursery: a spade cuts the wire of shed-60"),
    Moment(LOOSE_PLUG.end_min, "north block: gate-60 is plugged in again"),
    Moment(CUT_WIRE.end_min, "nursery: the wire of shed-60 is mended"),
    Moment(95.0, "that was the story; the farm goes on quietly until Ctrl-C"),
)


def told(after_min: float, until_min: float) -> tuple[Moment, ...]:
    """The moments of a span, its end included.

    >>> [moment.minute for moment in told(20.0, 42.0)]
    [40.0, 42.0]
    """
    return tuple(moment for moment in STORY if after_min < moment.minute <= until_min)


def minutes_since_start(now_us: int) -> float:
    """Where in the script a time of the farm's clock lies.

    >>> minutes_since_start(START_US + 90 * US_PER_S)
    1.5
    """
    return (now_us - START_US) / MINUTE_US
