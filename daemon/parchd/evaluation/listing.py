"""Each missed fault and each false finding in words, for whoever tunes a detector."""

from collections.abc import Iterable, Iterator, Sequence

from parchd.clock import to_datetime
from parchd.diagnosis.findings import Fact, Finding
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.evaluation.result import SeasonResult
from parchd.evaluation.run import Chain
from parchd.evaluation.score import Judged, Mark, Stray
from parchd.simulator.season import Fault


def listed(results: Iterable[SeasonResult], kinds: Sequence[FindingKind]) -> Iterator[str]:
    """Lines about all that went wrong, season by season."""
    for result in results:
        missed = [one for one in result.judged if one.mark is Mark.MISSED and one.fault.kind in kinds]
        strays = [stray for stray in result.strays if stray.kind in kinds or _kind(stray) in kinds]
        if missed or strays:
            yield f"season {result.seed}: {result.description}"
        yield from (f"  {line}" for one in missed for line in missed_lines(one, result))
        yield from (f"  {line}" for stray in strays for line in false_lines(stray, result))


def _kind(stray: Stray) -> FindingKind | None:
    return stray.beside.kind if stray.beside else None


def missed_lines(one: Judged, result: SeasonResult) -> Iterator[str]:
    """Say what was missed, and what was said instead."""
    yield f"MISSED {fault_text(one.fault)}; {shows_text(one)}{_soil(one.fault.subject, result)}"
    yield from (f"    instead: {chain_text(chain)}" for chain in one.wrong)


def false_lines(stray: Stray, result: SeasonResult) -> Iterator[str]:
    """Say what was found without reason."""
    where = f"beside {fault_text(stray.beside)}" if stray.beside else "on what is healthy"
    yield f"FALSE  {chain_text(stray.chain)}{_soil(stray.chain.last.key.subject, result)}; {where}"
    yield f"    {facts_text(stray.chain.last)}"


def shows_text(one: Judged) -> str:
    """When a fault first shows, in hours after its beginning."""
    if one.showing.from_us is None:
        return "never shows"
    return f"shows after {(one.showing.from_us - one.fault.start_us) / HOUR_US:.1f} h"


def fault_text(fault: Fault) -> str:
    """A true fault in one line."""
    form = f" ({fault.form})" if fault.form else ""
    others = f" with {', '.join(fault.others)}" if 0 < len(fault.others) <= 3 else ""
    end = "" if fault.end_us is None else f" until {moment(fault.end_us)}"
    what = f"{fault.kind.value}{form} of {fault.subject}{others}"
    return f"{what}, size {fault.size:.2f}, from {moment(fault.start_us)}{end}"


def chain_text(chain: Chain) -> str:
    """What was said, in one line: kinds of a chain one after the other."""
    return " > ".join(finding_text(one) for one in chain.findings)


def finding_text(one: Finding) -> str:
    """A finding in one line."""
    end = "" if one.ended_us is None or one.end is None else f", {one.end.value} {moment(one.ended_us)}"
    return (
        f"{one.key.kind.value} of {one.key.subject} found {moment(one.found_us)} "
        f"since {moment(one.start_us)} ({one.confidence:.2f}){end}"
    )


def facts_text(one: Finding) -> str:
    """The evidence of a finding."""
    return "; ".join(_fact(fact) for fact in one.facts) or "no evidence given"


def _fact(fact: Fact) -> str:
    if fact.unit == "time":
        return f"{fact.what} {moment(int(fact.value))}"
    value = f"{fact.value:.4g}" if isinstance(fact.value, float) else f"{fact.value}"
    return f"{fact.what} {value} {fact.unit}".rstrip()


def _soil(subject: str, result: SeasonResult) -> str:
    soil = result.soils.get(subject.partition("/")[2], "")
    return f" [{soil}, {result.plan.interval_s / 60:g} min]" if soil else f" [{result.plan.interval_s / 60:g} min]"


def moment(time_us: int) -> str:
    """A time, short.

    >>> moment(1_780_000_000_000_000)
    '05-28 20:26'
    """
    return f"{to_datetime(time_us):%m-%d %H:%M}"
