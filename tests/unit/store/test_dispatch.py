"""What leaves the outbox, what waits and what is merged."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.clock import US_PER_S, from_datetime, to_datetime
from parchd.contract import Notice, NoticeKind, Priority, Table
from parchd.store.dispatch import (
    WINDOW_US,
    DispatchRules,
    Merge,
    Plan,
    Waiting,
    backoff_s,
    overflow_notice,
    plan,
)
from parchd.store.overflow import urgency
from parchd.words import Voice

MINUTE_US = 60 * US_PER_S

NOW_US = from_datetime(datetime(2026, 7, 1, 12, tzinfo=UTC))
ANNE = "anne@quillmere.example"
BEN = "ben@quillmere.example"


def row(
    row_id: int,
    kind: NoticeKind = NoticeKind.RAISED,
    priority: Priority = Priority.MEDIUM,
    created_us: int | None = None,
    recipient: str = ANNE,
) -> Waiting:
    return Waiting(row_id, recipient, kind, priority, NOW_US + row_id if created_us is None else created_us)


def utc_us(year: int, month: int, day: int, hour: int, minute: int = 0) -> int:
    return from_datetime(datetime(year, month, day, hour, minute, tzinfo=UTC))


def test_nothing_waiting_needs_no_second_look() -> None:
    assert plan([], {ANNE: [NOW_US]}, DispatchRules(1), NOW_US) == Plan()


def test_all_leave_while_the_hour_has_room() -> None:
    assert plan([row(2), row(1)], {ANNE: [NOW_US - 1]}, DispatchRules(3), NOW_US) == Plan(release=(1, 2))


def test_a_high_alarm_goes_before_older_messages() -> None:
    waiting = [row(1), row(2, NoticeKind.DIGEST), row(3, priority=Priority.HIGH)]
    assert plan(waiting, {}, DispatchRules(3), NOW_US).release == (3, 1, 2)


def test_a_cleared_high_alarm_takes_its_turn_by_age() -> None:
    waiting = [row(1), row(2, NoticeKind.CLEARED, Priority.HIGH)]
    assert plan(waiting, {}, DispatchRules(3), NOW_US).release == (1, 2)


def test_the_last_place_takes_the_newest_in_one_message() -> None:
    waiting = [row(n) for n in range(1, 7)]
    result = plan(waiting, {ANNE: [NOW_US - MINUTE_US]}, DispatchRules(4), NOW_US)
    assert result == Plan(release=(1, 2), merge=(Merge(ANNE, (3, 4, 5, 6)),), next_us=NOW_US)


def test_a_high_alarm_is_spared_from_merging_while_there_is_a_place_of_its_own() -> None:
    waiting = [row(1), row(2), row(3, priority=Priority.HIGH)]
    result = plan(waiting, {}, DispatchRules(2), NOW_US)
    assert (result.release, result.merge) == ((3,), (Merge(ANNE, (1, 2)),))


def test_the_overflow_message_leaves_with_the_next_plan() -> None:
    waiting = [row(9, NoticeKind.OVERFLOW)]
    sent = {ANNE: [NOW_US - MINUTE_US, NOW_US, NOW_US]}
    assert plan(waiting, sent, DispatchRules(4), NOW_US) == Plan(release=(9,))


def test_an_overflow_message_is_never_merged_into_another() -> None:
    waiting = [row(1, NoticeKind.OVERFLOW), *(row(n) for n in range(2, 6))]
    result = plan(waiting, {}, DispatchRules(2), NOW_US)
    assert (result.release, result.merge) == ((1,), (Merge(ANNE, (2, 3, 4, 5)),))
    alone = plan(waiting, {}, DispatchRules(1), NOW_US)
    assert alone == Plan(release=(1,), next_us=NOW_US + WINDOW_US)


def test_a_full_hour_waits_until_its_oldest_message_is_an_hour_old() -> None:
    sent = {ANNE: [NOW_US - 50 * MINUTE_US, NOW_US - 10 * MINUTE_US]}
    result = plan([row(1), row(2)], sent, DispatchRules(2), NOW_US)
    assert result == Plan(next_us=NOW_US + 10 * MINUTE_US)


def test_a_message_sent_exactly_an_hour_ago_has_left_the_hour() -> None:
    assert plan([row(1)], {ANNE: [NOW_US - WINDOW_US]}, DispatchRules(1), NOW_US).release == (1,)
    assert plan([row(1)], {ANNE: [NOW_US - WINDOW_US + 1]}, DispatchRules(1), NOW_US) == Plan(next_us=NOW_US + 1)


def test_a_limit_lowered_below_what_was_sent_waits_for_enough_places() -> None:
    sent = {ANNE: [NOW_US - n * MINUTE_US for n in (50, 40, 30, 20)]}
    assert plan([row(1)], sent, DispatchRules(2), NOW_US) == Plan(next_us=NOW_US + 30 * MINUTE_US)


def test_recipients_do_not_take_each_others_places() -> None:
    waiting = [row(1), row(2, recipient=BEN)]
    result = plan(waiting, {ANNE: [NOW_US]}, DispatchRules(1), NOW_US)
    assert result == Plan(release=(2,), next_us=NOW_US + WINDOW_US)


def test_times_in_the_future_do_not_silence_alarms() -> None:
    sent = {ANNE: [NOW_US + 365 * 24 * WINDOW_US]}
    assert plan([row(1)], sent, DispatchRules(1), NOW_US).release == (1,)


def test_a_rate_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="max_per_hour"):
        DispatchRules(0)


RULES = st.builds(DispatchRules, st.integers(1, 6))
KINDS = st.sampled_from([kind for kind in NoticeKind if kind is not NoticeKind.OVERFLOW])
ARRIVALS = st.lists(
    st.tuples(st.integers(0, 2 * 24 * 60), KINDS, st.sampled_from(Priority), st.sampled_from([ANNE, BEN])), max_size=60
)


@given(ARRIVALS, RULES, st.integers(0, 370 * 24 * 60))
@settings(max_examples=150, deadline=None)
def test_never_more_than_the_rate_and_never_one_lost(
    arrivals: Sequence[tuple[int, NoticeKind, Priority, str]], rules: DispatchRules, start_minute: int
) -> None:
    start_us = NOW_US + start_minute * MINUTE_US
    rows = [
        Waiting(n, recipient, kind, priority, start_us + minute * MINUTE_US)
        for n, (minute, kind, priority, recipient) in enumerate(sorted(arrivals, key=lambda a: a[0]))
    ]
    sent, told = play(rows, rules)
    assert sorted(told) == [row.row_id for row in rows]
    for times in sent.values():
        for first, beyond in zip(times, times[rules.max_per_hour :], strict=False):
            assert beyond - first >= WINDOW_US
    last_us = max((time_us for times in sent.values() for time_us in times), default=start_us)
    newest_us = max((row.created_us for row in rows), default=start_us)
    assert last_us <= newest_us + 3 * WINDOW_US


def play(rows: Sequence[Waiting], rules: DispatchRules) -> tuple[dict[str, list[int]], list[int]]:
    """Do what the daemon does with the plans, from the first arrival until nothing waits."""
    pending = sorted(rows, key=lambda row: row.created_us)
    waiting: list[Waiting] = []
    sent: dict[str, list[int]] = defaultdict(list)
    inside: dict[int, tuple[int, ...]] = {row.row_id: (row.row_id,) for row in rows}
    told: list[int] = []
    now_us = pending[0].created_us if pending else 0
    next_id = len(rows)
    while pending or waiting:
        waiting += [row for row in pending if row.created_us <= now_us]
        pending = [row for row in pending if row.created_us > now_us]
        result = plan(waiting, sent, rules, now_us)
        assert result == plan(waiting[::-1], sent, rules, now_us)  # the order of the rows says nothing
        by_id = {row.row_id: row for row in waiting}
        for row_id in result.release:
            sent[by_id.pop(row_id).recipient].append(now_us)
            told += inside[row_id]
        for merge in result.merge:
            merged = [by_id.pop(row_id) for row_id in merge.row_ids]
            assert len(merged) > 1
            priority = max(row.priority for row in merged)
            by_id[next_id] = Waiting(next_id, merge.recipient, NoticeKind.OVERFLOW, priority, now_us)
            inside[next_id] = tuple(part for row in merged for part in inside[row.row_id])
            next_id += 1
        waiting = list(by_id.values())
        wake = [row.created_us for row in pending] + ([] if result.next_us is None else [result.next_us])
        assert wake or not waiting
        assert result.next_us is None or result.next_us > now_us or result.merge
        now_us = min(wake, default=now_us)
    return dict(sent), told


def test_three_hundred_messages_after_an_outage_of_days() -> None:
    rows = [row(n) for n in range(299)] + [row(299, priority=Priority.HIGH)]
    result = plan(rows, {}, DispatchRules(6), NOW_US)
    assert result.release == (299, 0, 1, 2, 3)
    assert result.merge == (Merge(ANNE, tuple(range(4, 299))),)
    sent, told = play([replace(row, created_us=NOW_US) for row in rows], DispatchRules(6))
    assert len(sent[ANNE]) == 6
    assert len(told) == 300


@given(st.integers(1, 10**6), st.floats(0, 1, exclude_max=True))
def test_the_pause_stays_between_five_seconds_and_an_hour(attempt: int, chance: float) -> None:
    assert 5.0 <= backoff_s(attempt, chance) <= 3600.0


def test_the_pause_doubles_until_it_is_an_hour() -> None:
    almost_one = 1 - 2**-53
    pauses = [round(backoff_s(attempt, almost_one)) for attempt in range(1, 13)]
    assert pauses == [10, 20, 40, 80, 160, 320, 640, 1280, 2560, 3600, 3600, 3600]


def notice(n: int, kind: NoticeKind = NoticeKind.RAISED, priority: Priority = Priority.LOW) -> Notice:
    return Notice(
        id=f"n{n}",
        kind=kind,
        time_us=NOW_US + n * MINUTE_US,
        site="Quillmere Orchard",
        subject=f"subject {n}",
        summary="summary",
        priority=priority,
        thread=f"thread {n}",
        data={"type": "irrigation.raised"},
        voice=Voice(time_zone="Europe/Berlin"),
    )


@pytest.mark.parametrize("kind", [NoticeKind.ESCALATED, NoticeKind.REPEATED, NoticeKind.REMINDER, NoticeKind.FLOOD])
def test_what_asks_for_a_response_again_is_as_urgent_as_at_first(kind: NoticeKind) -> None:
    assert urgency(kind, Priority.HIGH) == urgency(NoticeKind.RAISED, Priority.HIGH)
    assert urgency(kind, Priority.LOW) == urgency(NoticeKind.CLEARED, Priority.HIGH)


def test_an_overflow_message_is_spoken_as_the_newest_of_those_it_stands_for() -> None:
    older, newer = notice(1), replace(notice(2), voice=Voice("de", time_zone="Europe/Berlin"))
    assert overflow_notice([older, newer], notice_id="o1", now_us=NOW_US).voice == newer.voice


def test_the_overflow_message_lists_every_message_with_urgent_ones_on_top_and_the_newest_next() -> None:
    notices = [notice(1), notice(2, NoticeKind.CLEARED, Priority.MEDIUM), notice(0, priority=Priority.HIGH)]
    result = overflow_notice(notices, notice_id="o1", now_us=NOW_US)
    assert result.subject == "3 messages in one, 1 of high priority"
    assert result.tables == (
        Table(
            "Messages (Europe/Berlin time)",
            ("When", "What", "Priority", "Subject"),
            (
                ("Wed 1 Jul, 14:00", "raised", "high", "subject 0"),
                ("Wed 1 Jul, 14:02", "over", "medium", "subject 2"),
                ("Wed 1 Jul, 14:01", "raised", "low", "subject 1"),
            ),
        ),
    )
    assert result.facts == (("Raised", "2"), ("Over", "1"))
    assert (result.kind, result.priority, result.thread) == (NoticeKind.OVERFLOW, Priority.HIGH, None)
    assert Notice.from_json(result.to_json()) == result


def test_programs_get_the_type_and_thread_of_each_merged_message() -> None:
    result = overflow_notice([notice(1), notice(2)], notice_id="o1", now_us=NOW_US)
    assert result.data["type"] == "messages.merged"
    assert result.data["count"] == 2
    assert result.data["messages"] == [
        {
            "type": "irrigation.raised",
            "kind": "raised",
            "priority": "low",
            "time": to_datetime(NOW_US + n * MINUTE_US).isoformat().replace("+00:00", "Z"),
            "thread": f"thread {n}",
            "subject": f"subject {n}",
        }
        for n in (2, 1)
    ]


def test_a_merged_digest_keeps_its_tables() -> None:
    state = Table("State", ("zone", "state"), (("north block", "moist"),))
    digests = [replace(notice(n, NoticeKind.DIGEST), tables=(replace(state, title=f"day {n}"),)) for n in (1, 2)]
    result = overflow_notice([*digests, notice(3)], notice_id="o1", now_us=NOW_US)
    assert [table.title for table in result.tables] == ["Messages (Europe/Berlin time)", "day 2"]


def test_a_flood_of_messages_makes_a_bounded_message_that_counts_the_rest() -> None:
    result = overflow_notice([notice(n) for n in range(1000)], notice_id="o1", now_us=NOW_US)
    assert len(result.tables[0].rows) == 300
    assert ("Not listed", "700, the oldest") in result.facts
    assert result.data["count"] == 1000
    assert len(result.to_json()) < 60_000


def test_an_overflow_message_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="needs notices"):
        overflow_notice([], notice_id="o1", now_us=NOW_US)
