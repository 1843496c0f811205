"""From what happened to messages in the outbox."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import replace
from zoneinfo import ZoneInfo

from parchd.alarms.events import AlarmEvent
from parchd.alarms.health import can_tell
from parchd.alarms.lifecycle import Happening
from parchd.alarms.rules import AlarmKind
from parchd.alarms.standing import Transition
from parchd.alarms.wording import alarm_notice
from parchd.app.messages import Delivery, Outcome
from parchd.app.setup import EngineSetup, Route
from parchd.clock import US_PER_S
from parchd.contract import Notice
from parchd.diagnosis.findings import End
from parchd.store.dispatch import backoff_s, overflow_notice, plan
from parchd.store.outbox import Outbox

GIVE_UP_US = 7 * 86_400 * US_PER_S


def for_recipient(notice: Notice, notifier: str, recipient: str) -> Notice:
    """Give a notice the id of its copy for one recipient."""
    mark = hashlib.sha256(f"{notice.site}\n{notifier}\n{recipient}".encode()).hexdigest()[:10]
    return replace(notice, id=f"{notice.id}.{mark}")


def post(outbox: Outbox, routes: Iterable[Route], notice: Notice, now_us: int) -> None:
    """Queue a notice for every recipient of these routes."""
    for route in routes:
        for recipient in route.recipients:
            outbox.add(route.notifier, recipient, for_recipient(notice, route.notifier, recipient), now_us)


def post_steps(outbox: Outbox, setup: EngineSetup, steps: Sequence[Transition], now_us: int) -> None:
    """Queue the messages about steps in the life of alarms; nobody is told of one that is hidden.

    Of two levels that change together only the more urgent is told.
    """
    for step, event in _told(steps):
        notice = alarm_notice(event, setup.names, priority=setup.alarms.priority(*event.key))
        if step.happening not in (Happening.RAISED, Happening.CLEARED):
            notice = replace(notice, id=f"{event.episode}.{step.happening}.{step.time_us}")
        fit = [route for route in setup.routes if can_tell(route.notifier, event.key)]
        routes = [route for route in fit if notice.priority >= route.lowest_priority]
        post(outbox, routes, notice, now_us)


def dispatch(outbox: Outbox, route: Route, zone: ZoneInfo, now_us: int) -> None:
    """Let go what may leave now; merge what would be too much."""
    waiting = outbox.waiting(route.notifier)
    if not waiting:
        return
    decided = plan(waiting, outbox.released_us(route.notifier, now_us), route.rules, now_us)
    outbox.release(decided.release, now_us)
    for merge in decided.merge:
        notices = outbox.notices(merge.row_ids)
        notice_id = f"overflow.{now_us}.{merge.row_ids[0]}"
        merged = overflow_notice(notices, notice_id=notice_id, now_us=now_us, zone=zone)
        outbox.merged(merge.row_ids, now_us)
        outbox.add(route.notifier, merge.recipient, merged, now_us)
    if decided.merge:
        again = plan(outbox.waiting(route.notifier), outbox.released_us(route.notifier, now_us), route.rules, now_us)
        outbox.release(again.release, now_us)


def record(outbox: Outbox, delivery: Delivery, route: Route | None, created_us: int, now_us: int) -> None:
    """Write down what became of an attempt. After seven days of trying a message is given up."""
    if delivery.outcome is Outcome.SENT:
        outbox.sent(delivery.row_id, now_us)
    elif delivery.outcome is Outcome.REFUSED:
        outbox.refused(delivery.row_id, now_us, delivery.trouble)
    elif delivery.outcome is Outcome.GONE and route is not None:
        outbox.refused(delivery.row_id, now_us, delivery.trouble)
        outbox.disable(route.notifier, route.fingerprint, now_us, delivery.trouble)
    elif now_us - created_us > GIVE_UP_US:
        outbox.refused(delivery.row_id, now_us, f"given up after seven days: {delivery.trouble}")
    else:
        outbox.retry(delivery.row_id, now_us + _pause_us(delivery), delivery.trouble)


def _pause_us(delivery: Delivery) -> int:
    """Full jitter without a random source: the same attempt always waits the same time."""
    digest = hashlib.sha256(f"{delivery.row_id}.{delivery.attempts}".encode()).digest()
    jittered_s = backoff_s(delivery.attempts + 1, int.from_bytes(digest[:4]) / 2**32)
    return round(max(jittered_s, delivery.retry_after_s or 0.0) * US_PER_S)


def _told(steps: Sequence[Transition]) -> list[tuple[Transition, AlarmEvent]]:
    """Leave out the lesser level of an episode that began together with the more urgent one.

    And the end of a finding that gave way to one which explains the same better: that one is told.
    """
    heard = [(s, s.event) for s in steps if s.event is not None and not s.after.is_hidden]
    urgent = {(e.key.subject, e.raised_us) for _, e in heard if e.key.kind is AlarmKind.IRRIGATE_NOW}
    return [
        (s, e)
        for s, e in heard
        if (e.key.kind is not AlarmKind.IRRIGATE_PLAN or (e.key.subject, e.raised_us) not in urgent)
        and e.evidence.get("end") != End.REFINED.value
    ]
