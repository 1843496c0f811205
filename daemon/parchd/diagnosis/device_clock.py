"""Clocks of devices: is a sample stamped with the time at which it was taken?

Judged by the daemon's own clock, an hour of arrivals at a time: a device whose clock stands wrong has no hours of
measurement that could close. A clock that is years off still runs at the right speed: by how much it is wrong is noted,
and the diagnosis goes on with the times put right.
"""

from collections.abc import Callable, Iterator, Sequence

from parchd.clock import US_PER_S
from parchd.contract import Cause, Reading
from parchd.diagnosis.findings import Fact, FindingKey
from parchd.diagnosis.hours import HOUR_US, hour_of
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Arrivals, DiagnosisState, SourceStanding
from parchd.diagnosis.verdict import Case, Over, Verdict, median
from parchd.pipeline.stage import FUTURE_TOLERANCE_US

BEHIND_S, BEHIND_INTERVALS = 900.0, 1.25
"""Stamps of averages may be the beginning of what was averaged: one interval is no sign of a wrong clock."""
AHEAD_S = 120.0
"""No network delivers before it was measured; clocks of boards differ by some seconds."""
BEHIND_HOURS, AHEAD_HOURS = 6, 2
YEARS_S = 30 * 86_400.0
"""Nobody keeps samples for so long without the arrivals showing that he catches up."""
YEARS_SAMPLES = 3
OFF = "clock.off"
"""Note: by how much a clock that is years off must be put forward, and after which arrival it is; microseconds."""
STEADY_S, STEADY_INTERVALS = 600.0, 1.25
"""A wrong clock runs at the right speed: lags of one that catches up shrink by far more within an hour."""

_TIMELESS = frozenset((Cause.CLOCK, Cause.TIME_UNKNOWN))


def taken_us(reading: Reading, source: SourceStanding | None) -> int | None:
    """When a sample was taken, put right where its clock is known to be years off; ``None``: nobody knows.

    What comes from the future says so whatever else is wrong with it.
    """
    time_us, received_us = reading.sample.time_us, reading.received_us
    if source is not None and OFF in source.notes and _is_years(received_us - time_us):
        off_us, since_us = off_by(source)
        time_us += off_us
        return None if received_us <= since_us or _is_years(received_us - time_us) else time_us
    return None if reading.cause in _TIMELESS or time_us > received_us + FUTURE_TOLERANCE_US else time_us


def off_by(source: SourceStanding) -> tuple[int, int]:
    """Read the note; without one nothing is off."""
    match source.notes.get(OFF):
        case [int() as off_us, int() as since_us]:
            return off_us, since_us
    return 0, 0


def _is_years(lag_us: int) -> bool:
    return abs(lag_us) > YEARS_S * US_PER_S


def judge(state: DiagnosisState, source: SourceStanding, now_us: int) -> Iterator[Verdict]:
    """Look at the hours of arrival that are over; each is judged once.

    Args:
        now_us: by the daemon's clock.
    """
    hour = hour_of(now_us)
    newest = next((arrivals for arrivals in reversed(source.arrivals) if arrivals.hour < hour), None)
    if newest is None or source.notes.get("clock.judged") == newest.hour:
        return
    source.notes["clock.judged"] = newest.hour
    state.changed.add(f"source/{source.name}")
    interval_s = _interval_s(state, source)
    is_open = FindingKey(FindingKind.WRONG_CLOCK, f"source/{source.name}") in state.findings
    is_right = _is_right(newest, interval_s)
    done = [arrivals for arrivals in source.arrivals if arrivals.hour < hour]
    _note(source, _years_off(done, interval_s), interval_s, now_us)
    if is_open and is_right:
        yield Over(FindingKind.WRONG_CLOCK, newest.hour * HOUR_US)
    elif not is_open and not is_right:
        wrong = _years_off(done, interval_s) or _ahead(done) or _behind(done, interval_s)
        if wrong:
            yield _case(wrong)


def _note(source: SourceStanding, wrong: Sequence[Arrivals], interval_s: float, now_us: int) -> None:
    """Note how far the clock is off; it is noted anew only when it leapt once more."""
    if wrong:
        off_us = round(wrong[-1].least_lag_s * US_PER_S)
        if abs(off_us - off_by(source)[0]) > _steady_s(interval_s) * US_PER_S:
            source.notes[OFF] = [off_us, now_us]


def _interval_s(state: DiagnosisState, source: SourceStanding) -> float:
    instruments = (standing.instrument for standing in state.standings.values())
    return max((one.interval_s for one in instruments if one.source == source.name), default=0.0)


def _is_right(one: Arrivals, interval_s: float) -> bool:
    return -AHEAD_S <= one.least_lag_s <= _late_s(interval_s)


def _late_s(interval_s: float) -> float:
    return max(BEHIND_S, BEHIND_INTERVALS * interval_s)


def _steady_s(interval_s: float) -> float:
    return max(STEADY_S, STEADY_INTERVALS * interval_s)


def _is_steady(one: Arrivals, interval_s: float) -> bool:
    return one.most_lag_s - one.least_lag_s <= _steady_s(interval_s)


def _tail(done: Sequence[Arrivals], is_wrong: Callable[[Arrivals], bool]) -> list[Arrivals]:
    """The newest arrivals without a right one between them."""
    count = next((n for n, one in enumerate(reversed(done)) if not is_wrong(one)), len(done))
    return list(done[len(done) - count :])


def _years_off(done: Sequence[Arrivals], interval_s: float) -> list[Arrivals]:
    """A clock that started anew at some date; a record that is played back is not steady."""
    tail = _tail(done, lambda one: abs(one.least_lag_s) > YEARS_S and _is_steady(one, interval_s))
    return tail if sum(one.count for one in tail) >= YEARS_SAMPLES and sum(one.batches for one in tail) > 1 else []


def _ahead(done: Sequence[Arrivals]) -> list[Arrivals]:
    tail = _tail(done, lambda one: one.least_lag_s < -AHEAD_S)
    return tail if len(tail) >= AHEAD_HOURS else []


def _behind(done: Sequence[Arrivals], interval_s: float) -> list[Arrivals]:
    """Everything comes late, and always by the same: a gateway that catches up gets nearer, and brings more at once."""
    tail = _tail(done, lambda one: one.least_lag_s > _late_s(interval_s) and _is_steady(one, interval_s))
    lags = [one.least_lag_s for one in tail[-BEHIND_HOURS:]]
    if len(lags) < BEHIND_HOURS or max(lags) - min(lags) > _steady_s(interval_s):
        return []
    return tail


def _case(wrong: Sequence[Arrivals]) -> Case:
    lag_s = median(one.least_lag_s for one in wrong)
    facts = (
        Fact("clock is behind by" if lag_s > 0.0 else "clock is ahead by", abs(lag_s) / 3600.0, "h"),
        Fact("hours of arrival", len(wrong)),
        Fact("samples", sum(one.count for one in wrong)),
    )
    return Case(FindingKind.WRONG_CLOCK, wrong[0].hour * HOUR_US, 0.95, facts)
