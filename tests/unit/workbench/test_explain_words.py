"""What is said of a tensiometer: its state in one sentence, findings the gravest first, events, shares."""

from collections.abc import Sequence
from dataclasses import replace

import pytest

from parchd.contract import Cause, Flag
from parchd.diagnosis.findings import End, Event, Fact, Finding
from parchd.diagnosis.kinds import EventKind, FindingKind
from parchd.store.services import ServiceRecord
from parchd.testing.explained import DAY_US, HOUR_US, START_US, a_season, finding, some_days
from parchd.workbench.explain_case import Dismissal, Explained, Newest, Told
from parchd.workbench.explain_state import local_times, state_words
from parchd.workbench.explain_words import report, share

LOCAL = local_times("Europe/Berlin")


def with_findings(*findings: Finding, **changes: object) -> Explained:
    quiet = replace(some_days(), services=(), newest=Newest(some_days().now_us, 23.44, Flag.PASS, Cause.NONE))
    return replace(quiet, findings=tuple(map(Told, findings)), **changes)  # type: ignore[arg-type] # its fields


def state(case: Explained) -> tuple[str, str]:
    return state_words(case, LOCAL)


def test_a_finding_that_fails_readings_is_told_with_its_time_and_cause() -> None:
    assert state(with_findings(finding(FindingKind.LOST_WATER, 70.0, 75.0))) == (
        "cannot be believed",
        "north-1-30 cannot be believed since Thu 4 Jun 2026, 22:00, because: lost water column (nearly certain).",
    )


def test_a_finding_that_makes_readings_suspect_doubts_it() -> None:
    word, sentence = state(with_findings(finding(FindingKind.ZERO_DRIFT, 70.0, 75.0, confidence=0.8)))
    assert word == "doubted"
    assert "is doubted since Thu 4 Jun 2026, 22:00, because: zero drift (likely)." in sentence


def test_of_several_findings_the_gravest_comes_first_and_gives_the_time() -> None:
    drift = finding(FindingKind.ZERO_DRIFT, 10.0, 20.0)
    stuck = finding(FindingKind.STUCK_VALUE, 60.0, 63.0)
    _, sentence = state(with_findings(drift, stuck))
    assert "cannot be believed since Thu 4 Jun 2026, 12:00" in sentence
    assert sentence.index("stuck value") < sentence.index("zero drift")


def test_a_finding_that_is_worth_knowing_takes_no_trust_away() -> None:
    word, sentence = state(with_findings(finding(FindingKind.FROST_RISK, 110.0, 110.0)))
    assert word == "believed"
    assert sentence.endswith("no finding doubts it. Mind: risk of frost since Sat 6 Jun 2026, 14:00.")


def test_findings_that_are_over_or_dismissed_take_no_trust_away() -> None:
    lost = finding(FindingKind.LOST_WATER, 70.0, 75.0)
    over = replace(lost, ended_us=START_US + 100 * HOUR_US, end=End.SERVICED)
    case = with_findings(over)
    assert state(case)[0] == "believed"
    dismissed = Told(lost, Dismissal("Ines", "no", START_US + 90 * HOUR_US))
    assert state(replace(case, findings=(dismissed,)))[0] == "believed"


@pytest.mark.parametrize(
    ("newest", "word", "part"),
    [
        (None, "no readings", "has no readings yet"),
        (Newest(0, None, Flag.FAIL, Cause.OPEN_CIRCUIT), "cannot be believed", "does not count: open circuit"),
        (Newest(0, None, Flag.MISSING, Cause.NO_VALUE), "missing", "does not count: no value"),
        (
            Newest(-DAY_US, 12.0, Flag.PASS, Cause.NONE),
            "silent",
            "has been silent since Sat 6 Jun 2026, 00:00; it read",
        ),
        (Newest(-HOUR_US // 2, 12.0, Flag.PASS, Cause.NONE), "believed", "it reads 12.0 kPa (Sat 6 Jun 2026, 23:30)"),
    ],
)
def test_without_findings_the_newest_reading_says_how_it_is(newest: Newest | None, word: str, part: str) -> None:
    now_us = some_days().now_us
    shifted = None if newest is None else replace(newest, time_us=now_us + newest.time_us)
    said = state(with_findings(newest=shifted))
    assert said[0] == word
    assert part in said[1]


def test_a_service_that_is_fresh_is_told_until_it_has_settled() -> None:
    now_us = some_days().now_us
    service = ServiceRecord("north-1-30", "refill", now_us - HOUR_US, now_us + 11 * HOUR_US)
    word, sentence = state(with_findings(settling=service))
    assert word == "settling"
    assert "after refill; it can be believed from Sun 7 Jun 2026, 11:00 on" in sentence


def labels(pairs: Sequence[tuple[str, str]]) -> list[str]:
    return [label for label, _ in pairs]


def test_a_finding_that_holds_says_what_to_do_and_when_it_is_trusted_again() -> None:
    (lost,) = report(some_days()).findings
    assert lost.title == "lost water column"
    assert labels(lost.facts)[:4] == ["Evidence begins", "Found", "Confidence", "Fell by"]
    assert ("Fell by", "21.4 kPa") in lost.facts
    assert any("parchd service -t north-1-30 --work refill" in step for step in lost.doing)
    assert labels(lost.notes) == ["For its readings", "Trusted again", "If it is wrong"]
    assert "parchd dismiss north-1-30 lost-water --because TEXT" in lost.notes[2][1]
    assert "NAME" not in "".join((*lost.doing, *(text for _, text in lost.notes)))


def test_a_finding_that_is_over_says_why_and_asks_for_nothing() -> None:
    blocks = {block.title: block for block in report(a_season()).findings}
    drift = blocks["zero drift"]
    assert ("Ended", "Tue 8 Sep 2026, 00:00: a service was written down") in drift.facts
    assert (drift.word, drift.doing, drift.notes) == ("doubted, over", (), ())


def test_findings_that_hold_come_first_the_gravest_first_then_the_newest() -> None:
    assert [block.title for block in report(a_season()).findings] == [
        "air entry at the dry end", "risk of frost", "zero drift", "silent board or gateway", "noisy supply",
        "slow response",
    ]  # fmt: skip


def test_a_dismissed_finding_says_by_whom_and_why() -> None:
    said = report(some_days())
    (shift,) = said.dismissed
    assert shift.word == "dismissed"
    assert ("Dismissed", "Wed 3 Jun 2026, 09:00 by Ines") in shift.facts
    assert ("Reason", "we raised the tube that day") in shift.facts
    assert "level shift" not in [block.title for block in said.findings]


def test_a_finding_about_a_source_or_another_tensiometer_says_whom_it_concerns() -> None:
    noisy = next(block for block in report(a_season()).findings if block.title == "noisy supply")
    assert ("Concerns", "all of source bus1") in noisy.facts
    swapped = finding(FindingKind.SWAPPED, 1.0, 2.0, subject="tensiometer/north-1-60", others=("north-1-30",))
    (block,) = report(with_findings(swapped)).findings
    assert ("Concerns too", "north-1-60") in block.facts


def test_events_and_services_are_told_in_the_order_of_time() -> None:
    said = report(a_season()).happenings
    assert [one.time_us for one in said] == sorted(one.time_us for one in said)
    assert {one.what for one in said} == {
        "wetting", "saturation", "free water", "service (seen)", "re-prime (written down)",
    }  # fmt: skip
    wetting = next(one for one in said if one.what == "wetting")
    assert ("Time to reach 60 cm", "5.5 h") in wetting.facts


def test_an_event_that_goes_on_says_so() -> None:
    wet = Event(EventKind.SATURATION, "tensiometer/north-1-30", START_US, None, (Fact("highest", 0.4, "kPa"),))
    over = replace(wet, end_us=START_US + 30 * HOUR_US)
    (goes_on,) = report(with_findings(events=(wet,))).happenings
    (lasted,) = report(with_findings(events=(over,))).happenings
    assert ("Goes on", "yes") in goes_on.facts
    assert lasted.facts[0] == ("Lasted", "30 h")


def test_readings_are_shared_out_by_flag() -> None:
    assert report(some_days()).flags == (("1 pass", "56.1 % of 456"), ("4 fail", "43.9 % of 456"))
    assert share(0, 3) == "0 %"


def test_common_practice_is_marked_only_where_it_is_told() -> None:
    assert report(some_days()).star.startswith("* Common practice")
    assert report(with_findings()).star == ""
