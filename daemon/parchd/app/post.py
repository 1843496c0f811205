"""From what happened to messages in the outbox."""

import hashlib
from collections.abc import Iterable
from dataclasses import replace

from parchd.app.messages import Delivery, Outcome
from parchd.app.setup import Route
from parchd.clock import US_PER_S
from parchd.contract import Notice
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


def dispatch(outbox: Outbox, route: Route, now_us: int) -> None:
    """Let go what may leave now; merge what would be too much."""
    waiting = outbox.waiting(route.notifier)
    if not waiting:
        return
    decided = plan(waiting, outbox.released_us(route.notifier, now_us), route.rules, now_us)
    outbox.release(decided.release, now_us)
    for merge in decided.merge:
        notices = outbox.notices(merge.row_ids)
        notice_id = f"overflow.{now_us}.{merge.row_ids[0]}"
        merged = overflow_notice(notices, notice_id=notice_id, now_us=now_us)
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
