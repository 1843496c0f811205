"""What follows in the engine from what the diagnosis says: rows, votes, alarms, messages, and what people answer."""

import json
from collections.abc import Iterable, Iterator

import pytest

from parchd.alarms.rules import AlarmKind
from parchd.app.messages import Ask, Tick
from parchd.app.requests import Answer, AnyRequest, Dismiss, RecordService, Reprocess
from parchd.contract import Cause, Flag
from parchd.diagnosis import detectors, diagnosis
from parchd.diagnosis.detectors import Watch
from parchd.diagnosis.findings import Event, Fact
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import EventKind, FindingKind
from parchd.diagnosis.verdict import Case, Look, Over, Verdict
from parchd.store import findings
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.site import MINUTE_US, START_US, engine_setup_of, line, small_site

BEGIN = START_US // HOUR_US
STEP_US = 15 * MINUTE_US
Script = dict[tuple[str, int], list[Verdict]]


@pytest.fixture
def script(monkeypatch: pytest.MonkeyPatch) -> Script:
    """What a detector of the test says, by tensiometer and hour since the start; there are no others."""
    told: Script = {}

    def says(look: Look) -> Iterable[Verdict]:
        return told.get((look.instrument.name, look.hour - BEGIN), [])

    monkeypatch.setattr(diagnosis, "WATCHES", (Watch(says),))
    monkeypatch.setattr(diagnosis, "SOURCE_WATCHES", ())
    assert detectors.WATCHES
    return told


@pytest.fixture
def bench() -> Iterator[Bench]:
    with engine_on(MEMORY) as running:
        yield running


def at(hours: float) -> int:
    return START_US + round(hours * HOUR_US)


def case(kind: FindingKind, start_h: float, **more: object) -> Case:
    return Case(kind, at(start_h), 0.9, (Fact("fell by", 41.2, "kPa"),), **more)  # type: ignore[arg-type] # others


def feed(bench: Bench, hours: Iterable[float], **values: float) -> None:
    for hour in hours:
        now_us = at(hour)
        bench.turn(now_us, line(now_us, **values))


def quarters(first_h: float, last_h: float) -> list[float]:
    return [first_h + n * 0.25 for n in range(round((last_h - first_h) * 4))]


def ask(bench: Bench, hours: float, request: AnyRequest) -> Answer:
    answers: list[Answer] = []
    bench.turn(at(hours), Ask(request, answers.append))
    return answers[-1]


def causes(bench: Bench, channel: str = "n20") -> list[tuple[float, str]]:
    """The hours at which the cause changes, and the cause from there on."""
    rows = bench.rows(
        "SELECT time_us, cause, flag FROM journal JOIN channel ON id = channel_id WHERE name = ? ORDER BY time_us",
        f"bus1/{channel}",
    )
    told: list[tuple[float, str]] = []
    for time_us, cause, _ in rows:
        if not told or told[-1][1] != Cause(cause).name:
            told.append(((time_us - START_US) / HOUR_US, Cause(cause).name))
    return told


def told_of(bench: Bench, kind: str = "lost-water") -> list[str]:
    return [change for name, _, change in bench.events() if name == kind]


def vote(bench: Bench, tensiometer: str = "north-20") -> list[tuple[float, float, float | None]]:
    rows = bench.rows("SELECT time_us, tension_kpa, held_kpa FROM vote WHERE tensiometer = ?", tensiometer)
    return [((time_us - START_US) / HOUR_US, kpa, held) for time_us, kpa, held in rows]


def lost(script: Script, start_h: float = 2.0, found: int = 5) -> None:
    script["north-20", found] = [case(FindingKind.LOST_WATER, start_h)]


def test_rows_are_condemned_back_to_where_the_evidence_begins_and_from_then_on(bench: Bench, script: Script) -> None:
    lost(script)
    feed(bench, quarters(0, 9), n20=30.0, n40=30.0)
    assert causes(bench) == [(0.0, "NONE"), (2.0, "CONDEMNED")]
    assert causes(bench, "n40") == [(0.0, "NONE")]
    assert set(bench.rows("SELECT flag FROM journal WHERE cause = 23")) == {(Flag.FAIL,)}
    newest = bench.rows("SELECT name, cause FROM latest JOIN channel ON id = channel_id ORDER BY name")
    assert newest == [("bus1/n20", Cause.CONDEMNED), ("bus1/n40", Cause.NONE)]
    assert [json.loads(text) for (text,) in bench.rows("SELECT channels FROM rewritten")] == [[1]]


def test_a_harder_cause_of_a_reading_stays_and_a_late_reading_is_judged_by_its_own_time(
    bench: Bench, script: Script
) -> None:
    lost(script)
    feed(bench, [3.0], n20=120.0)
    feed(bench, quarters(3.25, 9), n20=30.0)
    bench.turn(at(9), line(at(1.9), n20=30.0), line(at(2.1), n20=30.0))
    feed(bench, [9.5], n20=120.0)
    assert causes(bench) == [
        (1.9, "NONE"), (2.1, "CONDEMNED"), (3.0, "ABOVE_PHYSICAL"), (3.25, "CONDEMNED"), (9.5, "ABOVE_PHYSICAL"),
    ]  # fmt: skip


def test_one_alarm_is_raised_with_evidence_and_what_to_do_and_who_speaks_for_the_zone(
    bench: Bench, script: Script
) -> None:
    lost(script)
    feed(bench, quarters(0, 9), n20=30.0, n40=30.0, n60=30.0)
    assert bench.events() == [("lost-water", "tensiometer/north-20", "raised")]
    (text,) = bench.rows("SELECT notice FROM outbox")[0]
    notice = json.loads(text)
    facts = dict(notice["facts"])
    assert notice["subject"] == "north block: refill north-20 (lost water column)"
    assert facts["Fell by"] == "41.2 kPa"
    assert dict(notice["lines"])["Since when"].startswith("Mon 01 Jun 2026, 08:00")
    assert facts["Still believed in the zone"] == "2 of 3 (north-40, north-60)"
    assert "north-40 and north-60 speak for the zone" in notice["summary"]
    assert any("parchd service -t north-20 --work refill" in advice for advice in notice["advice"])


def test_the_last_word_of_a_condemned_tensiometer_is_the_one_from_before_the_evidence(
    bench: Bench, script: Script
) -> None:
    lost(script)
    feed(bench, quarters(0, 2), n20=65.0, n40=20.0)
    feed(bench, quarters(2, 6), n20=3.0, n40=20.0)
    assert vote(bench)[0][:2] == (5.75, 3.0)
    feed(bench, quarters(6, 9), n20=3.0, n40=20.0)
    ((when, kpa, _),) = vote(bench)
    assert (when, kpa) == (1.75, 65.0)


def test_a_condemned_tensiometer_that_never_had_a_good_word_has_none(bench: Bench, script: Script) -> None:
    lost(script, start_h=0.0)
    feed(bench, quarters(0, 9), n20=3.0, n40=20.0)
    assert vote(bench) == []
    assert vote(bench, "north-40") != []


def test_a_fall_that_nothing_explains_clears_nothing_before_anything_is_found(script: Script) -> None:
    with engine_on(MEMORY, engine_setup_of(small_site(tensiometers=("north-20",)))) as bench:
        feed(bench, quarters(0, 30), n20=65.0)
        feed(bench, quarters(30, 38), n20=3.0)
        assert ("irrigate-now", "zone/north", "cleared") not in bench.events()
        ((_, kpa, held),) = vote(bench)
        assert (kpa, held) == (3.0, 65.0)


def service(begin_h: float, end_h: float) -> RecordService:
    return RecordService(tensiometer="north-20", work="refill", begin_us=at(begin_h), end_us=at(end_h))


def test_a_service_ends_a_finding_and_leaves_its_span_condemned(bench: Bench, script: Script) -> None:
    lost(script)
    feed(bench, quarters(0, 9), n20=3.0)
    assert ask(bench, 9, service(8.5, 10.0)).state == "done"
    feed(bench, quarters(9, 13), n20=30.0)
    assert causes(bench) == [(0.0, "NONE"), (2.0, "CONDEMNED"), (8.5, "SERVICE"), (10.0, "NONE")]
    assert told_of(bench) == ["raised", "cleared"]
    assert bench.rows('SELECT "end", ended_us FROM finding') == [("serviced", at(10.0))]


def test_the_alarm_that_a_false_wet_reading_left_active_clears_only_after_service_and_water(script: Script) -> None:
    with engine_on(MEMORY, engine_setup_of(small_site(tensiometers=("north-20",)))) as bench:
        lost(script, start_h=30.0, found=33)
        feed(bench, quarters(0, 30), n20=65.0)
        feed(bench, quarters(30, 60), n20=3.0)
        ask(bench, 60, service(59.5, 61.0))
        feed(bench, quarters(60, 70), n20=62.0)
        assert ("irrigate-now", "zone/north", "cleared") not in bench.events()
        feed(bench, quarters(70, 71), n20=45.0)
        feed(bench, quarters(71, 96), n20=5.0)
        assert bench.events()[-2:] == [
            ("irrigate-now", "zone/north", "cleared"), ("irrigate-plan", "zone/north", "cleared"),
        ]  # fmt: skip


def test_a_service_of_long_ago_ends_nothing_that_began_since(bench: Bench, script: Script) -> None:
    lost(script, start_h=4.0, found=7)
    feed(bench, quarters(0, 9), n20=3.0)
    ask(bench, 9, service(0.0, 1.0))
    assert told_of(bench) == ["raised"]
    assert causes(bench)[-1] == (4.0, "CONDEMNED")


def dismiss(finding: FindingKind = FindingKind.LOST_WATER, subject: str = "north-20") -> Dismiss:
    return Dismiss(subject=subject, finding=finding, because="it was dug out for an hour", by="Anne")


def test_a_dismissal_restores_what_was_and_is_kept_with_its_reason(bench: Bench, script: Script) -> None:
    lost(script)
    script["north-20", 10] = script["north-20", 5]
    feed(bench, quarters(0, 3), n20=30.0)
    feed(bench, [3.0], n20=90.0)
    feed(bench, quarters(3.25, 9), n20=30.0)
    before = bench.rows("SELECT count(*) FROM rewritten")
    answer = ask(bench, 9, dismiss())
    assert (answer.state, answer.text) == (
        "done", "north-20: lost water column dismissed; the same evidence will not bring it back",
    )  # fmt: skip
    assert [cause for _, cause in causes(bench)] == ["NONE", "ABOVE_LIMIT", "NONE"]
    assert told_of(bench) == ["raised", "cleared"]
    feed(bench, quarters(9, 14), n20=30.0)
    assert told_of(bench) == ["raised", "cleared"]
    (record,) = findings.past_findings(bench.connection, 0, at(99))
    assert (record.by, record.because, record.closed_us) == ("Anne", "it was dug out for an hour", at(9))
    assert bench.rows("SELECT count(*) FROM rewritten") > before
    bench.restart(at(14))
    feed(bench, quarters(14, 16), n20=30.0)
    assert told_of(bench) == ["raised", "cleared"]


def test_new_evidence_brings_a_dismissed_finding_back(bench: Bench, script: Script) -> None:
    lost(script)
    script["north-20", 14] = [case(FindingKind.LOST_WATER, 12.0)]
    feed(bench, quarters(0, 9), n20=30.0)
    ask(bench, 9, dismiss())
    feed(bench, quarters(9, 18), n20=30.0)
    assert told_of(bench) == ["raised", "cleared", "raised"]


def test_what_does_not_hold_cannot_be_dismissed(bench: Bench) -> None:
    answer = ask(bench, 0, dismiss(FindingKind.AIR_LEAK))
    assert (answer.state, answer.text) == ("failed", "nothing called air-leak holds of north-20")


def test_readings_that_recovered_are_good_again_from_there_on_and_the_span_stays_doubted(
    bench: Bench, script: Script
) -> None:
    script["north-20", 5] = [case(FindingKind.STUCK_VALUE, 2.0)]
    script["north-20", 9] = [Over(FindingKind.STUCK_VALUE, at(7.5))]
    feed(bench, quarters(0, 14), n20=30.0)
    assert causes(bench) == [(0.0, "NONE"), (2.0, "CONDEMNED"), (7.5, "NONE")]
    assert told_of(bench, "stuck-value") == ["raised", "cleared"]
    assert bench.rows("SELECT count(*) FROM journal WHERE own_cause IS NOT NULL AND time_us >= ?", at(7.5)) == [(0,)]


def test_a_better_explanation_takes_the_place_of_the_first_without_a_word_of_the_end(
    bench: Bench, script: Script
) -> None:
    script["north-20", 5] = [case(FindingKind.LEVEL_SHIFT, 3.0)]
    lost(script, start_h=2.0, found=8)
    feed(bench, quarters(0, 14), n20=30.0)
    ask(bench, 14, service(13.5, 15.0))
    assert bench.events() == [
        ("level-shift", "tensiometer/north-20", "raised"), ("level-shift", "tensiometer/north-20", "cleared"),
        ("lost-water", "tensiometer/north-20", "raised"), ("lost-water", "tensiometer/north-20", "cleared"),
    ]  # fmt: skip
    kinds = bench.rows("SELECT kind, json_extract(notice, '$.thread') FROM outbox ORDER BY id")
    assert [kind for kind, _ in kinds] == ["raised", "raised", "cleared"]
    assert len({thread for _, thread in kinds}) == 1
    assert causes(bench)[1] == (2.0, "CONDEMNED")


def test_what_happens_again_is_an_alarm_of_its_own_and_nothing_between_is_believed(
    bench: Bench, script: Script
) -> None:
    lost(script)
    script["north-20", 12] = [case(FindingKind.LOST_WATER, 9.0, is_repeated=True)]
    feed(bench, quarters(0, 16), n20=30.0, n40=30.0)
    assert causes(bench) == [(0.0, "NONE"), (2.0, "CONDEMNED")]
    assert told_of(bench) == ["raised", "cleared", "raised"]
    assert [record.finding.start_us for record in findings.open_findings(bench.connection).values()] == [at(9.0)]
    ask(bench, 16.0, service(15.5, 17.0))
    assert findings.open_findings(bench.connection) == {}


def test_a_finding_that_takes_no_trust_leaves_readings_and_votes_alone(bench: Bench, script: Script) -> None:
    script["north-20", 5] = [case(FindingKind.FROST_RISK, 2.0)]
    feed(bench, quarters(0, 9), n20=30.0)
    assert causes(bench) == [(0.0, "NONE")]
    assert vote(bench)[0][0] == 8.75
    assert told_of(bench, "frost-risk") == ["raised"]


@pytest.mark.parametrize(
    "kind", [FindingKind.OPEN_CIRCUIT, FindingKind.SHORT_CIRCUIT, FindingKind.SATURATED, FindingKind.SILENT_CHANNEL]
)
def test_what_another_alarm_tells_already_is_not_told_twice(bench: Bench, script: Script, kind: FindingKind) -> None:
    script["north-20", 5] = [case(kind, 2.0)]
    feed(bench, quarters(0, 9), n20=30.0)
    assert bench.events() == []
    assert bench.rows("SELECT kind FROM finding") == [(kind.value,)]


def test_an_event_is_kept_as_it_was_last_told(bench: Bench, script: Script) -> None:
    grown = Event(EventKind.WETTING, "station/north/post 1", at(2), at(8), (Fact("depth", 0.6, "m"),), {"depths": [20]})
    script["north-20", 5] = [Event(EventKind.WETTING, "station/north/post 1", at(2), None)]
    script["north-20", 8] = [grown]
    feed(bench, quarters(0, 12), n20=30.0)
    assert findings.events(bench.connection, 0, at(99)) == [grown]


@pytest.mark.parametrize("hours", [6.2, 8.9])
def test_computing_anew_leaves_every_doubt_where_it_was(bench: Bench, script: Script, hours: float) -> None:
    lost(script)
    script["north-20", 7] = [case(FindingKind.AIR_ENTRY, 4.0)]
    feed(bench, quarters(0, hours), n20=30.0, n40=20.0)
    feed(bench, [hours], n20=90.0)
    before = bench.rows("SELECT * FROM journal ORDER BY seq")
    answer = ask(bench, hours, Reprocess(start_us=0, end_us=at(99)))
    assert "0 came out different" in answer.text
    assert bench.rows("SELECT * FROM journal ORDER BY seq") == before


def test_a_restart_raises_nothing_again_and_clears_what_was_dismissed_without_a_daemon(
    bench: Bench, script: Script
) -> None:
    lost(script)
    feed(bench, quarters(0, 9), n20=30.0)
    bench.restart(at(9))
    bench.turn(at(9.1), Tick())
    assert told_of(bench) == ["raised"]
    bench.connection.execute("UPDATE finding SET ended_us = start_us, \"end\" = 'dismissed', closed_us = ?", (at(9.2),))
    bench.restart(at(10))
    assert told_of(bench) == ["raised", "cleared"]


def test_ticks_work_off_a_long_span(bench: Bench, script: Script, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("parchd.store.doubts.SLICE_ROWS", 5)
    lost(script)
    feed(bench, quarters(0, 9), n20=30.0)
    assert causes(bench) != [(0.0, "NONE"), (2.0, "CONDEMNED")]
    bench.tick(*(at(9) + n for n in range(1, 12)))
    assert causes(bench) == [(0.0, "NONE"), (2.0, "CONDEMNED")]


def test_a_silent_gateway_is_one_alarm_and_its_channels_get_their_time_when_it_speaks_again(script: Script) -> None:
    with engine_on(MEMORY) as bench:
        feed(bench, [0.0], n20=20.0, n40=20.0, n60=20.0)
        bench.tick(*(at(n / 60) for n in range(1, 60)))
        assert bench.events() == [("silent-source", "source/bus1", "raised")]
        feed(bench, [1.0], n20=20.0)
        bench.tick(*(at(1 + n / 60) for n in range(29)))
        assert bench.events()[1:] == [("silent-source", "source/bus1", "cleared")]
        feed(bench, [1 + 29 / 60], n20=20.0)
        bench.tick(*(at(1 + n / 60) for n in range(29, 36)))
        silent = {(kind, subject) for kind, subject, _ in bench.events()[2:]}
        assert silent == {("silent", f"tensiometer/{name}") for name in ("creek-30", "north-40", "north-60")}


def test_every_finding_has_an_alarm_of_its_name_or_one_that_tells_it_already() -> None:
    from parchd.alarms.findings import ALARM_OF, TOLD_ELSEWHERE

    assert ALARM_OF.keys() | TOLD_ELSEWHERE == set(FindingKind)
    assert all(alarm.value == kind.value for kind, alarm in ALARM_OF.items())
    assert {kind.value for kind in AlarmKind} >= {kind.value for kind in ALARM_OF}


def test_the_memory_of_hours_is_kept_for_a_month_and_no_longer(bench: Bench, script: Script) -> None:
    for day in range(45):
        feed(bench, (24 * day + hour for hour in range(24)), n20=30.0)
    (rows,) = bench.rows("SELECT count(*) FROM diagnosis_hour")[0]
    assert 28 * 24 <= rows <= 33 * 24
    assert bench.rows("SELECT max(hour) FROM diagnosis_hour") == [(BEGIN + 45 * 24 - 3,)]
