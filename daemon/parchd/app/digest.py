"""The daily or weekly message, one screen: how each zone stands and where it goes, what changed, who needs a hand."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from parchd.alarms.book import AlarmState
from parchd.alarms.rules import AlarmSetup, IrrigationRule
from parchd.alarms.wording import Names
from parchd.app.ailing import ailing
from parchd.app.charts import Charts
from parchd.app.pace import pace_kpa, pace_words
from parchd.app.water_moves import water_moves
from parchd.app.zones_now import Standing, sensor_standing, zone_standing
from parchd.contract import Chart, JsonValue, Notice, NoticeKind, Table
from parchd.diagnosis.findings import Finding
from parchd.store.reader import Latest
from parchd.words import Voice

Rows = Sequence[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Digest:
    """Writes digests from what is known now.

    Args:
        newest: by channel.
        findings: of the diagnosis, those that hold.
        charts: the courses of the last days; ``None``: none are known.
        zones: those that the reader looks after; empty: all.
    """

    setup: AlarmSetup
    names: Names
    state: AlarmState
    newest: Mapping[str, Latest]
    now_us: int
    findings: Iterable[Finding] = ()
    charts: Charts | None = None
    voice: Voice | None = None
    zones: frozenset[str] = frozenset()

    def notice(self, day: str, changes: Rows = (), since_us: int | None = None) -> Notice:
        """Write the digest of a local date.

        Args:
            changes: when and what, since ``since_us``.
        """
        voice = self.voice or self.names.voice
        say, names = voice.say, self.names
        rules = [rule for rule in self.setup.irrigation if self._concerns(rule)]
        zones = [self._zone(rule, voice) for rule in rules]
        sensors = self._sensors(voice)
        faults = [
            one for one in ailing(self.state.faults, self.findings, names, voice) if self._is_theirs(one.key.name)
        ]
        moves = [
            move
            for move in water_moves(self.setup.faults, names.places, self.newest, self.now_us)
            if not self.zones or move.zone in self.zones
        ]
        needing = [sensor.name for sensor in sensors if sensor.needs_hand]
        well = say("{count} of {of} tensiometers need nobody.", count=len(sensors) - len(needing), of=len(sensors))
        tables = (
            Table(
                say("Zones"),
                (say("Zone"), say("State"), say("Tension")),
                tuple(
                    (zone.name, zone.text(voice), self._tension(rule, zone, voice))
                    for rule, zone in zip(rules, zones, strict=True)
                ),
            ),
            Table(
                say("In need of a hand"),
                (say("What"), say("What is wrong"), say("Since when")),
                tuple(one.row(voice) for one in faults),
            ),
            Table(
                say("What has changed since {time}", time=voice.moment(since_us))
                if since_us
                else say("What has changed"),
                (say("When"), say("What")),
                tuple(changes),
            ),
            Table(
                say("Water moves"),
                (say("Station"), say("Between"), say("Water moves")),
                tuple(move.row(names, voice) for move in moves if move.flow.direction in ("up", "down")),
            ),
        )
        return Notice(
            id=f"digest.{day}",
            kind=NoticeKind.DIGEST,
            time_us=self.now_us,
            site=names.site,
            subject=self._subject(
                zones, needing, [one.name for one in faults if not _is_tensiometer(one.key.subject)], voice
            ),
            summary=f"{say('State of {site} on {time}.', site=names.site, time=voice.local(self.now_us))} {well}",
            tables=tuple(table for table in tables if table.rows),
            data=self._data(day, rules, [one.data() for one in faults], [move.data() for move in moves]),
            charts=self._pictures(rules, zones, voice),
            voice=voice,
        )

    def _zone(self, rule: IrrigationRule, voice: Voice) -> Standing:
        return zone_standing(rule, self.state, self.names, self.now_us, self.setup.faults, voice)

    def _sensors(self, voice: Voice) -> list[Standing]:
        return [
            sensor_standing(rule, self.newest.get(rule.channel), self.state, self.names, self.now_us, voice)
            for rule in self.setup.faults
            if self._is_theirs(rule.tensiometer)
        ]

    def _tension(self, rule: IrrigationRule, zone: Standing, voice: Voice) -> str:
        """The tension, and how it moves."""
        tension = voice.say("unknown") if zone.tension_kpa is None else voice.tension(zone.tension_kpa, 1)
        pace = pace_words(self._pace_kpa(rule), voice)
        return f"{tension} {pace}".rstrip()

    def _pace_kpa(self, rule: IrrigationRule) -> float | None:
        return None if self.charts is None else pace_kpa(self.charts.together(rule))

    def _pictures(self, rules: Sequence[IrrigationRule], zones: Sequence[Standing], voice: Voice) -> tuple[Chart, ...]:
        """A small one for each zone, those that need water first."""
        if self.charts is None:
            return ()
        ordered = sorted(zip(rules, zones, strict=True), key=lambda pair: not pair[1].needs_hand)
        drawn = (self.charts.zone(rule, voice, beside=False) for rule, _ in ordered)
        return tuple(replace(chart, is_small=True) for chart in drawn if chart is not None)

    def _subject(self, zones: Sequence[Standing], needing: Sequence[str], down: Sequence[str], voice: Voice) -> str:
        parts = []
        if thirsty := [zone.name for zone in zones if zone.needs_hand]:
            parts.append(voice.say("water wanted: {zones}", zones=", ".join(thirsty)))
        if unknown := [zone.name for zone in zones if zone.tension_kpa is None and not zone.needs_hand]:
            parts.append(voice.say("unknown: {zones}", zones=", ".join(unknown)))
        if needing:
            parts.append(voice.say_n("1 tensiometer needs a hand", "{n} tensiometers need a hand", len(needing)))
        if down:
            parts.append(voice.say("look at {names}", names=", ".join(dict.fromkeys(down))))
        return f"{self.names.site}: {'; '.join(parts) or voice.say('all in order')}"

    def _data(
        self, day: str, rules: Sequence[IrrigationRule], faults: list[JsonValue], moves: list[JsonValue]
    ) -> dict[str, JsonValue]:
        """The same for programs: in English and kPa, whoever reads the message."""
        plain = Voice()
        return {
            "type": "digest.daily",
            "day": day,
            "zones": [_data(self._zone(rule, plain), self._pace_kpa(rule)) for rule in rules],
            "tensiometers": [_data(sensor) for sensor in self._sensors(plain)],
            "in_need_of_a_hand": faults,
            "water_moves": moves,
        }

    def _concerns(self, rule: IrrigationRule) -> bool:
        kind, _, key = rule.subject.partition("/")
        return not self.zones or key in self.zones if kind == "zone" else self._is_theirs(key)

    def _is_theirs(self, name: str) -> bool:
        """Whether a tensiometer stands in a zone of the reader; what stands nowhere concerns everybody."""
        place = self.names.places.get(name)
        return not self.zones or place is None or place.zone in self.zones


def _is_tensiometer(subject: str) -> bool:
    return subject.startswith("tensiometer/")


def _data(standing: Standing, pace: float | None = None) -> JsonValue:
    data: dict[str, JsonValue] = {
        "name": standing.name, "state": standing.words, "tension_kpa": standing.tension_kpa,
    }  # fmt: skip
    if standing.believed is not None:
        data |= {"believed": standing.believed[0], "of": standing.believed[1]}
    if pace is not None:
        data["kpa_per_day"] = round(pace, 1)
    return data
