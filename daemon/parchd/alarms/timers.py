"""What time alone does to an alarm."""

from typing import NamedTuple

from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.manners import Manner
from parchd.alarms.standing import Standing
from parchd.clock import US_PER_S

SLACK_US = 60 * US_PER_S
"""A clock that steps back by less is none that was set."""


class Timer(NamedTuple):
    """Something that happens to an alarm by itself.

    Args:
        happening, why: what, and what is written down as the reason.
        from_us, until_us: it runs in ``from_us <= now < until_us``. Before: the clock was set back behind its begin,
            nobody knows how much of it is over, and it ends. So nothing stays quiet for years after a wrong date.
    """

    happening: Happening
    why: str
    from_us: int
    until_us: int

    def has_run_out(self, now_us: int) -> bool:
        return not self.from_us <= now_us < self.until_us

    def reason(self, now_us: int) -> str:
        return self.why if now_us >= self.until_us else "the clock was set back"


def timer_of(stands: Standing, manner: Manner, now_us: int, leapt_us: int = 0) -> Timer | None:
    """The timer of an alarm; ``None``: time does nothing to it.

    A shelf ends by the clock on the wall. All else waits for time that went by: it begins anew where the clock leapt.

    Args:
        leapt_us: what the clock showed after it was last set, forward or back; 0: it never was.

    >>> timer_of(Standing(State.SHELVED, since_us=0, until_us=5), Manner(), 2).happening.value
    'unshelved'
    >>> stands = Standing(State.UNACKNOWLEDGED, is_on=True, since_us=0, raised_us=0)
    >>> [timer_of(stands, Manner(repeat_us=5), 2000, leapt_us).until_us for leapt_us in (0, 1999)]
    [5, 2004]
    """
    if stands.state is State.SHELVED and stands.until_us is not None:
        from_us = stands.since_us - SLACK_US
        return Timer(Happening.UNSHELVED, "its time on the shelf is over", from_us, stands.until_us)
    start_us = stands.since_us if leapt_us <= stands.since_us <= now_us + SLACK_US else leapt_us
    from_us = start_us - SLACK_US
    if stands.state is State.RETURNED and manner.returned_us is not None:
        why = "its cause is gone, and nobody acknowledged it"
        return Timer(Happening.ACKNOWLEDGED, why, from_us, start_us + manner.returned_us)
    if stands.state in (State.UNACKNOWLEDGED, State.ACKNOWLEDGED) and manner.repeat_us is not None:
        return Timer(Happening.REPEATED, "it still stands", from_us, start_us + manner.repeat_us)
    return None
