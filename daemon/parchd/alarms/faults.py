"""Is a tensiometer faulty? Judged on live readings and on silence."""

from parchd.alarms.condition import NORMAL, Change, Condition, Phase, advance
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.rules import AlarmKind, Delays, FaultRule
from parchd.clock import US_PER_S
from parchd.contract import Cause, JsonValue, Reading

KIND_OF_CAUSE = {
    Cause.OPEN_CIRCUIT: AlarmKind.ELECTRICAL,
    Cause.SHORT_CIRCUIT: AlarmKind.ELECTRICAL,
    Cause.SATURATED: AlarmKind.ELECTRICAL,
    Cause.UNDER_RANGE: AlarmKind.ELECTRICAL,
    Cause.OVER_RANGE: AlarmKind.ELECTRICAL,
    Cause.NO_SUPPLY: AlarmKind.ELECTRICAL,
    Cause.UNIT: AlarmKind.ELECTRICAL,
    Cause.STATUS: AlarmKind.ELECTRICAL,
    Cause.NO_BAROMETER: AlarmKind.ELECTRICAL,
    Cause.BELOW_PHYSICAL: AlarmKind.IMPOSSIBLE,
    Cause.ABOVE_PHYSICAL: AlarmKind.IMPOSSIBLE,
    Cause.ABOVE_LIMIT: AlarmKind.ABOVE_LIMIT,
}
FAULT_KINDS = tuple(dict.fromkeys(KIND_OF_CAUSE.values()))

Conditions = dict[AlarmKey, Condition]


def judge_reading(rule: FaultRule, conditions: Conditions, reading: Reading) -> list[AlarmEvent]:
    """Take one live reading of a tensiometer; ``conditions`` is changed in place.

    A reading without a value, or one taken during a service, says nothing: it neither raises nor clears. An electrical
    fault clears on any electrically good signal; faults of the value clear only on a good reading, for neither a broken
    wire nor a tensiometer that lost its water says anything of the soil.
    """
    present = KIND_OF_CAUSE.get(reading.cause)
    if reading.cause in (Cause.NO_VALUE, Cause.CLOCK, Cause.SERVICE):
        return []
    events: list[AlarmEvent] = []
    for kind in FAULT_KINDS:
        key = AlarmKey(kind, f"tensiometer/{rule.tensiometer}")
        if kind is present or key in conditions:
            off = present is not kind if kind is AlarmKind.ELECTRICAL else reading.flag.decides
            delays = rule.by_kind.get(kind, rule.delays)
            event = move(conditions, key, delays, kind is present, off, reading.sample.time_us)
            events += [_with_evidence(event, reading)] if event else []
    return events


def judge_silence(
    rule: FaultRule, conditions: Conditions, heard_us: int | None, listening_since_us: int, now_us: int
) -> list[AlarmEvent]:
    """Ask at ``now_us`` whether a channel is silent; ``conditions`` is changed in place.

    Nobody is silent for longer than the daemon has listened, and nobody speaks again who was not heard again: a
    restart neither raises nor clears.
    """
    key = AlarmKey(AlarmKind.SILENT, f"tensiometer/{rule.tensiometer}")
    earliest_us = now_us - rule.silent_intervals * rule.interval_s * US_PER_S
    silent = max(heard_us or 0, listening_since_us) < earliest_us
    if not silent and key not in conditions:
        return []
    heard = heard_us is not None and heard_us >= earliest_us
    event = move(conditions, key, Delays(), silent, heard, now_us)
    if event is None:
        return []
    evidence: dict[str, JsonValue] = {"channel": rule.channel, "last_heard_us": heard_us, "interval_s": rule.interval_s}
    return [AlarmEvent(event.key, event.change, event.time_us, event.raised_us, evidence=evidence)]


def move(conditions: Conditions, key: AlarmKey, delays: Delays, on: bool, off: bool, time_us: int) -> AlarmEvent | None:
    """Move the condition of one alarm on, in place; what changed for people, if anything."""
    before = conditions.get(key, NORMAL)
    after, change = advance(before, delays, on=on, off=off, time_us=time_us)
    if after.phase is Phase.NORMAL:
        conditions.pop(key, None)
    else:
        conditions[key] = after
    if change is None:
        return None
    raised_us = time_us if change is Change.RAISED else before.raised_us
    assert raised_us is not None
    return AlarmEvent(key, change, time_us, raised_us)


def _with_evidence(event: AlarmEvent, reading: Reading) -> AlarmEvent:
    evidence: dict[str, JsonValue] = {
        "channel": reading.channel,
        "cause": reading.cause.word,
        "value": reading.sample.value,
        "unit": reading.sample.unit.value,
    }
    return AlarmEvent(event.key, event.change, event.time_us, event.raised_us, reading.tension_kpa, evidence=evidence)
