"""What is kept of a test."""

from dataclasses import replace
from datetime import datetime

from parchd import __version__
from parchd.pipeline.setup import TensiometerSetup
from parchd.workbench.chart import Chart
from parchd.workbench.proof import Proof, Result, Subject, Terms
from parchd.workbench.proof_words import TITLES
from parchd.workbench.records import RecordValue

_UNITS = {Proof.HOLD: "vacuum at the transducer, kPa", Proof.TOWEL: "tension at the cup, kPa"}


def proof_record(
    result: Result, subject: Subject, setup: TensiometerSetup, terms: Terms, began: datetime, origin: str, by: str
) -> dict[str, RecordValue]:
    """Put the numbers of a test together.

    Args:
        began: local time at the site.
        origin: where the samples came from.
        by: who did it; may be empty.
    """
    record: dict[str, RecordValue] = {
        "tensiometer": subject.name,
        "site": setup.place.site,
        "test": result.proof.value,
        "began": began.replace(microsecond=0),
        "outcome": result.outcome.value,
        "headline": result.headline,
    }
    record |= {fact.key: round(fact.value, 4) for fact in result.facts}
    record |= _terms(result.proof, terms)
    record |= {"meaning": result.meaning, "advice": result.advice}
    record |= {"height_m": setup.height_m, "depth_m": setup.place.depth_m, "samples_from": origin}
    if by:
        record["by"] = by
    record["program"] = f"parchd {__version__}"
    record["curve"] = tuple((round(t, 3), round(y, 3)) for t, y in result.points)
    return record


def proof_comment(proof: Proof) -> str:
    """The head of the record."""
    value = _UNITS.get(proof, _UNITS[Proof.TOWEL])
    return f"{TITLES[proof]}, written by parchd prove. curve: seconds since the start, {value}."


def proof_picture(result: Result, began: datetime, by: str) -> Chart:
    """The chart of a test with its verdict, to be looked at without the record."""
    who = f" by {by}" if by else ""
    title = f"{TITLES[result.proof]}: {result.chart.title.partition(':')[0]}, {began:%Y-%m-%d %H:%M}{who}"
    verdict = f"{result.outcome.value.upper()}: {result.headline}."
    facts = f"{'; '.join(fact.text for fact in result.facts)}." if result.facts else ""
    notes = (verdict, *([facts] if facts else []), *result.meaning)
    units = {"s": "seconds", "min": "minutes"}
    return replace(result.chart, title=title, x_title=units[result.chart.x_title], notes=notes)


def _terms(proof: Proof, terms: Terms) -> dict[str, RecordValue]:
    """What had to be shown."""
    if proof is Proof.HOLD:
        return {"allowed_kpa_in_5_min": terms.leak_kpa, "time_limit_s": terms.hold_s}
    if proof is Proof.TOWEL:
        return {"target_kpa": terms.target_kpa, "good_kpa": terms.good_kpa, "time_limit_s": terms.towel_s}
    return {"allowed_zero_kpa": terms.zero_kpa, "slow_after_s": terms.slow_s, "time_limit_s": terms.return_s}
