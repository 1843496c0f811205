"""Can the time of day be believed? A board without a battery starts in the past."""

from dataclasses import dataclass, replace

from parchd.clock import US_PER_S

EARLIEST_US = 1_767_225_600 * US_PER_S  # 2026-01-01: no daemon of this kind ran before
STEP_BACK_US = 60 * US_PER_S
ACCEPT_AFTER_US = 600 * US_PER_S


@dataclass(frozen=True, slots=True)
class ClockTrust:
    """What is known of the clock.

    Args:
        highest_us: the latest time seen, over restarts.
        back_since_us: first reading of the clock after it stepped back; ``None``: it has not.
    """

    highest_us: int = 0
    back_since_us: int | None = None

    def is_trusted(self, now_us: int) -> bool:
        """Whether a sample may be stamped with ``now_us`` and be believed.

        >>> trust = ClockTrust(highest_us=EARLIEST_US + 1000 * US_PER_S)
        >>> trust.is_trusted(EARLIEST_US + 990 * US_PER_S), trust.is_trusted(EARLIEST_US)
        (True, False)
        """
        return now_us >= max(EARLIEST_US, self.highest_us - STEP_BACK_US)

    def observe(self, now_us: int) -> "ClockTrust":
        """Take a reading of the clock.

        A clock that stepped back is accepted once it has run from there for ten minutes: the time before the step was
        the wrong one, or somebody set it.
        """
        if now_us >= self.highest_us - STEP_BACK_US:
            return ClockTrust(max(now_us, self.highest_us))
        if self.back_since_us is None or now_us < self.back_since_us:
            return replace(self, back_since_us=now_us)
        if now_us - self.back_since_us >= ACCEPT_AFTER_US and now_us >= EARLIEST_US:
            return ClockTrust(now_us)
        return self
