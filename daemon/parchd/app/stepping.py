"""Every step in the life of alarms for programs, one message each: nothing is held, grouped or left out."""

from collections.abc import Sequence
from dataclasses import replace

from parchd.alarms.exporting import step_data, utc_text
from parchd.alarms.lifecycle import Happening
from parchd.alarms.names import Names
from parchd.alarms.refusals import named
from parchd.alarms.standing import Transition
from parchd.alarms.standing_words import step_words
from parchd.alarms.wording import alarm_notice
from parchd.app.post import post
from parchd.app.setup import EngineSetup
from parchd.contract import JsonValue, Notice, NoticeKind, Priority
from parchd.store.outbox import Outbox

_KINDS = {
    Happening.RAISED: NoticeKind.RAISED,
    Happening.CLEARED: NoticeKind.CLEARED,
    Happening.REPEATED: NoticeKind.REPEATED,
}


def post_each(outbox: Outbox, setup: EngineSetup, steps: Sequence[Transition], now_us: int) -> bool:
    """Queue a message about every step for the notifiers that want them; true when there is one."""
    routes = [route for route in setup.routes if route.transitions]
    for step in steps if routes else ():
        post(outbox, routes, step_notice(step, setup.names, setup.alarms.priority(*step.key)), now_us)
    return bool(routes and steps)


def step_notice(step: Transition, names: Names, priority: Priority) -> Notice:
    """Write the message about one step; where a judge is behind it, with all that is said of an alarm."""
    kind = _KINDS.get(step.happening, NoticeKind.STEP)
    words = f"{named(step.key)}: {step_words(step, names.local)}"
    about = step.episode or f"{step.key.kind}.{step.key.subject.replace('/', '.')}"
    data: dict[str, JsonValue] = {"type": f"alarm.{step.happening}", "step": _step(step)}
    if step.event is not None:
        said = alarm_notice(step.event, names, priority=priority)
        data = {**said.data, **data}
    else:
        said = Notice("", kind, step.time_us, names.site, words, words, priority=priority, thread=step.episode or None)
        data |= _about(step, names)
    return replace(said, id=f"{about}.step.{step.happening}.{step.time_us}", kind=kind, data=data)


def _step(step: Transition) -> JsonValue:
    known = step_data(step)
    return {key: known[key] for key in ("at", "before", "happening", "after", "by", "why", "until", "via")}


def _about(step: Transition, names: Names) -> dict[str, JsonValue]:
    """The keys that every message about an alarm has, for a step that no judge took."""
    data: dict[str, JsonValue] = {
        "alarm": step.key.kind.value,
        "subject": step.key.subject,
        "episode": step.episode or None,
        "raised_at": utc_text(step.raised_us),
        "at": utc_text(step.time_us),
        "tension_kpa": None,
        "limit_kpa": None,
        "evidence": {},
    }
    place = names.places.get(step.key.name) if step.key.subject.startswith("tensiometer/") else None
    if place is not None:
        data |= {"zone": place.zone, "station": place.station, "depth_m": place.depth_m}
    return data
