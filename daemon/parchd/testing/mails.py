"""Messages as the daemon writes them, one of each kind, with made-up courses: to look at, and to measure."""

import math
from collections.abc import Sequence
from dataclasses import replace

from parchd.alarms.book import AlarmBook, AlarmState
from parchd.alarms.condition import Change, Condition, Phase
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.rules import AlarmKind, AlarmSetup, Delays, IrrigationRule
from parchd.alarms.several_wording import Tiding, several_notice
from parchd.alarms.wording import Story, alarm_notice
from parchd.app.charts import Charts
from parchd.app.digest import Digest
from parchd.contract import AnswerLink, Cause, Flag, JsonValue, Notice, NoticeKind, Unit
from parchd.store.overflow import overflow_notice
from parchd.store.reader import Latest
from parchd.testing.site import HOUR_US, START_US, names_of, reading, small_site
from parchd.words import Voice

NORTH = ("north-20", "north-40", "north-60")
_NAMES = names_of(small_site()[0])
_RULE = IrrigationRule("zone/north", NORTH, 40.0, 60.0, 5.0, Delays(), None)
_LINK = "https://parchd.quillmere.example/answer/"
_PACE = {"north-20": 0.6, "north-40": 0.5, "north-60": 0.36}
_WATERED_H, _LOST_H = 108, 10


def sample_mails(language: str = "en") -> dict[str, Notice]:
    """Messages by a name for each, in a language."""
    voice = Voice(language, time_zone="Europe/Berlin")
    dry = _irrigation(Change.RAISED, START_US)
    wet = _irrigation(Change.CLEARED, START_US + 30 * HOUR_US)
    escalated = Story(NoticeKind.ESCALATED, now_us=START_US + 3 * HOUR_US, unanswered=("Anne", "Ben"))
    disk = AlarmEvent(
        AlarmKey(AlarmKind.DISK_FILLING, "daemon/disk"), Change.RAISED, START_US, START_US, evidence={"free_mb": 312.0}
    )
    return {
        "raised": _told(dry, voice),
        "cleared": replace(_told(wet, voice), answers=()),
        "escalated": _told(dry, voice, escalated),
        "finding": _told(_lost(), voice),
        "disk": _told(disk, voice),
        "group": _several(NoticeKind.GROUP, [_told(dry, voice), _told(_lost(), voice), _told(disk, voice)], voice),
        "flood": _several(NoticeKind.FLOOD, [_told(dry, voice), *[_told(_lost(), voice)] * 13], voice),
        "overflow": overflow_notice([_told(dry, voice), _told(wet, voice)], notice_id="o1", now_us=START_US),
        "digest": _digest(voice),
    }


def _several(kind: NoticeKind, notices: Sequence[Notice], voice: Voice) -> Notice:
    return several_notice(
        kind, [Tiding(notice, asks=True, since_us=START_US) for notice in notices], voice, notice_id="g1",
        time_us=START_US, site=_NAMES.site, priority=max(notice.priority for notice in notices), alarms=len(notices),
    )  # fmt: skip


def _digest(voice: Voice) -> Notice:
    """A morning on which one zone needs water and one tensiometer a hand."""
    pipeline, alarms = small_site()
    state = AlarmState()
    channels = {one.place.tensiometer: one.channel for one in pipeline.tensiometers}
    tensions = {"north-20": 68.0, "north-40": 62.0, "north-60": 47.0, "creek-30": 18.0}
    AlarmBook(alarms).judge(
        state,
        [reading(channels[name], START_US - n * HOUR_US, kpa) for name, kpa in tensions.items() for n in (2, 1, 0)],
    )
    since_us = START_US - 9 * HOUR_US
    state.faults[AlarmKey(AlarmKind.SILENT, "tensiometer/north-60")] = Condition(Phase.ACTIVE, since_us, 0, since_us)
    newest = {
        channels[name]: Latest(channels[name], START_US, kpa, Unit.KPA, -kpa, kpa, Flag.PASS, Cause.NONE, START_US)
        for name, kpa in tensions.items()
    }
    charts = Charts(alarms, _NAMES, _course, frozenset(tensions), START_US)
    dry = f"{_told(_irrigation(Change.RAISED, START_US), voice).subject}: {voice.say('raised')}"
    silent = alarm_notice(
        AlarmEvent(AlarmKey(AlarmKind.SILENT, "tensiometer/north-60"), Change.RAISED, since_us, since_us), _NAMES, voice
    ).subject
    steps = f"{voice.say('raised')}, {voice.say('acknowledged by {by}', by='Anne')}"
    service = voice.say("{name}: {work} by {by}", name="creek-30", work=voice.say("refilled"), by="Ines")
    changes = [
        (voice.moment(START_US), dry),
        (voice.moment(since_us), f"{silent}: {steps}"),
        (voice.moment(START_US - 20 * HOUR_US), service),
    ]
    digest = Digest(alarms, _NAMES, state, newest, START_US, (), charts, voice)
    return digest.notice("2026-06-01", changes, START_US - 24 * HOUR_US)


def _told(event: AlarmEvent, voice: Voice, story: Story | None = None) -> Notice:
    believed = frozenset(NORTH) if event.key.kind is not AlarmKind.LOST_WATER else frozenset(NORTH[1:])
    hourly = _course if len(believed) == len(NORTH) else _course_of_lost
    charts = Charts(AlarmSetup(irrigation=(_RULE,)), _NAMES, hourly, believed, event.time_us)
    answers = (
        AnswerLink(voice.say("Acknowledge"), f"{_LINK}Kx7c2vQ0", "acknowledge"),
        AnswerLink(voice.say("Keep quiet"), f"{_LINK}b9TzR4mE", "shelve"),
    )
    return alarm_notice(
        event, _NAMES, voice, story=story or Story(), charts=charts.of(event, voice), answers=answers
    )  # fmt: skip


def _irrigation(change: Change, time_us: int) -> AlarmEvent:
    tension_kpa = 62.4 if change is Change.RAISED else 8.6
    evidence: dict[str, JsonValue] = {"tensiometers": 3, "of": 3, "vote": "median"}
    return AlarmEvent(
        AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/north"), change, time_us, START_US, tension_kpa, 60.0, evidence
    )


def _lost() -> AlarmEvent:
    evidence: dict[str, JsonValue] = {
        "since_us": START_US - _LOST_H * HOUR_US, "confidence": 0.97, "believed": [*NORTH[1:]], "of": 3,
        "zones": ["north"],
        "facts": [["fell from", 58.2, "kPa"], ["to", -3.9, "kPa"], ["neighbours that stayed dry", 2, ""]],
    }  # fmt: skip
    key = AlarmKey(AlarmKind.LOST_WATER, "tensiometer/north-20")
    return AlarmEvent(key, Change.RAISED, START_US, START_US, evidence=evidence)


def _course(name: str, begin: int, end: int) -> Sequence[float | None]:
    """It dries with a daily swing; four and a half days ago, and at the end of the cleared one, water came."""
    raised, pace = START_US // HOUR_US, _PACE.get(name, 0.5)
    return [_kpa(pace, hour, raised) for hour in range(begin, end)]


def _course_of_lost(name: str, begin: int, end: int) -> Sequence[float | None]:
    lost = START_US // HOUR_US - _LOST_H
    known = _course(name, begin, end)
    return [-3.9 if name == NORTH[0] and begin + n >= lost else kpa for n, kpa in enumerate(known)]


def _kpa(pace: float, hour: int, raised: int) -> float:
    since = hour - (raised - _WATERED_H)
    age = since if 0 <= since <= _WATERED_H + 20 else since + 60 if since < 0 else since - _WATERED_H - 20
    return round(8.0 + pace * max(0, age) + 1.5 * math.sin(hour / 24.0 * 2.0 * math.pi), 1)
