"""Whether a tensiometer can be believed now, in a word and in a sentence."""

from collections.abc import Callable
from datetime import datetime
from zoneinfo import ZoneInfo

from parchd.clock import to_datetime
from parchd.contract import Flag
from parchd.diagnosis.words import WORDS, confidence_words
from parchd.workbench.explain_case import Explained, Told

Pair = tuple[str, str]
HOUR_US = 3_600_000_000

FLAG_WORDS = {
    Flag.PASS: "believed",
    Flag.NOT_EVALUATED: "not evaluated",
    Flag.SUSPECT: "doubted",
    Flag.FAIL: "cannot be believed",
    Flag.MISSING: "missing",
}


def local_times(time_zone: str) -> Callable[[int], str]:
    """Write times as people of the site read them, to the minute.

    >>> local_times("Europe/Berlin")(1_780_000_000_000_000)
    'Thu 28 May 2026, 22:26'
    """
    zone = ZoneInfo(time_zone)

    def local(time_us: int) -> str:
        moment: datetime = to_datetime(time_us).astimezone(zone)
        return f"{moment:%a} {moment.day} {moment:%b %Y, %H:%M}"

    return local


def state_words(case: Explained, local: Callable[[int], str]) -> Pair:
    """Say in a word and in a sentence whether it can be believed now."""
    grave = [told for told in case.open_findings() if told.flag is not Flag.PASS]
    if grave:
        worst = grave[0].flag
        since = local(min(told.finding.start_us for told in grave if told.flag is worst))
        because = "; ".join(f"{WORDS[t.finding.key.kind].title} ({sure(t)})" for t in grave)
        can = "cannot be believed" if worst is Flag.FAIL else "is doubted"
        return FLAG_WORDS[worst], f"{case.portrait.name} {can} since {since}, because: {because}."
    word, sentence = _ungrave(case, local)
    mind = "; ".join(
        f"{WORDS[t.finding.key.kind].title} since {local(t.finding.start_us)}" for t in case.open_findings()
    )
    return word, f"{sentence} Mind: {mind}." if mind else sentence


def _ungrave(case: Explained, local: Callable[[int], str]) -> Pair:
    """The state when no finding speaks against it."""
    name, newest, service = case.portrait.name, case.newest, case.settling
    if service is not None:
        until = local(service.end_us)
        return "settling", f"{name} is settling after {service.work}; it can be believed from {until} on."
    if newest is None:
        return "no readings", f"{name} has no readings yet."
    if not newest.flag.decides:
        why = newest.cause.word or "it has no value"
        return FLAG_WORDS[newest.flag], f"The last reading of {name} ({local(newest.time_us)}) does not count: {why}."
    reads = "nothing" if newest.tension_kpa is None else f"{newest.tension_kpa:z.1f} kPa"
    if case.now_us - newest.time_us > max(3 * case.portrait.interval_s * 1e6, HOUR_US):
        return "silent", f"{name} has been silent since {local(newest.time_us)}; it read {reads} then."
    return "believed", f"{name} can be believed: it reads {reads} ({local(newest.time_us)}), and no finding doubts it."


def sure(told: Told) -> str:
    """How sure a finding is, in a word or two."""
    return confidence_words(told.finding.confidence)
