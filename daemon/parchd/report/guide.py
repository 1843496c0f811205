"""What is published on alarms, and what we aim at.

The published values are for an operator position in a plant: one person who watches a screen round the clock. They are
no aims for a farm; they say from where on even that person is lost.
"""

from dataclasses import dataclass

from parchd.contract import Priority

FLOOD_BEGINS, FLOOD_ENDS, FLOOD_S = 10, 5, 600
"""More alarms than the first within so many seconds begin a flood, fewer than the second end it."""
STALE_H = 24.0
CHATTER_COUNT, CHATTER_S = 3, 60
REPEATING_COUNT, REPEATING_H = 3, 24.0
"""Ours, for soil is slow: more than so many times within so many hours."""
FLEETING_MIN = 30.0
"""Ours: gone before anybody could walk to the field."""
MESSAGES_A_DAY = 2
"""Ours: what somebody stands who has a farm to run."""
LEAST_DAYS = 30
SPLIT = {Priority.HIGH: 0.05, Priority.MEDIUM: 0.15, Priority.LOW: 0.80}


@dataclass(frozen=True, slots=True)
class Guide:
    """One value that others published.

    Args:
        what: of what.
        value: in words.
        source: where it stands.
    """

    what: str
    value: str
    source: str


_QUOTED = "commonly quoted from ANSI/ISA-18.2 and EEMUA 191; we have not seen their text"
GUIDES = (
    Guide(
        "alarms for one operator", "about 150 a day acceptable", "ANSI/ISA-18.2-2009; the edition of 2016 dropped it"
    ),
    Guide("alarms for one operator", "about 144 a day acceptable, one in 10 minutes", "IEC 62682:2014"),
    Guide("alarms for one operator", "one in 10 minutes very likely acceptable", "Bransby and Jenkinson 1998"),
    Guide("priorities", "about 80 % low, 15 % medium, 5 % high", "ANSI/ISA-18.2, IEC 62682"),
    Guide("flood", "more than 10 in 10 minutes, until there are fewer than 5 in 10 minutes", _QUOTED),
    Guide("stale alarm", "on for more than 24 hours", _QUOTED),
    Guide("chattering alarm", "three times or more within a minute", _QUOTED),
    Guide("span of such figures", "30 days or more", "ANSI/ISA-18.2"),
)
REMARK = (
    "These values are for an operator position in a plant: one person who watches alarms round the clock. Nobody on a"
    " farm does. Being far below them proves nothing; what counts is whether each message was worth it."
)
