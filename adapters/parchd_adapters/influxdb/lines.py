"""Journal rows to InfluxDB line protocol. Pure."""

import math
from collections.abc import Iterable, Mapping

from parchd.contract import Place, StoredReading, Unit

RAW_FIELDS: Mapping[Unit, str] = {
    Unit.COUNTS: "raw_counts",
    Unit.V: "raw_v",
    Unit.MV: "raw_mv",
    Unit.MA: "raw_ma",
    Unit.KPA: "raw_kpa",
    Unit.HPA: "raw_hpa",
    Unit.CELSIUS: "raw_degc",
}
"""Field that keeps the sample, by its unit: a change of unit cannot mix two quantities in one field."""

_ESCAPES = str.maketrans({",": r"\,", "=": r"\=", " ": r"\ ", "\\": "/"})
_MAX_CHANNELS = 10_000


def escape(text: str) -> str:
    r"""Write a measurement, tag key or tag value so that every server reads it back.

    A backslash becomes a slash, because servers disagree on what two of them, or one at the end, mean. Characters
    that do not print (line ends, surrogates) become spaces.

    >>> print(escape("bed 4, east=dry"))
    bed\ 4\,\ east\=dry
    >>> print(escape("ends in \\"))
    ends\ in\ /
    """
    if not text.isprintable():
        text = "".join(char if char.isprintable() else " " for char in text)
    return text.translate(_ESCAPES)


def prefix(measurement: str, tags: Mapping[str, str]) -> str:
    r"""Join a measurement and its tags, sorted by key; a tag without text is left out, as the protocol demands.

    >>> print(prefix("tension", {"zone": "north block", "site": "", "channel": "bus1/a0"}))
    tension,channel=bus1/a0,zone=north\ block
    """
    pairs = [f",{escape(key)}={escape(tags[key])}" for key in sorted(tags) if tags[key]]
    return escape(measurement) + "".join(pairs)


def place_tags(place: Place) -> dict[str, str]:
    """Name what a series of tensions is grouped by.

    >>> place_tags(Place("Quillmere Orchard", "north block", "n1", "n1-30", 0.3))["depth_m"]
    '0.3'
    """
    return {
        "site": place.site,
        "zone": place.zone,
        "station": place.station,
        "tensiometer": place.tensiometer,
        "depth_m": f"{place.depth_m:g}",
    }


def _number(key: str, value: float | None) -> str:
    """Write a float field; nothing for a value that is missing or that the protocol cannot carry."""
    if value is None or not math.isfinite(value):
        return ""
    return f"{key}={float(value)!r},"


class LineEncoder:
    """Turns rows into lines with times in microseconds; remembers the escaped front of each channel's lines.

    Args:
        site: site of the channels that have no place.
        measurement: for channels of a tensiometer.
        channel_measurement: for all others.
        tags: constant tags on every line.
    """

    def __init__(self, site: str, measurement: str, channel_measurement: str, tags: Mapping[str, str]) -> None:
        self._site = site
        self._measurement = measurement
        self._channel_measurement = channel_measurement
        self._tags = dict(tags)
        self._fronts: dict[str, tuple[Place | None, str]] = {}

    def line(self, row: StoredReading) -> str:
        r"""Encode one row, without a line end. Numbers that are missing are left out; flag, cause and late never are.

        >>> from parchd.contract import Cause, Flag
        >>> encoder = LineEncoder("Quillmere Orchard", "tension", "channel", {})
        >>> good = (Flag.PASS, Cause.NONE, False, "")
        >>> row = StoredReading(7, 1_780_000_000_000_000, "bus1/t", None, 21.5, Unit.CELSIUS, None, None, *good)
        >>> front, fields, stamp = encoder.line(row).rsplit(" ", 2)
        >>> print(front)
        channel,channel=bus1/t,site=Quillmere\ Orchard
        >>> fields
        'raw_degc=21.5,flag=1i,cause=0i,late=false'
        >>> stamp
        '1780000000000000'
        """
        tension = _number("tension_kpa", row.tension_kpa)
        gauge = _number("gauge_kpa", row.gauge_kpa)
        uncertainty = _number("uncertainty_kpa", row.uncertainty_kpa)
        raw = _number(RAW_FIELDS[row.unit], row.value)
        late = "true" if row.late else "false"
        state = f"flag={int(row.flag)}i,cause={int(row.cause)}i,late={late}"
        return f"{self._front(row)} {tension}{gauge}{uncertainty}{raw}{state} {row.time_us}"

    def lines(self, rows: Iterable[StoredReading]) -> list[str]:
        """Encode rows in their order."""
        return [self.line(row) for row in rows]

    def _front(self, row: StoredReading) -> str:
        known = self._fronts.get(row.channel)
        if known is not None and (known[0] is row.place or known[0] == row.place):
            return known[1]
        front = self._make_front(row.channel, row.place)
        if len(self._fronts) >= _MAX_CHANNELS:
            self._fronts.clear()
        self._fronts[row.channel] = (row.place, front)
        return front

    def _make_front(self, channel: str, place: Place | None) -> str:
        if place is None:
            return prefix(self._channel_measurement, {**self._tags, "site": self._site, "channel": channel})
        return prefix(self._measurement, {**self._tags, **place_tags(place), "channel": channel})
