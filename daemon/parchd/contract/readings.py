"""What the pipeline makes of samples, and what sinks receive."""

from dataclasses import dataclass

from parchd.contract.flags import Cause, Flag
from parchd.contract.samples import Sample, Unit


@dataclass(frozen=True, slots=True)
class Reading:
    """A sample with what the pipeline made of it.

    Args:
        sample: the sample, unchanged.
        channel: ``source/channel``.
        received_us: when the engine took it, microseconds UTC.
        gauge_kpa: pressure at the transducer relative to the air around it, negative for vacuum. ``None``: no value.
        tension_kpa: tension at the cup, positive when drier than saturation, negative under free water.
            ``None``: no value, or the channel belongs to no tensiometer.
        flag: QARTOD flag.
        cause: why the flag is not "pass".
        late: out of order, or of unknown time: it is kept, but judges no alarm.
        calibration: date of the calibration that was used (``YYYY-MM-DD``); empty: the transducer's nominal line.
        uncertainty_kpa: expanded uncertainty of the tension (k = 2, JCGM 100:2008); ``None``: no value.
    """

    sample: Sample
    channel: str
    received_us: int
    gauge_kpa: float | None
    tension_kpa: float | None
    flag: Flag
    cause: Cause
    late: bool
    calibration: str = ""
    uncertainty_kpa: float | None = None


@dataclass(frozen=True, slots=True)
class Place:
    """Where a tensiometer stands."""

    site: str
    zone: str
    station: str
    tensiometer: str
    depth_m: float


@dataclass(frozen=True, slots=True)
class StoredReading:
    """One row of the journal, as a sink gets it.

    Args:
        seq: position in the order of writing; grows for ever. A reading that was computed anew comes again, under the
            same ``seq``: what comes later holds.
        time_us: time of measurement, microseconds UTC.
        channel: ``source/channel``.
        place: ``None`` for a channel that belongs to no tensiometer (supply, temperature, not configured yet).
        value, unit: the sample. ``None``: missing.
        gauge_kpa, tension_kpa, flag, cause, late, calibration, uncertainty_kpa: see `Reading`.
    """

    seq: int
    time_us: int
    channel: str
    place: Place | None
    value: float | None
    unit: Unit
    gauge_kpa: float | None
    tension_kpa: float | None
    flag: Flag
    cause: Cause
    late: bool
    calibration: str
    uncertainty_kpa: float | None = None
