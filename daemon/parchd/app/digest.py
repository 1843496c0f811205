"""The daily message: how each zone and each tensiometer stands, in words."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from parchd.alarms.believed import believed, faults_of
from parchd.alarms.book import AlarmState
from parchd.alarms.condition import NORMAL
from parchd.alarms.irrigation import EMPTY
from parchd.alarms.polls import least_votes, zone_kpa
from parchd.alarms.rules import AlarmKind, AlarmSetup, FaultRule, IrrigationRule
from parchd.alarms.wording import Names
from parchd.app.ailing import ailing, fault_title
from parchd.app.water_moves import water_moves
from parchd.clock import US_PER_S
from parchd.contract import Flag, JsonValue, Notice, NoticeKind, Table
from parchd.diagnosis.findings import Finding
from parchd.store.reader import Latest


@dataclass(frozen=True, slots=True)
class Standing:
    """How one thing stands: its name, its need in words, its tension.

    Args:
        believed: of a zone, how many of its tensiometers can be believed, and how many it has.
    """

    name: str
    words: str
    tension_kpa: float | None
    needs_hand: bool
    believed: tuple[int, int] | None = None

    @property
    def text(self) -> str:
        """Its need, and who of it cannot be believed.

        >>> Standing("north block", "enough water", 12.0, False, (2, 3)).text
        'enough water (2 of 3 tensiometers can be believed)'
        """
        if self.believed is None or self.believed[0] == self.believed[1]:
            return self.words
        return f"{self.words} ({self.believed[0]} of {self.believed[1]} tensiometers can be believed)"


def digest_notice(
    day: str,
    setup: AlarmSetup,
    names: Names,
    state: AlarmState,
    newest: Mapping[str, Latest],
    now_us: int,
    findings: Iterable[Finding] = (),
) -> Notice:
    """Write the digest of a local date.

    Args:
        newest: by channel.
        findings: of the diagnosis, those that hold.
    """
    zones = [zone_standing(rule, state, names, now_us, setup.faults) for rule in setup.irrigation]
    sensors = [sensor_standing(rule, newest.get(rule.channel), state, names, now_us) for rule in setup.faults]
    faults = ailing(state.faults, findings, names)
    needy = (Table("In need of a hand", ("What", "What is wrong", "Since when"), tuple(a.row(names) for a in faults)),)
    moves = water_moves(setup.faults, names.places, newest, now_us)
    flows = (Table("Water moves", ("Station", "Between", "Water moves"), tuple(move.row(names) for move in moves)),)
    thirsty = [zone.name for zone in zones if zone.needs_hand]
    unknown = [zone.name for zone in zones if zone.tension_kpa is None]
    needing = [sensor.name for sensor in sensors if sensor.needs_hand]
    down = [one.name for one in faults if not one.key.subject.startswith("tensiometer/")]
    return Notice(
        id=f"digest.{day}",
        kind=NoticeKind.DIGEST,
        time_us=now_us,
        site=names.site,
        subject=_subject(names.site, thirsty, unknown, needing, down),
        summary=f"State of {names.site} on {names.local(now_us)}.",
        tables=(
            Table("Zones", ("Zone", "State", "Tension"), tuple(_row(zone) for zone in zones)),
            *(needy if faults else ()),
            Table("Tensiometers", ("Tensiometer", "State", "Tension"), tuple(_row(sensor) for sensor in sensors)),
            *(flows if moves else ()),
        ),
        data={
            "type": "digest.daily",
            "day": day,
            "zones": [_data(zone) for zone in zones],
            "tensiometers": [_data(sensor) for sensor in sensors],
            "in_need_of_a_hand": [one.data() for one in faults],
            "water_moves": [move.data() for move in moves],
        },
    )


def zone_standing(
    rule: IrrigationRule, state: AlarmState, names: Names, now_us: int, faults: Iterable[FaultRule] = ()
) -> Standing:
    """How a zone (or a tensiometer with limits of its own) stands.

    The last word of a tensiometer that is known to be faulty does not count, however fresh. With fewer tensiometers
    that can be believed than the rule asks for the zone is "unknown", never wet; a need that was raised stays.

    Args:
        faults: of all tensiometers of the site; they tell which source each belongs to.
    """
    rules = {one.tensiometer: one for one in faults}
    trusted = believed([rules.get(t, FaultRule(t, "", 0.0)) for t in rule.tensiometers], state.faults)
    zone = state.zones.get(rule.subject, EMPTY)
    kind, _, key = rule.subject.partition("/")
    name = names.zone_title(key) if kind == "zone" else key
    fresh = {
        tensiometer: vote.tension_kpa
        for tensiometer, vote in zone.votes.items()
        if now_us - vote.time_us <= rule.fresh_s * US_PER_S and tensiometer in trusted
    }
    enough = len(fresh) >= max(rule.min_trusted, least_votes(rule.way))
    tension_kpa = zone_kpa(rule.way, fresh, rule.stations) if enough else None
    count = (len(trusted), len(rule.tensiometers))
    if zone.levels.get(AlarmKind.IRRIGATE_NOW, NORMAL).phase.is_active:
        return Standing(name, "irrigate now", tension_kpa, True, count)
    if zone.levels.get(AlarmKind.IRRIGATE_PLAN, NORMAL).phase.is_active:
        return Standing(name, "plan an irrigation", tension_kpa, True, count)
    if tension_kpa is None:
        words = f"unknown: {len(fresh)} of {len(rule.tensiometers)} tensiometers have a word that can be believed"
        return Standing(name, words, None, False)
    return Standing(name, "enough water", tension_kpa, False, count)


def sensor_standing(rule: FaultRule, newest: Latest | None, state: AlarmState, names: Names, now_us: int) -> Standing:
    """How a tensiometer stands."""
    place = names.places.get(rule.tensiometer)
    name = rule.tensiometer if place is None else f"{rule.tensiometer} ({place.depth_m * 100:.0f} cm)"
    faults = [fault_title(kind) for kind in faults_of(rule, state.faults)]
    if newest is None:
        return Standing(name, "nothing heard yet", None, True)
    if faults:
        own = any(key.subject == f"tensiometer/{rule.tensiometer}" for key in state.faults)
        return Standing(name, ", ".join(sorted(faults)), newest.tension_kpa, own)
    if not newest.flag.decides:
        return Standing(name, newest.cause.word or newest.flag.word, newest.tension_kpa, newest.flag is Flag.FAIL)
    return Standing(name, f"reads well ({ago(now_us - newest.time_us)})", newest.tension_kpa, False)


def ago(us: int) -> str:
    """An age in words.

    >>> ago(90 * 60_000_000), ago(30 * 3600_000_000), ago(72 * 3600_000_000)
    ('90 min ago', '30 h ago', '3 days ago')
    """
    minutes = max(0, us) // 60_000_000
    if minutes < 120:
        return f"{minutes} min ago"
    return f"{minutes // 60} h ago" if minutes < 48 * 60 else f"{minutes // 1440} days ago"


def _subject(site: str, thirsty: list[str], unknown: list[str], ailing: list[str], down: list[str]) -> str:
    parts = []
    if thirsty:
        parts.append("water wanted: " + ", ".join(thirsty))
    if unknown := [zone for zone in unknown if zone not in thirsty]:
        parts.append("unknown: " + ", ".join(unknown))
    if ailing:
        parts.append(f"{len(ailing)} tensiometers need a hand" if len(ailing) > 1 else "1 tensiometer needs a hand")
    if down:
        parts.append("look at " + ", ".join(dict.fromkeys(down)))
    return f"{site}: {'; '.join(parts) or 'all in order'}"


def _row(standing: Standing) -> tuple[str, ...]:
    tension = "unknown" if standing.tension_kpa is None else f"{standing.tension_kpa:.1f} kPa"
    return standing.name, standing.text, tension


def _data(standing: Standing) -> JsonValue:
    data: dict[str, JsonValue] = {
        "name": standing.name, "state": standing.words, "tension_kpa": standing.tension_kpa,
    }  # fmt: skip
    if standing.believed is not None:
        data |= {"believed": standing.believed[0], "of": standing.believed[1]}
    return data
