"""Limits of the quality tests of one tensiometer, and where their defaults come from.

Gross range has its limits from the site: see `parchd.quality.gross` and `parchd.pipeline.setup.TensiometerSetup`.
QARTOD leaves all other limits to whoever knows the instrument and the water; those below are our choice, for cups in
mineral soils, read every second to every six hours.
"""

from dataclasses import dataclass

from parchd.clock import US_PER_S

HOUR_US = 3600 * US_PER_S

FASTEST_DRYING_KPA_PER_H = 10.0
"""Our choice: crops dry the soil around a cup by 1 to 3 kPa a day, by 6 kPa an hour at most in the hours after a flood,
sun on the tube included (the field record that tests/oracle/test_qartod_field.py reads). Pots and coarse sands that
are nearly dry may need more."""
SHORTEST_RISE_US = HOUR_US // 2
"""Our choice: a rise in less time than this is judged as if it had taken this time, so by default 5 kPa may always
come at once. Sun that comes out from behind a cloud moves a tube of trapped air by 2 kPa in a quarter of an hour."""
SPIKE_KPA = 5.0
"""Our choice."""
FLAT_KPA = 0.05
"""Our choice: the quietest day of ten tensiometers in the same record has a range of 0.17 kPa."""
ATTENUATED_KPA = 0.15
"""Our choice: the quietest three days there have a range of 0.36 kPa."""
FLAT_ABOVE_KPA = 5.0
"""Our choice: wetter soil is flat with good reason."""
ATTENUATED_ABOVE_KPA = 10.0
"""Our choice: soil that only drains, in winter and deep down, may hardly move below field capacity."""
BUCKET_US = 3 * HOUR_US
BUCKETS_A_DAY = 8
BUCKETS = 24
SAMPLES_A_DAY = 12
"""Our choice: so many samples at least stand behind the word "flat"; where they are rarer, a "day" is longer."""
LONGEST_GAP_US = 6 * HOUR_US
GAP_INTERVALS = 12


@dataclass(frozen=True, slots=True)
class Limits:
    """What is still normal for one tensiometer.

    Args:
        rise_kpa_per_h: drying faster than this is suspect; infinity: nothing is. Wetting has no limit: a wetting front
            passes a cup between two samples.
        shortest_rise_us: a rise in less time counts as one in this time.
        spike_kpa: a value further from both its neighbours, to the same side, is a spike. Drying that is not too fast
            makes none.
        bucket_us: length of the buckets that ranges are kept in.
        flat_buckets: the range of a flat line is taken over so many buckets and the one that is being filled.
        long_buckets: the same for an attenuated signal; not fewer.
        flat_kpa: a range below this is a flat line.
        attenuated_kpa: a range below this is an attenuated signal; 0: none is.
        flat_above_kpa: soil that is not drier is never called flat.
        attenuated_above_kpa: a signal that is not higher is never called attenuated.
        gap_us: a longer gap is told of, and all tests start over.

    All limits are passed only beyond themselves: what equals a limit is normal.
    """

    rise_kpa_per_h: float = FASTEST_DRYING_KPA_PER_H
    shortest_rise_us: int = SHORTEST_RISE_US
    spike_kpa: float = SPIKE_KPA
    bucket_us: int = BUCKET_US
    flat_buckets: int = BUCKETS_A_DAY
    long_buckets: int = BUCKETS
    flat_kpa: float = FLAT_KPA
    attenuated_kpa: float = ATTENUATED_KPA
    flat_above_kpa: float = FLAT_ABOVE_KPA
    attenuated_above_kpa: float = ATTENUATED_ABOVE_KPA
    gap_us: int = LONGEST_GAP_US

    @property
    def reach_us(self) -> int:
        """What was measured longer ago than this before the newest sample cannot matter any more.

        >>> Limits().reach_us / HOUR_US
        81.0
        """
        return (self.long_buckets + 1) * self.bucket_us + self.gap_us


def limits_of(interval_s: float, step_kpa: float = 0.0, rise_kpa_per_h: float = FASTEST_DRYING_KPA_PER_H) -> Limits:
    """Give the limits of a tensiometer.

    A converter that moves in steps hides a range smaller than one step: it takes more to call its signal flat or
    attenuated. One whose steps are as coarse as the limits is flat after three days on one code, not after one.

    Args:
        interval_s: expected time between samples.
        step_kpa: one step of the converter; 0: fine, or not known.
        rise_kpa_per_h: the fastest drying that is believed.

    >>> fine, coarse = limits_of(900.0, step_kpa=0.003), limits_of(900.0, step_kpa=0.122)
    >>> fine.flat_kpa, fine.flat_buckets, fine.attenuated_kpa
    (0.047, 8, 0.147)
    >>> coarse.flat_kpa, coarse.flat_buckets, round(coarse.attenuated_kpa, 3)
    (0.061, 24, 0.028)
    """
    is_coarse = step_kpa > FLAT_KPA / 2
    interval_us = round(interval_s * US_PER_S)
    return Limits(
        rise_kpa_per_h=rise_kpa_per_h,
        bucket_us=max(BUCKET_US, SAMPLES_A_DAY * interval_us // BUCKETS_A_DAY),
        flat_buckets=BUCKETS if is_coarse else BUCKETS_A_DAY,
        flat_kpa=step_kpa / 2 if is_coarse else FLAT_KPA - step_kpa,
        attenuated_kpa=max(0.0, ATTENUATED_KPA - step_kpa),
        gap_us=max(LONGEST_GAP_US, GAP_INTERVALS * interval_us),
    )
