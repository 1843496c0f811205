"""One test for each rule of the score; truth and findings are made by hand."""

from dataclasses import replace

import pytest

from parchd.diagnosis.findings import End, Finding, FindingKey
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind as K
from parchd.evaluation.accepted import ACCEPTED_WITH
from parchd.evaluation.run import Chain
from parchd.evaluation.score import AFTER_US, BEFORE_US, Mark, Score, score
from parchd.evaluation.showing import Showing
from parchd.simulator.season import Fault

DAY = 24 * HOUR_US
SUBJECT = "tensiometer/north-1-30"
FAULT = Fault(K.LOST_WATER, SUBJECT, 10 * DAY, 20 * DAY, 1.0, (), "collapse")


def finding(kind: K = K.LOST_WATER, found_us: int = 11 * DAY, subject: str = SUBJECT) -> Finding:
    return Finding(FindingKey(kind, subject), found_us - HOUR_US, found_us, 0.9)


def chain(*findings: Finding) -> Chain:
    return Chain(findings or (finding(),))


def judge(*chains: Chain, faults: tuple[Fault, ...] = (FAULT,), showing: Showing | None = None) -> Score:
    shown = showing or Showing(10 * DAY)
    return score(
        faults, [shown] * len(faults), chains, lambda f: frozenset((f.subject, *(f"tensiometer/{o}" for o in f.others)))
    )


def marks(result: Score) -> list[Mark]:
    return [one.mark for one in result.judged]


def test_a_finding_of_the_right_kind_on_the_right_subject_while_the_fault_holds_is_right() -> None:
    result = judge(chain())
    assert marks(result) == [Mark.FOUND]
    assert result.judged[0].chain == chain()
    assert result.strays == ()


def test_a_fault_that_nothing_was_said_of_is_missed() -> None:
    assert marks(judge()) == [Mark.MISSED]


@pytest.mark.parametrize(
    ("found_us", "mark"),
    [
        (FAULT.start_us, Mark.FOUND),
        (FAULT.start_us - 1, Mark.MISSED),
        (20 * DAY + AFTER_US, Mark.FOUND),
        (20 * DAY + AFTER_US + 1, Mark.MISSED),
    ],
)
def test_a_finding_counts_from_the_beginning_of_a_fault_to_a_week_after_its_end(found_us: int, mark: Mark) -> None:
    result = judge(chain(finding(found_us=found_us)))
    assert marks(result) == [mark]
    assert len(result.strays) == (mark is Mark.MISSED)


@pytest.mark.parametrize(("early_us", "mark"), [(BEFORE_US, Mark.FOUND), (BEFORE_US + 1, Mark.MISSED)])
def test_a_warning_of_frost_may_come_before_its_time(early_us: int, mark: Mark) -> None:
    risk = replace(FAULT, kind=K.FROST_RISK)
    assert marks(judge(chain(finding(K.FROST_RISK, risk.start_us - early_us)), faults=(risk,))) == [mark]


def test_a_fault_that_never_ends_may_be_found_at_any_time() -> None:
    assert marks(judge(chain(finding(found_us=900 * DAY)), faults=(replace(FAULT, end_us=None),))) == [Mark.FOUND]


def test_a_finding_of_another_kind_is_false_and_stands_beside_the_fault() -> None:
    wrong = chain(finding(K.CRACKED_CUP))
    result = judge(wrong)
    assert marks(result) == [Mark.MISSED]
    assert [(stray.chain, stray.beside) for stray in result.strays] == [(wrong, FAULT)]
    assert result.judged[0].wrong == (wrong,)


def test_a_finding_on_another_subject_is_false_and_beside_nothing() -> None:
    result = judge(chain(finding(subject="tensiometer/north-1-60")))
    assert marks(result) == [Mark.MISSED]
    assert [stray.beside for stray in result.strays] == [None]


def test_a_finding_on_a_tensiometer_named_beside_the_fault_is_right() -> None:
    swapped = replace(FAULT, kind=K.SWAPPED, others=("north-1-60",))
    result = judge(chain(finding(K.SWAPPED, subject="tensiometer/north-1-60")), faults=(swapped,))
    assert marks(result) == [Mark.FOUND]


def test_one_silent_channel_does_not_find_a_silent_source() -> None:
    silent = Fault(K.SILENT_SOURCE, "source/gateway-a", 10 * DAY, 20 * DAY, 240.0, ("north-1-30",))
    result = judge(chain(finding(K.SILENT_CHANNEL)), faults=(silent,))
    assert marks(result) == [Mark.MISSED]
    assert len(result.strays) == 1


def test_a_chain_is_judged_by_its_last_kind() -> None:
    early = replace(finding(K.CRACKED_CUP, 10 * DAY + HOUR_US), ended_us=0, end=End.REFINED)
    right, wrong = chain(early, finding()), chain(replace(finding(), key=early.key), finding(K.AIR_LEAK))
    assert marks(judge(right)) == [Mark.FOUND]
    assert judge(right).strays == ()
    assert marks(judge(wrong)) == [Mark.MISSED]


def test_what_a_chain_said_before_the_fault_began_is_false() -> None:
    early = replace(finding(K.CRACKED_CUP, 5 * DAY), ended_us=0, end=End.REFINED)
    result = judge(chain(early, finding()))
    assert marks(result) == [Mark.FOUND]
    assert result.judged[0].chain == chain()
    assert [stray.chain for stray in result.strays] == [chain(early)]


def test_a_chain_about_something_healthy_is_one_false_finding() -> None:
    healthy = "tensiometer/north-1-60"
    result = judge(chain(finding(K.CRACKED_CUP, subject=healthy), finding(subject=healthy)))
    assert [stray.kind for stray in result.strays] == [K.LOST_WATER]


def test_repeats_of_a_right_finding_count_for_nothing() -> None:
    later = chain(finding(found_us=15 * DAY))
    result = judge(chain(), later)
    assert marks(result) == [Mark.FOUND]
    assert result.judged[0].chain == chain()
    assert result.strays == ()


def test_two_faults_of_one_kind_on_one_subject_need_a_finding_each_and_one_is_about_that_next_to_its_evidence() -> None:
    later = replace(FAULT, start_us=16 * DAY)
    assert marks(judge(chain(finding(found_us=17 * DAY)), faults=(FAULT, later))) == [Mark.MISSED, Mark.FOUND]
    both = judge(chain(), chain(finding(found_us=17 * DAY)), faults=(FAULT, later))
    assert marks(both) == [Mark.FOUND, Mark.FOUND]


def test_an_accepted_kind_beside_a_fault_is_neither_right_nor_false() -> None:
    frozen = replace(FAULT, kind=K.FROZEN)
    result = judge(chain(finding(K.FROST_RISK)), faults=(frozen,))
    assert marks(result) == [Mark.MISSED]
    assert result.strays == ()


def test_an_accepted_kind_is_false_when_the_fault_does_not_hold() -> None:
    frozen = replace(FAULT, kind=K.FROZEN)
    assert len(judge(chain(finding(K.FROST_RISK, 5 * DAY)), faults=(frozen,)).strays) == 1


def test_every_accepted_pair_has_a_reason_and_names_two_kinds() -> None:
    pairs = [(truth, said, reason) for truth, row in ACCEPTED_WITH.items() for said, reason in row.items()]
    assert all(truth is not said and reason for truth, said, reason in pairs)
    assert len(pairs) < 8


def test_a_fault_that_cannot_be_seen_is_set_aside_even_if_it_was_found() -> None:
    hidden = Showing(None, "no reading differs")
    assert marks(judge(showing=hidden)) == [Mark.ASIDE]
    found = judge(chain(), showing=hidden)
    assert marks(found) == [Mark.ASIDE]
    assert found.strays == ()


def test_a_real_outage_is_counted_apart() -> None:
    silence = chain(finding(K.SILENT_SOURCE, subject="source/gateway-a"))
    result = score([], [], [silence], lambda _: frozenset(), lambda one: one == silence)
    assert (result.strays, result.outages) == ((), 1)
