"""``parchd findings`` and ``parchd dismiss``: what the diagnosis says, and people who know better."""

import csv
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from parchd.cli.exits import Exit
from parchd.cli.findings import COLUMNS
from parchd.clock import US_PER_S, SystemClock, from_datetime
from parchd.diagnosis.findings import End, Event, Fact, Finding, FindingKey
from parchd.diagnosis.kinds import EventKind, FindingKind
from parchd.store import findings
from parchd.testing.commands import Farm, parchd

HOUR_US = 3600 * US_PER_S
NOON_US = from_datetime(datetime(2026, 7, 1, 12, tzinfo=ZoneInfo("Europe/Lisbon")))
SINCE = ("--since", "2026-06-01", "--until", "2026-08-01")


def finding(kind: FindingKind, subject: str = "tensiometer/t0", hours: float = 0.0) -> Finding:
    start_us = NOON_US + round(hours * HOUR_US)
    facts = (Fact("fell by", 41.24, "kPa"), Fact("low since", start_us, "time"))
    return Finding(FindingKey(kind, subject), start_us, start_us + 5 * HOUR_US, 0.97, facts)


def ended(one: Finding, hours: float, end: End) -> Finding:
    return Finding(one.key, one.start_us, one.found_us, 0.97, one.facts, NOON_US + round(hours * HOUR_US), end)


@pytest.fixture
def told(quillmere: Farm) -> Farm:
    """One finding holds; one recovered, one was dismissed, one gave way; and there was a wetting."""
    with quillmere.engine(NOON_US) as bench:
        connection = bench.connection
        findings.begin(connection, finding(FindingKind.LOST_WATER, hours=20), "t", NOON_US)
        findings.begin(connection, finding(FindingKind.NOISY_SUPPLY, "source/field", 22), "t", NOON_US)
        for number, (kind, end, by, because) in enumerate(
            (
                (FindingKind.STUCK_VALUE, End.RECOVERED, "", ""),
                (FindingKind.LEVEL_SHIFT, End.DISMISSED, "Ines", "it was moved"),
                (FindingKind.AIR_LEAK, End.REFINED, "", ""),
            )
        ):
            one = finding(kind, hours=number)
            findings.begin(connection, one, "t", NOON_US)
            findings.end(connection, ended(one, number + 3, end), NOON_US + 9 * HOUR_US, by, because)
        wetting = Event(
            EventKind.WETTING, "station/block-0/post-0", NOON_US, NOON_US + 2 * HOUR_US, (Fact("depths", 2),)
        )
        findings.note_event(connection, wetting, NOON_US)
    return quillmere


def test_what_holds_comes_first_then_what_was_then_what_happened(told: Farm) -> None:
    said = parchd("findings", told.config, *SINCE)
    assert (said.code, said.err) == (Exit.OK, "")
    assert said.out.splitlines() == [
        "Open now: 2",
        "  since Thu 02 Jul 2026, 08:00  t0: lost water column [lost-water], nearly certain (97 %)",
        "      Fell by 41.2 kPa; Low since Thu 02 Jul 2026, 08:00",
        "  since Thu 02 Jul 2026, 10:00  source field: noisy supply [noisy-supply], nearly certain (97 %)",
        "      Fell by 41.2 kPa; Low since Thu 02 Jul 2026, 10:00",
        "",
        "History: 2",
        "  since Wed 01 Jul 2026, 12:00  t0: stuck value [stuck-value], nearly certain (97 %)",
        "      Fell by 41.2 kPa; Low since Wed 01 Jul 2026, 12:00",
        "      recovered, believed from Wed 01 Jul 2026, 15:00 on",
        "  since Wed 01 Jul 2026, 13:00  t0: level shift [level-shift], nearly certain (97 %)",
        "      Fell by 41.2 kPa; Low since Wed 01 Jul 2026, 13:00",
        "      dismissed by Ines on Wed 01 Jul 2026, 21:00: it was moved",
        "",
        "Events: 1",
        "  Wed 01 Jul 2026, 12:00 until Wed 01 Jul 2026, 14:00  station block-0/post-0: wetting",
        "      Depths 2",
    ]


def test_what_gave_way_to_a_better_explanation_is_shown_when_asked_for(told: Farm) -> None:
    assert "air-leak" not in parchd("findings", told.config, *SINCE).out
    said = parchd("findings", told.config, *SINCE, "--all").out
    assert "slow air leak [air-leak]" in said
    assert "gave way to a finding that explains the same better" in said


def test_what_happened_again_says_so_and_is_not_believed_in_between(told: Farm) -> None:
    with told.engine(NOON_US) as bench:
        one = finding(FindingKind.AIR_ENTRY, hours=1)
        findings.begin(bench.connection, one, "t", NOON_US)
        findings.end(bench.connection, ended(one, 4, End.REPEATED), NOON_US)
    said = parchd("findings", told.config, *SINCE).out
    assert "air entry at the dry end [air-entry]" in said
    assert "      it happened again: the next finding goes on\n" in said


def test_all_of_it_is_a_table_for_programs_too(told: Farm) -> None:
    table = list(csv.DictReader(parchd("findings", told.config, *SINCE, "--csv").out.splitlines()))
    assert tuple(table[0]) == COLUMNS
    assert [(row["what"], row["kind"], row["end"]) for row in table] == [
        ("finding", "lost-water", ""), ("finding", "noisy-supply", ""), ("finding", "stuck-value", "recovered"),
        ("finding", "level-shift", "dismissed"), ("event", "wetting", ""),
    ]  # fmt: skip
    assert (table[3]["by"], table[3]["because"], table[3]["begin_utc"]) == (
        "Ines",
        "it was moved",
        "2026-07-01T12:00:00Z",
    )
    assert table[0]["evidence"] == "Fell by 41.2 kPa; Low since 2026-07-02T07:00:00Z"


def test_a_span_in_which_nothing_was_found_says_so(told: Farm) -> None:
    said = parchd("findings", told.config, "--since", "2026-09-01", "--until", "2026-09-02").out
    assert "Open now: 2" in said
    assert "History: nothing in this span" in said
    assert "Events: none in this span" in said


def dismissed(farm: Farm, *words: str) -> tuple[int, str, str]:
    said = parchd("dismiss", *words[:2], farm.config, *words[2:])
    return said.code, said.out, said.err


def test_a_dismissal_is_done_here_when_no_daemon_runs_and_kept(told: Farm) -> None:
    code, out, err = dismissed(told, "t0", "lost-water", "--because", "dug out for an hour", "--by", "Ines")
    assert (code, err) == (Exit.OK, "")
    assert out == "t0: lost water column dismissed; the same evidence will not bring it back\n"
    listed = parchd("findings", told.config, "--since", "2026-06-01").out
    assert "Open now: 1" in listed
    assert "dismissed by Ines" in listed
    assert "dug out for an hour" in listed
    with told.engine(SystemClock().now_us()) as bench:
        assert (FindingKind.LOST_WATER, "tensiometer/t0") in findings.dismissed(bench.connection)


def test_a_finding_about_a_source_is_dismissed_by_its_name(told: Farm) -> None:
    assert dismissed(told, "field", "noisy-supply", "--because", "the pump was tested")[0] == Exit.OK


@pytest.mark.parametrize(
    ("words", "needed"),
    [
        (("t0", "broken"), "no finding is called broken"),
        (("t0", "air-entry"), "nothing called air-entry holds of t0"),
        (("t9", "lost-water"), "nothing called lost-water holds of t9"),
    ],
)
def test_what_cannot_be_dismissed_is_said(told: Farm, words: tuple[str, str], needed: str) -> None:
    code, _, err = dismissed(told, *words, "--because", "no reason")
    assert code == Exit.FAILED
    assert needed in err


@pytest.mark.parametrize("reason", [(), ("--because", "  ")])
def test_a_dismissal_needs_a_reason(told: Farm, reason: tuple[str, ...]) -> None:
    said = parchd("dismiss", "t0", "lost-water", told.config, *reason)
    assert said.code == Exit.USAGE
    assert "--because" in said.err


def test_status_says_what_is_wrong_and_since_when(told: Farm) -> None:
    with told.engine(NOON_US + 30 * HOUR_US) as bench:
        assert bench.events() == [
            ("lost-water", "tensiometer/t0", "raised"), ("noisy-supply", "source/field", "raised"),
        ]  # fmt: skip
    said = parchd("status", told.config).out
    assert "In need of a hand" in said
    assert "lost water column (nearly certain)  since Thu 2 Jul, 08:00" in said
    assert "source field" in said
