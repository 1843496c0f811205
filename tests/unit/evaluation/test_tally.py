"""Seasons added up, and held against the aims."""

import math

import pytest

from parchd.diagnosis.kinds import FindingKind as K
from parchd.evaluation.aims import aims
from parchd.evaluation.score import Stray
from parchd.evaluation.summary import summary
from parchd.evaluation.tally import HEALTHY, NOTHING, Tally, aside_lines, tally
from parchd.testing.judged import aside, chain, fault, found, missed, season


def row(result: Tally, name: str) -> tuple[int, int, int, int | None]:
    one = result.row(name)
    assert one is not None
    return one.faults, one.found, one.aside, one.false


def test_recall_counts_what_can_be_seen() -> None:
    result = tally([season(1, found(), found(), missed(), aside())])
    assert row(result, "lost-water") == (3, 2, 1, 0)
    assert result.all.recall == pytest.approx(2 / 3)


def test_precision_counts_false_findings_of_the_kind_that_was_said() -> None:
    strays = (Stray(chain(K.CRACKED_CUP), fault()), Stray(chain(name="creek-1-30")))
    result = tally([season(1, found(), found(), found(), strays=strays)])
    assert row(result, "lost-water") == (3, 3, 0, 1)
    assert row(result, "cracked-cup") == (0, 0, 0, 1)
    assert result.all.precision == pytest.approx(3 / 5)
    cracked = result.row("cracked-cup")
    assert cracked is not None
    assert math.isnan(cracked.recall)


def test_delays_count_from_the_beginning_and_from_when_the_fault_shows() -> None:
    lost = tally([season(1, found(after_h=4.0), found(after_h=8.0))]).row("lost-water")
    assert lost is not None
    assert (lost.delay_h, lost.shown_h, lost.dating_h) == ((4.0, 8.0), (3.0, 7.0), (-1.0, -1.0))


def test_forms_have_rows_of_their_own() -> None:
    result = tally([season(1, found(form="collapse"), missed(form="slow"), found(K.AIR_ENTRY))])
    assert [form.name for form in result.forms] == ["lost-water (collapse)", "lost-water (slow)"]
    assert row(result, "lost-water (collapse)") == (1, 1, 0, None)
    assert row(result, "lost-water (slow)") == (1, 0, 0, None)
    assert row(result, "lost-water") == (2, 1, 0, 0)


def test_rates_part_seasons_without_faults_from_healthy_tensiometers_beside_faulty_ones() -> None:
    stray = Stray(chain(name="creek-1-30"))
    beside = Stray(chain(K.CRACKED_CUP), fault())
    result = tally([season(1, found(), strays=(stray, beside)), season(2, faulty=False, strays=(stray, stray))])
    assert (result.false_healthy, result.years_healthy, result.healthy_rate) == (2, 2.0, 1.0)
    assert (result.false_beside, result.years_beside, result.beside_rate) == (1, 2.0, 0.5)


def test_the_confusion_table_says_what_was_taken_for_what() -> None:
    wrong = chain(K.CRACKED_CUP)
    results = [
        season(1, found(), found(), missed(), missed(wrong=(wrong,)), aside(), strays=(Stray(wrong, fault()),)),
        season(2, faulty=False, strays=(Stray(chain(name="creek-1-30")),)),
    ]
    assert {pair: count for pair, count in tally(results).confusion.items() if count} == {
        ("lost-water", "lost-water"): 2,
        ("lost-water", "cracked-cup"): 1,
        ("lost-water", NOTHING): 1,
        (HEALTHY, "lost-water"): 1,
        (HEALTHY, NOTHING): 7,
    }


def test_only_the_kinds_that_were_asked_for_count() -> None:
    result = tally([season(1, found(), missed(K.AIR_ENTRY), strays=(Stray(chain(K.SWAPPED)),))], [K.LOST_WATER])
    assert [one.name for one in result.rows] == ["lost-water"]
    assert (result.all.recall, result.all.precision) == (1.0, 1.0)


def verdicts(result: Tally) -> dict[str, str]:
    return {aim.what: aim.verdict for aim in aims(result)}


def test_an_aim_is_reached_missed_or_not_judged() -> None:
    said = verdicts(tally([season(1, found(after_h=6.0, form="collapse"))]))
    assert said["recall over all kinds"] == "reached"
    assert said["median delay of a collapse (lost water, air entry)"] == "reached"
    assert said["median delay of a slow loss of water"] == "not judged"
    assert said["recall of air-entry"] == "not judged"
    later = verdicts(tally([season(1, found(after_h=6.1, form="collapse"), missed(form="slow"))]))
    assert later["median delay of a collapse (lost water, air entry)"] == "missed"
    assert later["recall of lost-water"] == "missed"


def test_the_delay_of_a_collapse_is_that_of_lost_water_and_air_entry_together() -> None:
    judged = (found(after_h=2.0, form="collapse"), found(K.AIR_ENTRY, 4.0), found(K.AIR_ENTRY, 30.0))
    aim = next(aim for aim in aims(tally([season(1, *judged)])) if "collapse" in aim.what)
    assert aim.result == 4.0


def test_the_summary_says_the_numbers() -> None:
    text = "\n".join(summary(tally([season(1, found(), missed(), strays=(Stray(chain(K.CRACKED_CUP), fault()),))])))
    assert "recall over all kinds" in text
    assert "     1  lost-water -> cracked-cup" in text
    assert "     1  lost-water -> nothing" in text
    (line,) = [line for line in text.splitlines() if line.startswith("lost-water ")]
    assert line.split()[1:5] == ["2", "1", "0.500", "0"]


def test_nothing_at_all_makes_a_summary_without_numbers() -> None:
    assert "nothing was taken for anything else" in "\n".join(summary(tally([])))


def test_faults_set_aside_are_counted_by_the_reason() -> None:
    results = [season(1, aside(), aside(K.ZERO_DRIFT)), season(2, aside(), found())]
    (line,) = aside_lines(tally(results))
    assert line.startswith("3 set aside: ")
    assert line in list(summary(tally(results)))
    assert aside_lines(tally(results, (K.ZERO_DRIFT,))) == [line.replace("3", "1", 1)]
    assert aside_lines(tally([season(2, found())])) == []
