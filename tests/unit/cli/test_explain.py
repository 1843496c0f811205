"""``parchd explain``: from the journal to a terminal, a page, a picture."""

import sqlite3
from contextlib import closing
from pathlib import Path
from xml.etree import ElementTree

import pytest

from parchd.cli.exits import Exit
from parchd.clock import US_PER_S, SystemClock
from parchd.config import load
from parchd.contract import Cause, Flag, Unit
from parchd.diagnosis.findings import End, Event, Fact, Finding, FindingKey
from parchd.diagnosis.kinds import EventKind, FindingKind
from parchd.store import findings
from parchd.store.codes import UNIT_CODE
from parchd.store.database import open_reader, open_writer
from parchd.testing.commands import Farm, parchd
from parchd.workbench.explain_case import Explained
from parchd.workbench.explain_journal import bucket_length_us, explained

HOUR_US = 3600 * US_PER_S
STEP_US = HOUR_US // 4
NOW_US = SystemClock().now_us() // HOUR_US * HOUR_US
START_US = NOW_US - 48 * HOUR_US


ROW = (
    "INSERT INTO journal (time_us, channel_id, seq, received_us, value, unit, time_source, gauge_kpa, tension_kpa,"
    " flag, cause, late, calibration) VALUES (?, ?, ?, ?, ?, ?, 1, ?, ?, 1, 0, 0, '')"
)
LATEST = (
    "INSERT OR REPLACE INTO latest (channel_id, time_us, received_us, value, unit, gauge_kpa, tension_kpa, flag, cause,"
    " heard_us) VALUES (?, ?, ?, ?, ?, ?, ?, 1, 0, ?)"
)


def measured(farm: Farm, hours: int = 48) -> None:
    """Store readings of two tensiometers every quarter of an hour; from hour 10 to 16 there were none."""
    kpa_code = UNIT_CODE[Unit.KPA]
    with closing(open_writer(farm.journal)) as connection:
        connection.execute("INSERT INTO channel (id, name) VALUES (1, 'field/c0'), (2, 'field/c1')")
        connection.execute("BEGIN")
        for number in range(hours * 4):
            time_us, kpa = START_US + number * STEP_US, 10.0 + number / 8.0
            for channel_id, value in ((1, kpa), (2, kpa / 2.0)) if not 40 <= number < 64 else ():
                row = (time_us, channel_id, 2 * number + channel_id, time_us, value, kpa_code, -value, value)
                connection.execute(ROW, row)
                latest = (channel_id, time_us, time_us, value, kpa_code, -value, value, time_us)
                connection.execute(LATEST, latest)
        connection.execute("COMMIT")


def told(farm: Farm, *found: Finding, events: tuple[Event, ...] = (), dismissed: str = "") -> None:
    """Write down findings and events; one that ended is ended, dismissed by somebody if so."""
    with closing(open_writer(farm.journal)) as connection:
        for one in found:
            findings.begin(connection, one, "", one.found_us)
            if one.ended_us is not None:
                findings.end(connection, one, one.found_us + HOUR_US, dismissed, dismissed and "it was me")
        for event in events:
            findings.note_event(connection, event, event.start_us)


def lost(**changes: object) -> Finding:
    facts = (Fact("fell from", 31.5, "kPa"), Fact("to", -0.2, "kPa"))
    fields = {"key": FindingKey(FindingKind.LOST_WATER, "tensiometer/t0"), "start_us": NOW_US - 9 * HOUR_US}
    fields |= {"found_us": NOW_US - 3 * HOUR_US, "confidence": 0.97, "facts": facts}
    return Finding(**{**fields, **changes})  # type: ignore[arg-type] # fields of a finding


def case_of(farm: Farm, hours: int = 48, name: str = "t0") -> Explained:
    with closing(open_reader(farm.journal)) as connection:
        loaded = load(farm.config, {}, None)
        return explained(connection, loaded, name, NOW_US - hours * HOUR_US, NOW_US, NOW_US)


def test_a_terminal_gets_the_state_the_chart_and_the_evidence(quillmere: Farm) -> None:
    measured(quillmere)
    told(quillmere, lost())
    said = parchd("explain", "t0", quillmere.config, "--since", "48h", "--ascii", "--width", "79")
    assert said.code == Exit.OK, said.err
    assert "t0 cannot be believed since" in said.out
    assert "because: lost water column (nearly certain)." in " ".join(said.out.split())
    assert "  lost water column [cannot be believed]" in said.out
    assert "Fell from        31.5 kPa" in said.out
    assert "parchd service -t t0 --work refill" in said.out
    assert "XXX" in said.out
    assert "irrigate now 40" in said.out
    assert max(map(len, said.out.splitlines())) <= 79


@pytest.mark.parametrize(("ending", "root"), [("html", "html"), ("svg", "svg")])
def test_a_file_gets_a_page_or_a_picture(quillmere: Farm, tmp_path: Path, ending: str, root: str) -> None:
    measured(quillmere)
    told(quillmere, lost())
    path = tmp_path / f"t0.{ending}"
    said = parchd("explain", "t0", quillmere.config, "--chart", path, "--width", "400")
    assert said.code == Exit.OK, said.err
    assert said.out == f"{path} is written: open it in a browser\n"
    text = path.read_text("utf-8")
    drawn = ElementTree.fromstring(text.removeprefix("<!DOCTYPE html>\n"))
    assert drawn.tag.endswith(root)
    assert "lost water column" in text
    assert ending == "html" or drawn.get("width") == "400"


def test_what_cannot_be_done_is_said(quillmere: Farm, tmp_path: Path) -> None:
    measured(quillmere, 1)
    config = quillmere.config
    for words, part in (
        (("t9", config), "no tensiometer is called t9; there are t0, t1"),
        (("t0", config, "--chart", "t0.png"), "call it t0.html or .svg"),
        (("t0", config, "--since", "1h", "--until", "2h"), "the span is empty"),
        (("t0", config, "--chart", tmp_path / "nowhere" / "t0.svg"), "cannot be written"),
    ):
        said = parchd("explain", *words)
        assert said.code == Exit.FAILED
        assert part in said.err


def test_a_span_before_anything_was_measured_is_explained_too(quillmere: Farm) -> None:
    measured(quillmere, 1)
    said = parchd("explain", "t0", quillmere.config, "--since", "2020-01-01", "--until", "2020-02-01", "--ascii")
    assert said.code == Exit.OK, said.err
    assert "none  within this span" in said.out


# --- what is read


def test_readings_are_put_into_buckets_and_gaps_stay_gaps(quillmere: Farm) -> None:
    measured(quillmere)
    case = case_of(quillmere)
    assert case.bucket_us == STEP_US
    means = [bucket.mean for bucket in case.own.buckets]
    assert len(means) == 192
    assert means[:2] == [10.0, 10.125]
    assert all(mean != mean for mean in means[40:64])
    assert means[64] == 18.0
    assert case.flags == {Flag.PASS: 168}
    assert case.newest is not None
    assert case.newest.tension_kpa == 10.0 + 191 / 8.0


def test_buckets_of_many_readings_have_their_lowest_and_highest(quillmere: Farm) -> None:
    measured(quillmere)
    case = case_of(quillmere, hours=24 * 40)
    assert case.bucket_us == 2 * HOUR_US
    bucket = case.own.buckets[-1]
    assert (bucket.low, bucket.high) == (10.0 + 184 / 8.0, 10.0 + 191 / 8.0)
    assert bucket.mean == pytest.approx(10.0 + 187.5 / 8.0)


def flagged(farm: Farm, flag: Flag, cause: Cause, tension_kpa: float) -> None:
    """Change the newest reading of t0."""
    with closing(sqlite3.connect(farm.journal, isolation_level=None)) as connection:
        connection.execute(
            "UPDATE journal SET flag = ?, cause = ?, tension_kpa = ? WHERE (time_us, channel_id) ="
            " (SELECT time_us, channel_id FROM latest JOIN channel ON id = channel_id WHERE name = 'field/c0')",
            (flag, cause, tension_kpa),
        )


def test_readings_that_are_no_measurement_are_counted_but_not_drawn(quillmere: Farm) -> None:
    measured(quillmere)
    flagged(quillmere, Flag.FAIL, Cause.ABOVE_PHYSICAL, 900.0)
    case = case_of(quillmere)
    assert case.flags == {Flag.PASS: 167, Flag.FAIL: 1}
    assert case.own.buckets[-1].mean != case.own.buckets[-1].mean


def test_readings_that_a_finding_condemned_are_drawn(quillmere: Farm) -> None:
    measured(quillmere)
    flagged(quillmere, Flag.FAIL, Cause.CONDEMNED, -0.2)
    case = case_of(quillmere)
    assert case.flags == {Flag.PASS: 167, Flag.FAIL: 1}
    assert case.own.buckets[-1].mean == -0.2


def test_neighbours_at_the_same_depth_are_read_along(quillmere: Farm) -> None:
    measured(quillmere)
    case = case_of(quillmere)
    assert [one.label for one in case.neighbours] == ["t1"]
    assert case.left_out == 0
    assert case.neighbours[0].buckets[0].mean == 5.0
    assert case.portrait.limits == (("irrigate now", 40.0),)


def test_a_tensiometer_that_never_delivered_is_explained_too(quillmere: Farm) -> None:
    measured(quillmere, 1)
    with closing(sqlite3.connect(quillmere.journal, isolation_level=None)) as connection:
        connection.execute("DELETE FROM latest")
        connection.execute("DELETE FROM journal")
        connection.execute("DELETE FROM channel")
    case = case_of(quillmere)
    assert case.newest is None
    assert case.flags == {}


def test_findings_about_it_its_source_and_its_partner_are_found_and_no_others(quillmere: Farm) -> None:
    measured(quillmere, 1)
    source = lost(key=FindingKey(FindingKind.NOISY_SUPPLY, "source/field"))
    partner = lost(key=FindingKey(FindingKind.SWAPPED, "tensiometer/t1"), others=("t0",))
    other = lost(key=FindingKey(FindingKind.STUCK_VALUE, "tensiometer/t1"))
    elsewhere = lost(key=FindingKey(FindingKind.SILENT_SOURCE, "source/fields"))
    told(quillmere, lost(), source, partner, other, elsewhere)
    kinds = {one.finding.key.kind for one in case_of(quillmere).findings}
    assert kinds == {FindingKind.LOST_WATER, FindingKind.NOISY_SUPPLY, FindingKind.SWAPPED}


def test_an_exchange_of_two_is_told_once_of_each(quillmere: Farm) -> None:
    measured(quillmere, 1)
    own = lost(key=FindingKey(FindingKind.SWAPPED, "tensiometer/t0"), others=("t1",))
    partner = lost(key=FindingKey(FindingKind.SWAPPED, "tensiometer/t1"), others=("t0",))
    told(quillmere, own, partner)
    (one,) = case_of(quillmere).findings
    assert one.finding.key.name == "t0"


def test_a_dismissed_finding_is_told_with_who_and_why(quillmere: Farm) -> None:
    measured(quillmere, 1)
    told(quillmere, lost(ended_us=NOW_US - 9 * HOUR_US, end=End.DISMISSED), dismissed="Ines")
    (one,) = case_of(quillmere).findings
    assert one.is_dismissed
    assert one.dismissal is not None
    assert (one.dismissal.by, one.dismissal.reason) == ("Ines", "it was me")


def test_findings_and_events_outside_of_the_span_are_left_out(quillmere: Farm) -> None:
    measured(quillmere, 1)
    old = NOW_US - 100 * HOUR_US
    over = lost(start_us=old, found_us=old, ended_us=old + HOUR_US, end=End.RECOVERED)
    wet = Event(EventKind.WETTING, "station/north/post-0", NOW_US - 5 * HOUR_US, NOW_US - 4 * HOUR_US)
    others = Event(EventKind.WETTING, "station/north/post-1", NOW_US - 5 * HOUR_US, NOW_US - 4 * HOUR_US)
    long_ago = Event(EventKind.WETTING, "station/north/post-0", old, old + HOUR_US)
    reaching_in = Event(EventKind.SATURATION, "tensiometer/t0", old, NOW_US - 40 * HOUR_US)
    told(quillmere, over, events=(wet, others, long_ago, reaching_in))
    case = case_of(quillmere)
    assert case.findings == ()
    assert [(event.kind, event.start_us) for event in case.events] == [
        (EventKind.SATURATION, old),
        (EventKind.WETTING, wet.start_us),
    ]


def test_of_a_span_in_the_past_the_state_is_told_as_it_is_now(quillmere: Farm) -> None:
    measured(quillmere)
    told(quillmere, lost())
    said = parchd("explain", "t0", quillmere.config, "--since", "40h", "--until", "30h", "--ascii")
    assert said.code == Exit.OK, said.err
    assert "t0 cannot be believed since" in said.out
    assert "X cannot be believed" not in said.out, "nothing of it lies within the span"


def test_a_service_after_which_it_still_settles_is_told_whatever_the_span(quillmere: Farm) -> None:
    measured(quillmere)
    parchd("service", quillmere.config, "-t", "t0", "-w", "refill", "--records", quillmere.config.parent)
    said = parchd("explain", "t0", quillmere.config, "--since", "40h", "--until", "30h", "--ascii")
    assert "t0 is settling after refill; it can be believed from" in " ".join(said.out.split())


def test_services_that_touch_the_span_are_told(quillmere: Farm) -> None:
    measured(quillmere, 1)
    for name in ("t0", "t1"):
        parchd(
            "service", quillmere.config, "-t", name, "-w", "refill", "--at", "20h", "--records", quillmere.config.parent
        )
    (service,) = case_of(quillmere).services
    assert (service.tensiometer, service.work) == ("t0", "refill")


def test_there_are_never_too_many_buckets_and_none_is_shorter_than_the_interval() -> None:
    for hours in (1, 30, 24 * 14, 24 * 200, 24 * 4000):
        for interval_s in (1.0, 60.0, 900.0, 7200.0, 200_000.0):
            length_us = bucket_length_us(0, hours * HOUR_US, interval_s)
            assert length_us >= interval_s * US_PER_S
            assert hours * HOUR_US / length_us <= 760


def test_the_evidence_survives_the_journal(quillmere: Farm) -> None:
    measured(quillmere, 1)
    told(quillmere, lost())
    assert case_of(quillmere).findings[0].finding == lost()
