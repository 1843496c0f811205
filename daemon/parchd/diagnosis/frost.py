"""Frost: water in a tube that may freeze, or has frozen."""

from collections.abc import Iterable, Iterator

from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.verdict import Case, Look, Over, Verdict

RISK_C = 2.0
"""A tube above the ground is colder than the thermometer beside it on a clear night."""
FROZEN_C, FROZEN_H = 0.0, 2
"""Water in a narrow tube stays liquid some while below zero; ISO 11276 calls a tensiometer unusable below 0 degC."""
NOT_A_TEMPERATURE_C = -45.0
"""What thermometers send when they are broken is lower."""
SAFE_C, SAFE_H = 3.0, 6
THAWED_C, THAWED_H = 1.0, 24
WEEK_H = 7 * 24
"""Cold nights of one week are one finding."""


def watch(look: Look) -> Iterable[Verdict]:
    """Follow the temperature of a tensiometer, where it is measured."""
    now_c = look.now.temperature_c
    return _judge(look, now_c) if now_c >= NOT_A_TEMPERATURE_C else ()


def _judge(look: Look, now_c: float) -> Iterator[Verdict]:
    if look.has(FindingKind.FROZEN):
        yield from _thawing(look)
    elif now_c < FROZEN_C and _cold_hours(look, FROZEN_C) >= FROZEN_H:
        yield _case(look, FindingKind.FROZEN, FROZEN_C, 0.9)
    yield from _risk(look, now_c)
    if now_c < RISK_C:
        look.standing.notes["frost.cold"] = look.hour


def was_cold(look: Look, hours: int = THAWED_H) -> bool:
    """Whether ice may have done it: it was below zero within the last day, or the hours asked for."""
    return any(NOT_A_TEMPERATURE_C < value < FROZEN_C for value in look.past("temperature_c", hours))


def _thawing(look: Look) -> Iterator[Verdict]:
    if _warm_for(look, THAWED_C, THAWED_H):
        yield Over(FindingKind.FROZEN, (look.hour - THAWED_H + 1) * HOUR_US)


def _risk(look: Look, now_c: float) -> Iterator[Verdict]:
    if look.has(FindingKind.FROST_RISK):
        if _warm_for(look, SAFE_C, SAFE_H) and not _cold_in(look, WEEK_H):
            yield Over(FindingKind.FROST_RISK, _last_cold(look) * HOUR_US)
    elif now_c < RISK_C and not _told(look):
        yield _case(look, FindingKind.FROST_RISK, RISK_C, 0.95)


def _case(look: Look, kind: FindingKind, below_c: float, confidence: float) -> Case:
    hours = _cold_hours(look, below_c)
    lowest_c = min(known(look.past("temperature_c", hours)))
    start_us = (look.hour - hours + 1) * HOUR_US
    return Case(kind, start_us, confidence, (Fact("lowest", lowest_c, "degC"), Fact("cold for", float(hours), "h")))


def _cold_hours(look: Look, below_c: float) -> int:
    """Hours without a break, up to now, that were colder."""
    past = look.past("temperature_c", THAWED_H)
    return next((n for n, value in enumerate(reversed(past)) if not value < below_c), THAWED_H)


def _warm_for(look: Look, above_c: float, hours: int) -> bool:
    past = known(look.past("temperature_c", hours))
    return len(past) > hours // 2 and min(past) > above_c


def _cold_in(look: Look, hours: int) -> bool:
    return any(NOT_A_TEMPERATURE_C < value < RISK_C for value in look.past("temperature_c", hours))


def _last_cold(look: Look) -> int:
    """The hour after the last cold one that is remembered."""
    cold = look.standing.notes.get("frost.cold")
    return cold + 1 if isinstance(cold, int) else look.hour - WEEK_H


def _told(look: Look) -> bool:
    cold = look.standing.notes.get("frost.cold")
    return isinstance(cold, int) and look.hour - cold < WEEK_H
