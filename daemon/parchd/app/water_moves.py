"""Which way water moves between the depths of each station, by their newest readings."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from parchd.alarms.rules import FaultRule
from parchd.alarms.wording import Names
from parchd.clock import US_PER_S
from parchd.contract import JsonValue, Place
from parchd.physics.flow import CupTension, Flow, vertical_flow
from parchd.store.reader import Latest
from parchd.words import Voice, text

DIRECTIONS = {"down": text("down"), "up": text("up"), "none": text("neither way"), "unclear": text("unclear")}
"""What is said of each direction."""


@dataclass(frozen=True, slots=True)
class Move:
    """Water between two depths of a station.

    Args:
        zone, station: where.
        shallow_m, deep_m: the two depths; nothing stands between them.
        flow: gradient and direction.
    """

    zone: str
    station: str
    shallow_m: float
    deep_m: float
    flow: Flow

    def depths(self, voice: Voice | None = None) -> str:
        low, high = f"{self.shallow_m * 100:g}", f"{self.deep_m * 100:g}"
        return (voice or Voice()).say("{low} to {high} cm", low=low, high=high)

    def words(self, voice: Voice | None = None) -> str:
        """
        >>> Move("north", "post 1", 0.2, 0.4, Flow(1.5, 0.3, "down")).words()
        'down (gradient +1.5 +/- 0.3)'
        """
        voice = voice or Voice()
        digits = 1 if self.flow.u_gradient >= 0.1 else 2
        sign = "-" if round(self.flow.gradient, digits) < 0.0 else "+"
        return voice.say(
            "{direction} (gradient {gradient} +/- {uncertainty})",
            direction=DIRECTIONS[self.flow.direction],
            gradient=sign + voice.number(abs(self.flow.gradient), digits),
            uncertainty=voice.number(self.flow.u_gradient, digits),
        )

    def row(self, names: Names, voice: Voice | None = None) -> tuple[str, str, str]:
        """Station, depths and words, for a table."""
        return f"{names.zone_title(self.zone)}, {self.station}", self.depths(voice), self.words(voice)

    def data(self) -> JsonValue:
        """The same for programs."""
        return {
            "zone": self.zone,
            "station": self.station,
            "from_m": self.shallow_m,
            "to_m": self.deep_m,
            "direction": self.flow.direction,
            "gradient": self.flow.gradient,
            "gradient_u": self.flow.u_gradient,
        }


def water_moves(
    rules: Iterable[FaultRule], places: Mapping[str, Place], newest: Mapping[str, Latest], now_us: int
) -> tuple[Move, ...]:
    """Compare each depth of a station with the next deeper one.

    Only readings count that may decide, say how uncertain they are, and are not older than what makes a sensor silent.
    Of two tensiometers at one depth the first counts.

    Args:
        rules: of all tensiometers: channel and interval.
        places: by tensiometer.
        newest: by channel.
        now_us: the time.
    """
    stations: dict[tuple[str, str], dict[float, CupTension]] = {}
    for rule in rules:
        cup = _cup(rule, places[rule.tensiometer], newest.get(rule.channel), now_us)
        if cup is not None:
            place = places[rule.tensiometer]
            stations.setdefault((place.zone, place.station), {}).setdefault(cup.depth_m, cup)
    return tuple(move for (zone, station), cups in stations.items() for move in _between(zone, station, cups))


def _between(zone: str, station: str, cups: Mapping[float, CupTension]) -> Iterator[Move]:
    for (shallow_m, shallow), (deep_m, deep) in pairwise(sorted(cups.items())):
        yield Move(zone, station, shallow_m, deep_m, vertical_flow(shallow, deep))


def _cup(rule: FaultRule, place: Place, latest: Latest | None, now_us: int) -> CupTension | None:
    if latest is None or not latest.flag.decides or latest.tension_kpa is None or latest.uncertainty_kpa is None:
        return None
    if now_us - latest.time_us > rule.silent_intervals * rule.interval_s * US_PER_S:
        return None
    return CupTension(place.depth_m, latest.tension_kpa, latest.uncertainty_kpa)
