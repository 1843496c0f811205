"""The small pictures that go with messages: courses of the last days, from the hours that the diagnosis keeps."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from parchd.alarms.events import AlarmEvent
from parchd.alarms.finding_wording import since_us
from parchd.alarms.findings import FINDING_OF
from parchd.alarms.names import Names, listed
from parchd.alarms.polls import zone_kpa
from parchd.alarms.rules import AlarmKind, AlarmSetup, IrrigationRule
from parchd.contract import Chart, Limit, Line, Mark
from parchd.diagnosis.hours import HOUR_US, hour_of
from parchd.words import UNITS, Voice

Hourly = Callable[[str, int, int], Sequence[float | None]]
"""Gives the last tension (kPa) in each hour ``begin <= hour < end`` of a tensiometer, whatever is thought of it."""

SPANS_H = {7 * 24: 1, 14 * 24: 2, 28 * 24: 3}
"""How far back a chart may go, and how many hours each of its steps then has: 225 steps at most."""
SHARE = 0.75
"""The beginning of what is told lies within this part of the picture, counted from its end."""
MOST_LINES = 5
MOST_BESIDE = 3


@dataclass(frozen=True, slots=True)
class Charts:
    """Makes charts of what is known now.

    Args:
        alarms: rules of the site.
        believed: tensiometers whose word counts now.
        now_us: the time.
    """

    alarms: AlarmSetup
    names: Names
    hourly: Hourly
    believed: frozenset[str]
    now_us: int

    def of(self, event: AlarmEvent, voice: Voice) -> tuple[Chart, ...]:
        """The chart of what an alarm is about; none for one about the daemon, or where nothing is known."""
        span_h = _span_h(self.now_us - min(since_us(event), event.raised_us))
        rule = next((one for one in self.alarms.irrigation if one.subject == event.key.subject), None)
        thing = event.key.subject.partition("/")[0]
        if rule is not None and event.key.kind not in FINDING_OF:
            chart = self.zone(rule, voice, span_h)
        elif thing == "tensiometer":
            chart = self._tensiometer(event.key.name, voice, span_h)
        elif thing == "source":
            chart = self._source(event, voice, span_h)
        else:
            return ()
        return () if chart is None else (replace(chart, marks=tuple(_marks(event, chart, voice))),)

    def zone(self, rule: IrrigationRule, voice: Voice, span_h: int = 7 * 24, *, beside: bool = True) -> Chart | None:
        """What a zone is judged by, its tensiometers beside it, and its limits; ``None``: nothing is known."""
        kind, _, key = rule.subject.partition("/")
        alone = not beside or len(rule.tensiometers) == 1
        lines = [self._line("" if alone else voice.say("together"), self.together(rule, span_h), voice)]
        if not alone:
            courses = {name: self._course(name, span_h) for name in rule.tensiometers}
            lines += self._beside(courses, MOST_LINES, voice)
        title = self.names.zone_title(key) if kind == "zone" else key
        return self._chart(title, lines, voice, span_h, _limits(rule, voice))

    def together(self, rule: IrrigationRule, span_h: int = 7 * 24) -> list[float | None]:
        """What the tensiometers of a rule that are believed now say together at each step, kPa."""
        courses = {name: self._course(name, span_h) for name in rule.tensiometers if name in self.believed}
        whole: list[float | None] = []
        for number in range(span_h // SPANS_H[span_h]):
            votes = {name: kpa for name, course in courses.items() if (kpa := course[number]) is not None}
            whole.append(zone_kpa(rule.way, votes, rule.stations) if votes else None)
        return whole

    def _tensiometer(self, name: str, voice: Voice, span_h: int) -> Chart | None:
        own = self._line(name, self._course(name, span_h), voice)
        near = {other: self._course(other, span_h) for other in self._neighbours(name)}
        beside = self._beside(near, MOST_BESIDE, voice)
        lines = [own, *beside] if beside else [replace(own, label="")]
        return self._chart(name, lines, voice, span_h)

    def _source(self, event: AlarmEvent, voice: Voice, span_h: int) -> Chart | None:
        courses = {name: self._course(name, span_h) for name in listed(event, "others")[:MOST_LINES]}
        return self._chart(event.key.name, self._beside(courses, MOST_LINES, voice), voice, span_h)

    def _neighbours(self, name: str) -> list[str]:
        """Others of its zone: those of its station first, then by depth."""
        own = self.names.places.get(name)
        if own is None:
            return []
        near = [one for other, one in self.names.places.items() if other != name and one.zone == own.zone]
        near.sort(key=lambda one: (one.station != own.station, abs(one.depth_m - own.depth_m), one.tensiometer))
        return [one.tensiometer for one in near]

    def _course(self, name: str, span_h: int) -> list[float | None]:
        """The last known tension of each step."""
        end = hour_of(self.now_us) + 1
        step = SPANS_H[span_h]
        hours = self.hourly(name, end - span_h, end)
        parts = (hours[n : n + step] for n in range(0, span_h, step))
        return [next((kpa for kpa in reversed(part) if kpa is not None), None) for part in parts]

    def _beside(self, courses: dict[str, list[float | None]], most: int, voice: Voice) -> list[Line]:
        """Lines for comparison, of those that have any value; a question mark: it is doubted now."""
        known = {name: course for name, course in courses.items() if any(kpa is not None for kpa in course)}
        return [
            replace(self._line(name if name in self.believed else f"{name} (?)", course, voice), is_main=False)
            for name, course in list(known.items())[:most]
        ]

    def _line(self, label: str, course: Iterable[float | None], voice: Voice) -> Line:
        decimals = max(0, 1 + UNITS[voice.units])
        return Line(label, tuple(kpa if kpa is None else round(voice.in_units(kpa), decimals) for kpa in course))

    def _chart(
        self, name: str, lines: list[Line], voice: Voice, span_h: int, limits: tuple[Limit, ...] = ()
    ) -> Chart | None:
        known = [value for line in lines if line.is_main for value in line.values if value is not None]
        if not any(value is not None for line in lines for value in line.values):
            return None
        said = {"name": name, "days": str(span_h // 24)}
        alt = voice.say("{name}: soil water tension over the last {days} days.", **said)
        if known:
            low, high, last = (f"{voice.number(value)} {voice.units}" for value in (min(known), max(known), known[-1]))
            course = voice.say("Between {low} and {high}, at last {last}.", low=low, high=high, last=last)
            alt = f"{alt} {course}"
        for limit in limits:
            alt += " " + voice.say(
                'Limit "{label}": {value}.', label=limit.label, value=f"{voice.number(limit.value)} {voice.units}"
            )
        step_h = SPANS_H[span_h]
        start_us = (hour_of(self.now_us) + 1 - span_h + step_h - 1) * HOUR_US
        title = voice.say("{name}: soil water tension, {days} days", **said)
        return Chart(title, voice.units, start_us, step_h * HOUR_US, tuple(lines), limits, alt=alt)


def _span_h(age_us: int) -> int:
    """The shortest span in whose picture the beginning can be seen, with something of what was before."""
    return next((span_h for span_h in SPANS_H if age_us <= SHARE * span_h * HOUR_US), max(SPANS_H))


def _limits(rule: IrrigationRule, voice: Voice) -> tuple[Limit, ...]:
    words = {
        AlarmKind.IRRIGATE_NOW: voice.say("irrigate now"),
        AlarmKind.IRRIGATE_PLAN: voice.say("plan an irrigation"),
    }
    return tuple(Limit(words[kind], round(voice.in_units(kpa), 3)) for kind, kpa in rule.limits)


def _marks(event: AlarmEvent, chart: Chart, voice: Voice) -> Iterable[Mark]:
    """Where it began; an alarm that has just been raised needs no mark at the end of the picture."""
    begun_us = since_us(event)
    label = voice.say("evidence begins") if event.key.kind in FINDING_OF else voice.say("raised")
    if chart.start_us <= begun_us < chart.end_us - chart.step_us:
        yield Mark(label, begun_us)
