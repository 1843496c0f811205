"""The daily message: how each zone and each tensiometer stands, in words."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import time, timedelta
from statistics import median
from zoneinfo import ZoneInfo

from parchd.alarms.book import AlarmState
from parchd.alarms.condition import NORMAL
from parchd.alarms.irrigation import EMPTY
from parchd.alarms.rules import AlarmKind, AlarmSetup, IrrigationRule
from parchd.alarms.wording import Names
from parchd.app.water_moves import water_moves
from parchd.clock import US_PER_S, to_datetime
from parchd.contract import Flag, JsonValue, Notice, NoticeKind, Table
from parchd.store.reader import Latest

LATEST_START_H = 12


@dataclass(frozen=True, slots=True)
class Standing:
    """How one thing stands: its name, its need in words, its tension."""

    name: str
    words: str
    tension_kpa: float | None
    needs_hand: bool


def digest_due(at: time | None, zone: ZoneInfo, last_day: str | None, now_us: int) -> str | None:
    """The local date whose digest is due now; ``None``: none is.

    It is due once a day from ``at`` on, for twelve hours: a daemon that slept longer skips the day.

    >>> from datetime import datetime
    >>> from parchd.clock import from_datetime
    >>> noon = from_datetime(datetime(2026, 5, 1, 12, tzinfo=ZoneInfo("Europe/Berlin")))
    >>> digest_due(time(6, 30), ZoneInfo("Europe/Berlin"), "2026-04-30", noon)
    '2026-05-01'
    >>> digest_due(time(6, 30), ZoneInfo("Europe/Berlin"), "2026-05-01", noon) is None
    True
    """
    if at is None:
        return None
    local = to_datetime(now_us).astimezone(zone)
    today = local.date().isoformat()
    passed_s = (local.hour - at.hour) * 3600 + (local.minute - at.minute) * 60 + local.second
    due = 0 <= passed_s < LATEST_START_H * 3600 and (last_day is None or last_day < today)
    return today if due else None


def first_day(at: time, zone: ZoneInfo, now_us: int) -> str:
    """The local date that counts as told when there never was a digest: what is past is not made up for.

    >>> from datetime import datetime
    >>> from parchd.clock import from_datetime
    >>> noon = from_datetime(datetime(2026, 5, 1, 12, tzinfo=ZoneInfo("Europe/Berlin")))
    >>> first_day(time(6, 30), ZoneInfo("Europe/Berlin"), noon)
    '2026-05-01'
    >>> first_day(time(18, 0), ZoneInfo("Europe/Berlin"), noon)
    '2026-04-30'
    """
    local = to_datetime(now_us).astimezone(zone)
    return (local.date() - timedelta(days=local.time() < at)).isoformat()


def digest_notice(
    day: str, setup: AlarmSetup, names: Names, state: AlarmState, newest: Mapping[str, Latest], now_us: int
) -> Notice:
    """Write the digest of a local date."""
    zones = [zone_standing(rule, state, names, now_us) for rule in setup.irrigation]
    sensors = [
        sensor_standing(rule.tensiometer, newest.get(rule.channel), state, names, now_us) for rule in setup.faults
    ]
    moves = water_moves(setup.faults, names.places, newest, now_us)
    flows = (Table("Water moves", ("Station", "Between", "Water moves"), tuple(move.row(names) for move in moves)),)
    thirsty = [zone.name for zone in zones if zone.needs_hand]
    unknown = [zone.name for zone in zones if zone.tension_kpa is None]
    ailing = [sensor.name for sensor in sensors if sensor.needs_hand]
    return Notice(
        id=f"digest.{day}",
        kind=NoticeKind.DIGEST,
        time_us=now_us,
        site=names.site,
        subject=_subject(names.site, thirsty, unknown, ailing),
        summary=f"State of {names.site} on {names.local(now_us)}.",
        tables=(
            Table("Zones", ("Zone", "State", "Tension"), tuple(_row(zone) for zone in zones)),
            Table("Tensiometers", ("Tensiometer", "State", "Tension"), tuple(_row(sensor) for sensor in sensors)),
            *(flows if moves else ()),
        ),
        data={
            "type": "digest.daily",
            "day": day,
            "zones": [_data(zone) for zone in zones],
            "tensiometers": [_data(sensor) for sensor in sensors],
            "water_moves": [move.data() for move in moves],
        },
    )


def zone_standing(rule: IrrigationRule, state: AlarmState, names: Names, now_us: int) -> Standing:
    """How a zone (or a tensiometer with limits of its own) stands.

    The last word of a tensiometer that is known to be faulty does not count, however fresh. With fewer tensiometers
    that can be believed than the rule asks for the zone is "unknown", never wet; a need that was raised stays.
    """
    zone = state.zones.get(rule.subject, EMPTY)
    kind, _, key = rule.subject.partition("/")
    name = names.zone_title(key) if kind == "zone" else key
    believed = [
        vote.tension_kpa
        for tensiometer, vote in zone.votes.items()
        if now_us - vote.time_us <= rule.fresh_s * US_PER_S and not _faults(tensiometer, state)
    ]
    tension_kpa = median(believed) if believed and len(believed) >= rule.min_trusted else None
    if zone.levels.get(AlarmKind.IRRIGATE_NOW, NORMAL).phase.is_active:
        return Standing(name, "irrigate now", tension_kpa, True)
    if zone.levels.get(AlarmKind.IRRIGATE_PLAN, NORMAL).phase.is_active:
        return Standing(name, "plan an irrigation", tension_kpa, True)
    if tension_kpa is None:
        words = f"unknown: {len(believed)} of {len(rule.tensiometers)} tensiometers have a word that can be believed"
        return Standing(name, words, None, False)
    return Standing(name, "enough water", tension_kpa, False)


def sensor_standing(tensiometer: str, newest: Latest | None, state: AlarmState, names: Names, now_us: int) -> Standing:
    """How a tensiometer stands."""
    place = names.places.get(tensiometer)
    name = tensiometer if place is None else f"{tensiometer} ({place.depth_m * 100:.0f} cm)"
    faults = _faults(tensiometer, state)
    if newest is None:
        return Standing(name, "nothing heard yet", None, True)
    if faults:
        return Standing(name, ", ".join(sorted(faults)), newest.tension_kpa, True)
    if not newest.flag.decides:
        return Standing(name, newest.cause.word or newest.flag.word, newest.tension_kpa, newest.flag is Flag.FAIL)
    return Standing(name, f"reads well ({ago(now_us - newest.time_us)})", newest.tension_kpa, False)


def _faults(tensiometer: str, state: AlarmState) -> list[str]:
    """The active faults of a tensiometer in words."""
    subject = f"tensiometer/{tensiometer}"
    active = (key.kind for key, c in state.faults.items() if key.subject == subject and c.phase.is_active)
    return [kind.value.replace("-", " ") for kind in active]


def ago(us: int) -> str:
    """An age in words.

    >>> ago(90 * 60_000_000), ago(30 * 3600_000_000), ago(72 * 3600_000_000)
    ('90 min ago', '30 h ago', '3 days ago')
    """
    minutes = max(0, us) // 60_000_000
    if minutes < 120:
        return f"{minutes} min ago"
    return f"{minutes // 60} h ago" if minutes < 48 * 60 else f"{minutes // 1440} days ago"


def _subject(site: str, thirsty: list[str], unknown: list[str], ailing: list[str]) -> str:
    parts = []
    if thirsty:
        parts.append("water wanted: " + ", ".join(thirsty))
    if unknown := [zone for zone in unknown if zone not in thirsty]:
        parts.append("unknown: " + ", ".join(unknown))
    if ailing:
        parts.append(f"{len(ailing)} tensiometers need a hand" if len(ailing) > 1 else "1 tensiometer needs a hand")
    return f"{site}: {'; '.join(parts) or 'all in order'}"


def _row(standing: Standing) -> tuple[str, ...]:
    tension = "unknown" if standing.tension_kpa is None else f"{standing.tension_kpa:.1f} kPa"
    return standing.name, standing.words, tension


def _data(standing: Standing) -> JsonValue:
    return {"name": standing.name, "state": standing.words, "tension_kpa": standing.tension_kpa}
