"""What the diagnosis said, linked into chains."""

from dataclasses import replace

from parchd.diagnosis.findings import End, Event, Finding, FindingKey, Outcome
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import EventKind
from parchd.diagnosis.kinds import FindingKind as K
from parchd.evaluation.run import Chain, Collector

FIRST = Finding(FindingKey(K.CRACKED_CUP, "tensiometer/a"), 0, HOUR_US, 0.7)
SECOND = Finding(FindingKey(K.LOST_WATER, "tensiometer/a"), 0, 5 * HOUR_US, 0.9)
ELSEWHERE = Finding(FindingKey(K.LOST_WATER, "tensiometer/b"), 0, 5 * HOUR_US, 0.9)


def ended(finding: Finding, end: End) -> Finding:
    return replace(finding, ended_us=9 * HOUR_US, end=end)


def collected(*findings: Finding) -> tuple[Chain, ...]:
    collector = Collector()
    for one in findings:
        collector.take(Outcome((one,)), one.ended_us or one.found_us)
    return collector.heard().chains


def test_a_finding_that_is_refined_goes_on_in_the_one_that_takes_its_place() -> None:
    refined = ended(FIRST, End.REFINED)
    assert collected(FIRST, refined, SECOND) == (Chain((refined, SECOND)),)
    assert collected(FIRST, refined, SECOND)[0].first_us == HOUR_US


def test_a_finding_that_recovered_is_a_chain_of_its_own() -> None:
    over = ended(FIRST, End.RECOVERED)
    assert collected(FIRST, over, SECOND) == (Chain((over,)), Chain((SECOND,)))


def test_a_finding_elsewhere_does_not_go_on_with_it() -> None:
    refined = ended(FIRST, End.REFINED)
    assert collected(FIRST, refined, ELSEWHERE) == (Chain((refined,)), Chain((ELSEWHERE,)))


def test_several_findings_may_be_refined_into_one() -> None:
    third = Finding(FindingKey(K.AIR_ENTRY, "tensiometer/a"), 0, 7 * HOUR_US, 0.9)
    one, two = ended(FIRST, End.REFINED), ended(SECOND, End.REFINED)
    assert collected(FIRST, SECOND, one, two, third) == (Chain((one, two, third)),)


def test_the_same_finding_made_twice_is_two_chains() -> None:
    over, again = ended(FIRST, End.RECOVERED), replace(FIRST, start_us=20 * HOUR_US, found_us=21 * HOUR_US)
    assert collected(FIRST, over, again, ended(again, End.RECOVERED)) == (
        Chain((over,)),
        Chain((ended(again, End.RECOVERED),)),
    )


def test_an_event_is_kept_as_it_was_last_told() -> None:
    small = Event(EventKind.WETTING, "station/north/1", 0, None)
    grown = replace(small, end_us=HOUR_US)
    collector = Collector()
    collector.take(Outcome(events=(small, grown)), HOUR_US)
    assert collector.heard().events == (grown,)


def test_a_finding_counts_as_made_when_its_readings_arrived_whatever_the_clock_of_the_device_says() -> None:
    collector = Collector()
    collector.take(Outcome((FIRST,)), 20 * HOUR_US)
    collector.take(Outcome((ended(FIRST, End.REFINED), SECOND)), 3 * HOUR_US)
    (chain,) = collector.heard().chains
    assert [one.found_us for one in chain.findings] == [19 * HOUR_US, 3 * HOUR_US]
    assert chain.first_us == 3 * HOUR_US
