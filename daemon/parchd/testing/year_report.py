"""What a lived year shows: how many messages came, and whether anything that needed a response was not told."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from parchd.alarms.findings import ALARM_OF
from parchd.alarms.kinds import PRIORITIES, AlarmKind
from parchd.clock import US_PER_S, to_datetime
from parchd.contract import JsonValue, NoticeKind, Priority
from parchd.diagnosis.kinds import FindingKind
from parchd.evaluation.concern import subjects_of
from parchd.simulator.season import Fault, simulate
from parchd.testing.farm_year import year_plan
from parchd.testing.year_lived import NOW_KPA, Letter, Lived, live

MINUTE_US = 60 * US_PER_S
HOUR_US = 60 * MINUTE_US
DAY_US = 24 * HOUR_US
LATEST_US = 26 * HOUR_US
"""Everything stands in the next digest at the latest."""
CLEAR_KPA = 4.0
"""So far above the limit the soil must be to count: cups lag, transducers are off by tenths, and the median of those
that are believed is not that of all."""
GROWER = "mara@quillmere.example"
ELSEWHERE = {
    FindingKind.OPEN_CIRCUIT: AlarmKind.ELECTRICAL,
    FindingKind.SHORT_CIRCUIT: AlarmKind.ELECTRICAL,
    FindingKind.SATURATED: AlarmKind.ELECTRICAL,
    FindingKind.SILENT_CHANNEL: AlarmKind.SILENT,
}
"""Faults whose alarms have another name than the finding."""


@dataclass(frozen=True, slots=True)
class Told:
    """A fault, and when somebody was first told of it by its own name; ``None``: never."""

    fault: Fault
    letter: Letter | None

    @property
    def hours(self) -> float:
        return float("nan") if self.letter is None else (self.letter.time_us - self.fault.start_us) / HOUR_US


def untold(lived: Lived) -> list[tuple[str, str, int]]:
    """Alarms that were raised, not hidden, and stand in no message within a day: kind, subject and time.

    A message about what explains or says the same better counts: a finding that another took the place of, and to plan
    an irrigation where it is time to irrigate.
    """
    letters = [one for one in lived.letters if one.recipient == GROWER]
    raised = [
        (kind, subject, time_us)
        for kind, subject, time_us, happening, after, _ in lived.steps
        if happening == "raised" and after == "unacknowledged" and time_us < lived.season.end_us - LATEST_US
    ]
    missing = [one for one in raised if not any(_tells(letter, *one) for letter in letters)]
    return [one for one in missing if not any(_covers(other, one) for other in raised if other not in missing)]


def _covers(other: tuple[str, str, int], one: tuple[str, str, int]) -> bool:
    (kind, subject, time_us), (lesser, its, its_us) = other, one
    urgent = (lesser, kind) == (AlarmKind.IRRIGATE_PLAN, AlarmKind.IRRIGATE_NOW)
    better = subject.startswith("tensiometer/") and kind != lesser
    return subject == its and (urgent or better) and 0 <= time_us - its_us <= LATEST_US


def _tells(letter: Letter, kind: str, subject: str, time_us: int) -> bool:
    """Whether a message that came in time tells of an alarm: by itself, among others, or in the digest."""
    if not 0 <= letter.time_us - time_us <= LATEST_US:
        return False
    return _names(letter.notice.data, kind, subject) or _is_in_changes(letter, subject, time_us)


def _is_in_changes(letter: Letter, subject: str, time_us: int) -> bool:
    """Whether the digest says that something of this name was raised; a row stands at the time of its last step."""
    if letter.notice.kind is not NoticeKind.DIGEST:
        return False
    name, voice = subject.partition("/")[2], letter.notice.voice
    moments = {voice.moment(us) for us in range(time_us, letter.time_us + 1, MINUTE_US)}
    rows = [row for table in letter.notice.tables for row in table.rows if row[0] in moments]
    return any(name in row[1] and "raised" in row[1] for row in rows)


def _names(data: Mapping[str, JsonValue], kind: str, subject: str) -> bool:
    several = [*_listed(data, "messages"), *_listed(data, "in_need_of_a_hand")]
    return (data.get("alarm"), data.get("subject")) == (kind, subject) or any(
        one.get("alarm") == kind and subject in (one.get("about"), one.get("subject")) for one in several
    )


def _listed(data: Mapping[str, JsonValue], key: str) -> list[dict[str, Any]]:
    found = data.get(key)
    return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []


def faults_told(lived: Lived) -> list[Told]:
    """Each fault of the truth with the first message that names it while it held, or up to a week after."""
    return [Told(fault, _first(lived, fault)) for fault in lived.season.faults]


def _first(lived: Lived, fault: Fault) -> Letter | None:
    kind = ELSEWHERE.get(fault.kind) or ALARM_OF[fault.kind]
    subjects = subjects_of(fault, lived.season.setup)
    end_us = lived.season.end_us if fault.end_us is None else fault.end_us + 7 * DAY_US
    for letter in lived.letters:
        if fault.start_us <= letter.time_us <= end_us and any(
            _names(letter.notice.data, kind, subject) for subject in subjects
        ):
            return letter
    return None


def thirsty(lived: Lived) -> list[tuple[str, int, bool]]:
    """Mornings on which the true soil of a zone had reached the limit for hours: zone, time, and whether it was told.

    Told: the alarm to irrigate stood, or the digest of that day said that nothing is known of the zone.
    """
    season = lived.season
    zones: dict[str, list[str]] = {}
    for one in season.setup.tensiometers:
        if one.place.depth_m < 0.45:
            zones.setdefault(one.place.zone, []).append(one.place.tensiometer)
    found = []
    for zone, names in zones.items():
        true_kpa = np.median([season.soil_kpa[name] for name in names], axis=0)
        for day_us in range(season.start_us + DAY_US, season.end_us - DAY_US, DAY_US):
            within = (season.soil_time_us >= day_us + 4 * HOUR_US) & (season.soil_time_us <= day_us + 7 * HOUR_US)
            if true_kpa[within].min() >= NOW_KPA + CLEAR_KPA:
                found.append((zone, day_us, _is_wanted(lived, zone, day_us + 9 * HOUR_US)))
    return found


def _is_wanted(lived: Lived, zone: str, time_us: int) -> bool:
    state = ""
    for kind, subject, at_us, happening, _, _ in lived.steps:
        if kind == AlarmKind.IRRIGATE_NOW and subject == f"zone/{zone}" and at_us <= time_us:
            state = happening if happening in ("raised", "cleared") else state
    if state == "raised":
        return True
    digests = [o for o in lived.letters if o.notice.kind is NoticeKind.DIGEST and 0 <= time_us - o.time_us < DAY_US]
    states = [str(one.get("state")) for letter in digests for one in _listed(letter.notice.data, "zones")]
    return any("unknown" in state for state in states)


def report(lived: Lived) -> str:
    """The year in words."""
    return "\n".join(_lines(lived))


def _lines(lived: Lived) -> Iterator[str]:
    season = lived.season
    yield f"{season.setup.site.name}: {len(season.setup.tensiometers)} tensiometers, {len(season.faults)} faults"
    for recipient in sorted({one.recipient for one in lived.letters}):
        calm = lived.per_day(recipient, emergencies=False)
        urgent = lived.per_day(recipient, emergencies=True) - calm
        worst = max(calm.values(), default=0)
        days = sum(count == worst for count in calm.values())
        yield (
            f"{recipient}: {sum(calm.values())} messages, at most {worst} on a day (on {days} days); and"
            f" {sum(urgent.values())} of high priority, at most {max(urgent.values(), default=0)} on a day"
        )
    yield from _of_kinds(lived)
    missing = untold(lived)
    yield f"alarms raised and told nowhere within {LATEST_US // HOUR_US} h: {len(missing)}"
    yield from (f"  {kind} of {subject}, {to_datetime(us):%d %b %H:%M}" for kind, subject, us in missing)
    dry = thirsty(lived)
    passed = [one for one in dry if not one[2]]
    yield f"mornings on which a zone's true soil lay above the limit: {len(dry)}, not told: {len(passed)}"
    yield from (f"  {zone}, {to_datetime(us):%d %b}" for zone, us, _ in passed)
    yield "faults, and when the grower was first told of each by its name:"
    for told in faults_told(lived):
        when = "NOT TOLD" if told.letter is None else f"after {told.hours:7.1f} h ({told.letter.notice.kind})"
        yield f"  {told.fault.kind.value:22} {told.fault.subject:28} {when}"


def _of_kinds(lived: Lived) -> Iterator[str]:
    kinds: dict[str, int] = {}
    for letter in lived.letters:
        kinds[letter.notice.kind] = kinds.get(letter.notice.kind, 0) + 1
    yield "by kind: " + ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
    raised = [
        AlarmKind(k)
        for k, _, _, happening, after, _ in lived.steps
        if (happening, after) == ("raised", "unacknowledged")
    ]
    for priority in Priority:
        count = sum(PRIORITIES[kind] is priority for kind in raised)
        yield f"alarms of {priority.word} priority: {count}"


if __name__ == "__main__":
    print(report(live(simulate(year_plan()))))
