"""The daily message: when it is due, and what it says."""

import json
from dataclasses import replace
from datetime import datetime, time
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.alarms.book import AlarmBook, AlarmState
from parchd.alarms.condition import Condition, Phase
from parchd.alarms.events import AlarmKey
from parchd.alarms.irrigation import Vote, ZoneState
from parchd.alarms.rules import AlarmKind, FaultRule
from parchd.app.charts import Charts
from parchd.app.digest import Digest
from parchd.app.pace import pace_kpa
from parchd.app.zones_now import sensor_standing, zone_standing
from parchd.clock import from_datetime
from parchd.contract import Cause, Flag, Notice, NoticeKind, Unit
from parchd.store.reader import Latest
from parchd.testing.site import HOUR_US, MINUTE_US, START_US, names_of, reading, small_site
from parchd.words import Voice

BERLIN, SYDNEY = ZoneInfo("Europe/Berlin"), ZoneInfo("Australia/Sydney")
PIPELINE, ALARMS = small_site()
NAMES = names_of(PIPELINE)
NORTH = ALARMS.irrigation[0]
ACTIVE = Condition(Phase.ACTIVE, START_US, 0, START_US)
SIX_THIRTY = time(6, 30)


def local(zone: ZoneInfo, month: int, day: int, hour: int = 0, minute: int = 0) -> int:
    return from_datetime(datetime(2026, month, day, hour, minute, tzinfo=zone))


def newest(flag: Flag = Flag.PASS, cause: Cause = Cause.NONE, tension_kpa: float | None = 33.0) -> Latest:
    return Latest("bus1/n20", START_US, 33.0, Unit.KPA, -33.0, tension_kpa, flag, cause, START_US)


def rule(tensiometer: str) -> FaultRule:
    return FaultRule(tensiometer, f"bus1/{tensiometer}", 600.0)


def zone(*tensions_kpa: float, **levels: Condition) -> ZoneState:
    votes = {f"north-{20 * (n + 1)}": Vote(START_US, value) for n, value in enumerate(tensions_kpa)}
    return ZoneState(votes, {AlarmKind(kind.replace("_", "-")): condition for kind, condition in levels.items()})


def known(zone: ZoneState) -> AlarmState:
    """All that is known when this is what is known of the north block; a rule of one tensiometer knows the same."""
    return AlarmState(zones={"zone/north": zone, "tensiometer/north-20": zone})


@pytest.mark.parametrize(
    ("state", "words", "tension_kpa", "needs_hand"),
    [
        (zone(20.0, 30.0, 25.0), "enough water", 25.0, False),
        (zone(45.0, irrigate_plan=ACTIVE), "plan an irrigation", 45.0, True),
        (zone(65.0, irrigate_plan=ACTIVE, irrigate_now=ACTIVE), "irrigate now", 65.0, True),
        (zone(45.0, irrigate_plan=Condition(Phase.RAISING, 0, 1)), "enough water", 45.0, False),
        (zone(30.0, irrigate_plan=Condition(Phase.CLEARING, 0, 1, 5)), "plan an irrigation", 30.0, True),
        (zone(), "unknown: 0 of 3 tensiometers have a word that can be believed", None, False),
    ],
)
def test_a_zone_stands_as_its_alarms_and_votes_say(
    state: ZoneState, words: str, tension_kpa: float | None, needs_hand: bool
) -> None:
    standing = zone_standing(NORTH, known(state), NAMES, START_US + HOUR_US)
    assert (standing.name, standing.words, standing.tension_kpa, standing.needs_hand) == (
        "north block", words, tension_kpa, needs_hand,
    )  # fmt: skip


def test_a_zone_says_how_old_the_tension_of_its_morning_is() -> None:
    assert zone_standing(NORTH, known(zone(5.0)), NAMES, START_US + HOUR_US).text() == "enough water"
    assert (
        zone_standing(NORTH, known(zone(5.0)), NAMES, START_US + 5 * HOUR_US).text()
        == "enough water (measured 5 h ago)"
    )


def test_a_zone_whose_tensiometers_gave_up_is_unknown_and_never_wet() -> None:
    later_us = START_US + round(NORTH.fresh_s * 1e6)
    assert zone_standing(NORTH, known(zone(5.0)), NAMES, later_us).words == "enough water"
    gone = zone_standing(NORTH, known(zone(5.0)), NAMES, later_us + 1)
    assert (gone.words, gone.tension_kpa) == ("unknown: 0 of 3 tensiometers have a word that can be believed", None)


def test_the_fresh_word_of_a_tensiometer_that_broke_since_does_not_make_its_zone_wet() -> None:
    state = known(zone(5.0, 45.0))
    state.faults = faults(AlarmKind.ELECTRICAL).faults
    standing = zone_standing(NORTH, state, NAMES, START_US)
    assert (standing.words, standing.tension_kpa) == ("enough water", 45.0)
    alone = known(zone(5.0))
    alone.faults = state.faults
    assert zone_standing(NORTH, alone, NAMES, START_US).words.startswith("unknown: 0 of 3")


def test_a_zone_with_fewer_trusted_tensiometers_than_it_asks_for_is_unknown() -> None:
    two = replace(NORTH, min_trusted=2)
    assert zone_standing(two, known(zone(5.0)), NAMES, START_US).words.startswith("unknown: 1 of 3")
    assert zone_standing(two, known(zone(5.0, 6.0)), NAMES, START_US).words == "enough water"


def test_a_need_for_water_stands_even_when_nobody_can_be_believed_any_more() -> None:
    standing = zone_standing(NORTH, known(zone(65.0, irrigate_now=ACTIVE)), NAMES, START_US + 1000 * HOUR_US)
    assert (standing.words, standing.tension_kpa) == ("irrigate now", None)


def test_a_rule_for_one_tensiometer_goes_by_its_name() -> None:
    own = replace(NORTH, subject="tensiometer/north-20")
    assert zone_standing(own, known(zone(5.0)), NAMES, START_US).name == "north-20"


def faults(*kinds: AlarmKind, phase: Phase = Phase.ACTIVE) -> AlarmState:
    key = "tensiometer/north-20"
    return AlarmState(faults={AlarmKey(kind, key): Condition(phase, 0, 0, 0) for kind in kinds})


@pytest.mark.parametrize(
    ("latest", "state", "words", "needs_hand"),
    [
        (newest(), AlarmState(), "reads well (90 min ago)", False),
        (None, AlarmState(), "nothing heard in time yet", True),
        (newest(), faults(AlarmKind.SILENT, AlarmKind.ELECTRICAL), "electrical fault, no data", True),
        (newest(), faults(AlarmKind.ABOVE_LIMIT), "above its usable limit", True),
        (newest(), faults(AlarmKind.SILENT, phase=Phase.RAISING), "reads well (90 min ago)", False),
        (newest(Flag.FAIL, Cause.OPEN_CIRCUIT, None), AlarmState(), "open circuit", True),
        (newest(Flag.SUSPECT, Cause.ABOVE_LIMIT), AlarmState(), "above the usable limit", False),
        (newest(Flag.MISSING, Cause.NO_VALUE, None), AlarmState(), "no value", False),
        (newest(Flag.SUSPECT), AlarmState(), "suspect", False),
    ],
)
def test_a_tensiometer_stands_as_its_faults_and_its_newest_reading_say(
    latest: Latest | None, state: AlarmState, words: str, needs_hand: bool
) -> None:
    standing = sensor_standing(rule("north-20"), latest, state, NAMES, START_US + 90 * MINUTE_US)
    assert (standing.name, standing.words, standing.needs_hand) == ("north-20 (20 cm)", words, needs_hand)


def test_the_fault_of_another_tensiometer_is_not_its_own() -> None:
    assert sensor_standing(rule("north-40"), newest(), faults(AlarmKind.SILENT), NAMES, START_US).words == (
        "reads well (0 min ago)"
    )


def test_long_ago_is_told_in_hours_and_an_unplaced_tensiometer_by_its_name() -> None:
    standing = sensor_standing(rule("bench"), newest(), AlarmState(), NAMES, START_US + 5 * HOUR_US)
    assert (standing.name, standing.words) == ("bench", "reads well (5 h ago)")


def digest(state: AlarmState, latest: dict[str, Latest], **how: Any) -> Notice:
    return Digest(ALARMS, NAMES, state, latest, START_US + HOUR_US, **how).notice("2026-06-02")


def everyone() -> tuple[AlarmState, dict[str, Latest]]:
    """A site in which all is well."""
    state = AlarmState()
    story = [reading(f"bus1/{channel}", START_US, 20.0) for channel in ("n20", "n40", "n60", "c30")]
    AlarmBook(ALARMS).judge(state, story)
    return state, {rule.channel: replace(newest(), channel=rule.channel) for rule in ALARMS.faults}


def charts(per_day_kpa: float) -> Charts:
    """All tensiometers rise by so much a day, to 30 kPa now."""
    now = (START_US + HOUR_US) // HOUR_US

    def hourly(_name: str, begin: int, end: int) -> list[float | None]:
        return [30.0 + per_day_kpa / 24.0 * (hour - now) for hour in range(begin, end)]

    return Charts(ALARMS, NAMES, hourly, frozenset(rule.tensiometer for rule in ALARMS.faults), START_US + HOUR_US)


def test_a_digest_of_a_site_in_order_fits_on_half_a_screen() -> None:
    notice = digest(*everyone())
    assert (notice.id, notice.kind, notice.subject) == (
        "digest.2026-06-02", NoticeKind.DIGEST, "Quillmere Orchard: all in order",
    )  # fmt: skip
    assert notice.summary == ("State of Quillmere Orchard on Mon 01 Jun 2026, 07:00. 4 of 4 tensiometers need nobody.")
    (zones,) = notice.tables
    assert zones.rows == (("north block", "enough water", "20.0 kPa"), ("creek terrace", "enough water", "20.0 kPa"))


def test_programs_learn_of_every_zone_and_every_tensiometer() -> None:
    data = json.loads(json.dumps(digest(*everyone()).data, allow_nan=False))
    assert data == digest(*everyone()).data
    assert data["type"] == "digest.daily"
    assert [zone["name"] for zone in data["zones"]] == ["north block", "creek terrace"]
    assert [one["name"] for one in data["tensiometers"]] == [
        "north-20 (20 cm)", "north-40 (40 cm)", "north-60 (60 cm)", "creek-30 (30 cm)",
    ]  # fmt: skip


def test_programs_read_the_same_whatever_language_a_person_reads() -> None:
    state, latest = everyone()
    state.faults = faults(AlarmKind.SILENT).faults
    german = digest(state, latest, voice=Voice("de", units="hPa"))
    assert german.data == digest(state, latest).data
    assert german.tables != digest(state, latest).tables


@pytest.mark.parametrize(
    ("per_day_kpa", "said"),
    [
        (4.2, "20.0 kPa ↗ rising 4 kPa a day"),
        (0.9, "20.0 kPa → steady"),
        (-0.9, "20.0 kPa → steady"),
        (-12.0, "20.0 kPa ↘ falling 12 kPa a day"),
    ],
)
def test_a_zone_says_where_it_goes(per_day_kpa: float, said: str) -> None:
    notice = digest(*everyone(), charts=charts(per_day_kpa))
    assert notice.tables[0].rows[0] == ("north block", "enough water", said)
    zones = json.loads(json.dumps(notice.data["zones"]))
    assert zones[0]["kpa_per_day"] == pytest.approx(per_day_kpa, abs=0.05)


def test_a_pace_is_known_only_where_both_days_are() -> None:
    assert pace_kpa([]) is None
    assert pace_kpa([5.0] * 24) is None
    assert pace_kpa([5.0] * 25) == 0.0
    assert pace_kpa([None] * 27) is None


@given(st.lists(st.floats(-5.0, 80.0), min_size=27, max_size=27), st.floats(-9.0, 9.0))
def test_a_daily_swing_of_any_shape_is_no_pace(swing: list[float], pace: float) -> None:
    day = swing[:24]
    course = [day[n % 24] + pace * n / 24.0 for n in range(60)]
    assert pace_kpa(course) == pytest.approx(pace, abs=1e-9)


def test_there_is_a_small_chart_of_each_zone_those_first_that_need_water() -> None:
    state, latest = everyone()
    state.zones["zone/creek"] = ZoneState(state.zones["zone/creek"].votes, {AlarmKind.IRRIGATE_NOW: ACTIVE})
    notice = digest(state, latest, charts=charts(4.0))
    assert [chart.title.partition(":")[0] for chart in notice.charts] == ["creek terrace", "north block"]
    assert all(chart.is_small and len(chart.lines) == 1 for chart in notice.charts)
    assert digest(state, latest).charts == ()


def test_a_reader_of_some_zones_learns_of_no_others() -> None:
    state, latest = everyone()
    state.faults = faults(AlarmKind.SILENT).faults
    notice = digest(state, latest, charts=charts(4.0), zones=frozenset({"creek"}))
    text = repr(replace(notice, data={}))
    assert "creek terrace" in text
    assert "north" not in text
    assert "1 of 1 tensiometers need nobody" in notice.summary
    assert "north-20" in repr(digest(state, latest).tables)


def test_who_needs_a_hand_is_listed_with_what_is_wrong_and_since_when() -> None:
    state, latest = everyone()
    state.faults = faults(AlarmKind.SILENT).faults
    table = digest(state, latest).tables[1]
    assert (table.title, table.rows) == (
        "In need of a hand", (("north-20 (20 cm)", "no data", "since Thu 1 Jan, 01:00"),),
    )  # fmt: skip


def test_what_has_changed_is_told_with_the_time_it_looks_back_to() -> None:
    rows = (("Mon 1 Jun, 05:00", "north block: irrigate now (62 kPa): raised, over"),)
    notice = Digest(ALARMS, NAMES, *everyone(), START_US).notice("2026-06-02", rows, START_US - 24 * HOUR_US)
    assert (notice.tables[1].title, notice.tables[1].rows) == ("What has changed since Sun 31 May, 06:00", rows)


def test_the_subject_of_a_digest_says_who_wants_water_what_is_unknown_and_who_needs_a_hand() -> None:
    state, latest = everyone()
    state.zones["zone/north"] = zone(65.0, irrigate_now=ACTIVE)
    del state.zones["zone/creek"]
    del latest["bus1/c30"]
    assert digest(state, latest).subject == (
        "Quillmere Orchard: water wanted: north block; unknown: creek terrace; 1 tensiometer needs a hand"
    )
    del latest["bus1/n20"]
    assert digest(state, latest).subject.endswith("2 tensiometers need a hand")


def test_a_digest_before_anything_arrived_says_that_nothing_is_known() -> None:
    notice = digest(AlarmState(), {})
    assert notice.subject == "Quillmere Orchard: unknown: north block, creek terrace; 4 tensiometers need a hand"
    assert {row[2] for table in notice.tables for row in table.rows} == {"unknown"}
