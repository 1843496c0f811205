"""A zero checked by a service: a tube that stands open holds no vacuum, so what it still reads its zero is off.

Only what was sampled tells: between two samples the tube may have been closed again, and draws already.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from parchd.diagnosis import servicing
from parchd.diagnosis.hours import known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.rows import flat, rows
from parchd.diagnosis.setup import Instrument
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Look

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    Floats = NDArray[float64]

NOTE, KEPT = "zero.opened", 2
"""Note: the last services, see `Check`, the newest last."""
BELOW_KPA = 0.7
"""Scatter downwards: calibration, and noise."""
DRAWN_KPA, DRAWN_SHARE_H = 0.5, 0.3
"""What it has drawn again by the time of a sample, on average: with quick samples, and of the vacuum that it had before
with the square of their interval in hours; as 1500 services of sound simulated tubes showed."""
SUNK_KPA, SEVERAL = -3.0, 2
"""No zero is so far off in several tubes of a source at once: then its wires dropped out."""
MOST = 12.0
"""No service tells more, as a natural logarithm: something else may have been done to the tube."""


class Check(NamedTuple):
    """The least vacuum that was read while somebody served it, kPa, and what it has drawn again by then, on average."""

    hour: int
    kpa: float
    drawn_kpa: float


def remember(look: Look) -> None:
    """Keep what was read during the last service, if it was opened then."""
    hour, kept = look.state.sources[look.instrument.source].notes.get(servicing.TOLD), checks(look.standing)
    if not isinstance(hour, int) or hour - servicing.USUAL_H < max(look.standing.since, look.standing.hours.begin):
        return
    if look.source_has(FindingKind.DROP_OUTS):
        return  # Its wires open no tubes.
    if kept and hour <= kept[-1].hour:
        return
    dip = servicing.touched(look.standing, hour, hour + servicing.SETTLE_H)
    if dip is not None and dip.was_opened and not _was_wiring(look, hour):
        day_kpa = middle(known(look.standing.hours.column("mean_kpa", hour - 24, hour)))
        kpa = less(dip.before_kpa - dip.dip_kpa + look.instrument.head_kpa, dip.before_kpa - day_kpa)
        drawn_kpa = usually_drawn_kpa(look.instrument, dip.before_kpa) * max(1.0, _others_drew(look, hour))
        check = Check(hour, round(kpa, 2), round(drawn_kpa, 2))
        look.standing.notes[NOTE] = flat([*kept, check][-KEPT:])


def _was_wiring(look: Look, hour: int) -> bool:
    """Whether several tubes read far less than no vacuum then: wires that drop out do that, several zeros hardly."""
    dips = _opened((look.standing, *look.neighbours.source), hour)
    return sum(_vacuum_kpa(dip) < SUNK_KPA for dip in dips) >= SEVERAL


def _others_drew(look: Look, hour: int) -> float:
    """How many times the usual the others of its source had drawn by then; the highest of them may be off itself."""
    dips = _opened(look.neighbours.source, hour)
    drew = ((_vacuum_kpa(dip), usually_drawn_kpa(dip.standing.instrument, dip.before_kpa)) for dip in dips)
    shares = sorted(max(kpa, 0.0) / usual_kpa for kpa, usual_kpa in drew)[:-1]
    return sum(shares) / len(shares) if shares else 0.0


def _opened(tubes: Sequence[Standing], hour: int) -> list[servicing.Touch]:
    touches = (servicing.touched(one, hour, hour + servicing.SETTLE_H) for one in tubes)
    return [one for one in touches if one is not None and one.was_opened]


def _vacuum_kpa(dip: servicing.Touch) -> float:
    """The least vacuum that was read."""
    return dip.before_kpa - dip.dip_kpa + dip.standing.instrument.head_kpa


def usually_drawn_kpa(instrument: Instrument, before_kpa: float) -> float:
    """Vacuum that a sound tube which stood open has drawn again by the time of its sample, on average.

    Args:
        before_kpa: the tension it read before.
    """
    interval_h = instrument.interval_s / 3600.0
    return DRAWN_KPA + DRAWN_SHARE_H * interval_h**2 * max(before_kpa + instrument.head_kpa, 0.0)


def less(kpa: float, warmth_kpa: float) -> float:
    """Take off what warmth may have done to it just then: how far it was from the middle of its day before.

    >>> less(-4.0, -3.0), less(-2.0, -3.0), less(-4.0, 3.0)
    (-1.0, 0.0, -4.0)
    """
    return min(0.0, kpa - min(warmth_kpa, 0.0)) if kpa < 0.0 else max(0.0, kpa - max(warmth_kpa, 0.0))


def checks(standing: Standing) -> list[Check]:
    """Give what was kept, the oldest first."""
    return [
        Check(int(hour), kpa, drawn_kpa) for hour, kpa, drawn_kpa in rows(standing.notes.get(NOTE), len(Check._fields))
    ]


def told(standing: Standing, days: "Floats", offsets: "Floats", first_h: int) -> "Floats":
    """Tell how much likelier the checks are with each row of offsets than with none, as a natural logarithm.

    Args:
        days: of the offsets' columns, since ``first_h``.
        first_h: an hour.
    """
    import numpy as np

    found = np.zeros(len(offsets))
    for check in checks(standing):
        column = int(np.abs(days - (check.hour - first_h) / 24.0).argmin())
        found += _likely(check.kpa - offsets[:, column], check) - _likely(np.array(check.kpa), check)
    return found


def _likely(kpa: "Floats", check: Check) -> "Floats":
    import numpy as np

    unlikely = np.where(kpa < 0.0, 0.5 * (kpa / BELOW_KPA) ** 2, kpa / check.drawn_kpa)
    found: Floats = -np.minimum(unlikely, MOST)
    return found
