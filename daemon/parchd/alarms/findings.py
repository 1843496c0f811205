"""Alarms about what the diagnosis found: raised with a finding, cleared with its end."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from parchd.alarms.condition import Change, Condition, Phase
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.faults import Conditions
from parchd.alarms.rules import AlarmKind
from parchd.contract import JsonValue
from parchd.diagnosis.findings import End, Finding, FindingKey
from parchd.diagnosis.kinds import FindingKind

TOLD_ELSEWHERE = frozenset(
    {FindingKind.OPEN_CIRCUIT, FindingKind.SHORT_CIRCUIT, FindingKind.SATURATED, FindingKind.SILENT_CHANNEL}
)
"""Findings that other alarms tell already: electrical faults and silence."""
ALARM_OF = {kind: AlarmKind(kind.value) for kind in FindingKind if kind not in TOLD_ELSEWHERE}
FINDING_OF = {alarm: kind for kind, alarm in ALARM_OF.items()}


Aside = Callable[[Finding], Mapping[str, JsonValue]]
"""Gives what else is to be told of a finding, JSON types: who is believed meanwhile."""


@dataclass(frozen=True, slots=True)
class Told:
    """A finding and what its message needs beside it.

    Args:
        thread: of its messages; empty: its own.
        by, because: who dismissed it, and why.
    """

    finding: Finding
    thread: str = ""
    by: str = ""
    because: str = ""


def judge_findings(
    conditions: Conditions,
    open_now: Mapping[FindingKey, Told],
    ended: Callable[[FindingKey], Told | None],
    aside: Aside,
    time_us: int,
) -> list[AlarmEvent]:
    """Bring alarms in line with the findings that hold; ``conditions`` is changed in place.

    Args:
        ended: the last finding of a key that ended; ``None``: there is none. Another may have begun since.
        aside: what else is to be told of one that begins, once all alarms are as they will be.
        time_us: when it became known.
    """
    events = []
    for key in sorted(key for key in conditions if key.kind in FINDING_OF):
        finding_key = FindingKey(FINDING_OF[key.kind], key.subject)
        if not _holds(conditions[key], open_now.get(finding_key)):
            events.append(_cleared(conditions.pop(key), key, ended(finding_key), time_us))
    new = {alarm_key(key): told for key, told in open_now.items() if key.kind in ALARM_OF}
    new = {key: told for key, told in new.items() if key not in conditions}
    for key, told in new.items():
        begun_us = told.finding.found_us
        conditions[key] = Condition(Phase.ACTIVE, begun_us, 0, begun_us)
    return events + [_raised(key, told, aside(told.finding)) for key, told in new.items()]


def _holds(condition: Condition, told: Told | None) -> bool:
    """Whether the finding that raised an alarm still holds, not another one of the same kind."""
    return told is not None and told.finding.found_us == condition.raised_us


def alarm_key(key: FindingKey) -> AlarmKey:
    """The alarm of a finding that has one."""
    return AlarmKey(ALARM_OF[key.kind], key.subject)


def episode_of(key: FindingKey, found_us: int) -> str:
    """Name the episode of a finding's alarm, as its event does."""
    return AlarmEvent(alarm_key(key), Change.RAISED, found_us, found_us).episode


def _raised(key: AlarmKey, told: Told, aside: Mapping[str, JsonValue]) -> AlarmEvent:
    time_us = told.finding.found_us
    return AlarmEvent(key, Change.RAISED, time_us, time_us, evidence={**evidence_of(told), **aside})


def _cleared(condition: Condition, key: AlarmKey, told: Told | None, time_us: int) -> AlarmEvent:
    raised_us = time_us if condition.raised_us is None else condition.raised_us
    evidence = {} if told is None else evidence_of(told)
    return AlarmEvent(key, Change.CLEARED, time_us, raised_us, evidence=evidence)


def evidence_of(told: Told) -> dict[str, JsonValue]:
    """Everything that a message about a finding says, as JSON types; a number that is none is ``None``."""
    finding = told.finding
    evidence: dict[str, JsonValue] = {
        "finding": finding.key.kind.value,
        "since_us": finding.start_us,
        "confidence": finding.confidence,
        "facts": [[fact.what, _number(fact.value), fact.unit] for fact in finding.facts],
        "others": list(finding.others),
    }
    if told.thread:
        evidence["thread"] = told.thread
    if finding.end is not None:
        evidence |= {"end": finding.end.value, "believed_from_us": finding.ended_us}
    if finding.end is End.DISMISSED:
        evidence |= {"by": told.by, "because": told.because}
    return evidence


def _number(value: float | int | str) -> JsonValue:
    return None if isinstance(value, float) and not math.isfinite(value) else value
