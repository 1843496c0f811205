"""Standings and steps of alarms for programs: JSON types, times in UTC."""

from parchd.alarms.events import AlarmEvent, AlarmKey, episode_name
from parchd.alarms.standing import Standing, Transition
from parchd.clock import to_datetime
from parchd.contract import JsonValue


def utc_text(time_us: int | None) -> str | None:
    """A time for programs, to the microsecond where it has any.

    >>> utc_text(1_500_000), utc_text(None)
    ('1970-01-01T00:00:01.500000Z', None)
    """
    return None if time_us is None else to_datetime(time_us).isoformat().replace("+00:00", "Z")


def standing_data(key: AlarmKey, stands: Standing) -> dict[str, JsonValue]:
    """How an alarm stands."""
    return {
        "alarm": key.kind.value,
        "subject": key.subject,
        "state": stands.state.value,
        "condition": "on" if stands.is_on else "off",
        "since": utc_text(stands.since_us),
        "episode": None if stands.raised_us is None else episode_name(key, stands.raised_us),
        "raised_at": utc_text(stands.raised_us),
        "acknowledged_at": utc_text(stands.acknowledged_us),
        "repeated_at": utc_text(stands.repeated_us),
        "by": stands.by,
        "why": stands.why,
        "via": stands.via,
        "until": utc_text(stands.until_us),
        "suppressed_because": stands.by_design,
    }


def step_data(step: Transition) -> dict[str, JsonValue]:
    """One step, with what the judge said where one did."""
    return {
        "at": utc_text(step.time_us),
        "alarm": step.key.kind.value,
        "subject": step.key.subject,
        "before": step.before.value,
        "happening": step.happening.value,
        "after": step.after.value,
        "episode": step.episode or None,
        "by": step.by,
        "why": step.why,
        "until": utc_text(step.until_us),
        "via": step.via,
        "judged": None if step.event is None else _judged(step.event),
    }


def _judged(event: AlarmEvent) -> dict[str, JsonValue]:
    return {
        "change": event.change.value,
        "at": utc_text(event.time_us),
        "tension_kpa": event.tension_kpa,
        "limit_kpa": event.limit_kpa,
        "evidence": dict(event.evidence),
    }
