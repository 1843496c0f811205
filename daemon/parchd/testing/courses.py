"""Courses of tension for tests: ground that is watered and dries, and what cups and wires make of it.

>>> ground = watered(every_days=8.0, floor_kpa=3.0, growth_per_day=0.25, swing_kpa=0.0)
>>> round(ground(24.0 * 7), 1), round(ground(24.0 * 8 + 20), 1)
(17.3, 3.7)
"""

import math
from collections.abc import Callable

Course = Callable[[float], float]
"""From hours since the beginning to kPa."""

STEP_H = 0.25


def watered(
    every_days: float = 8.0,
    floor_kpa: float = 3.0,
    growth_per_day: float = 0.25,
    falls_within_h: float = 1.5,
    swing_kpa: float = 0.3,
    late_h: float = 0.0,
) -> Course:
    """Let soil dry ever faster, and be watered again and again.

    Args:
        every_days: from water to water; the first one comes after so many days.
        floor_kpa: to where it falls.
        growth_per_day: natural logarithm of how it dries.
        falls_within_h: time constant of a fall.
        swing_kpa: half of the daily swing, highest at 20:00.
        late_h: so much later water comes here.
    """
    top_kpa = floor_kpa * math.exp(growth_per_day * every_days)

    def course(hours: float) -> float:
        days = (hours - late_h) / 24.0
        since = days % every_days if days >= every_days else max(days, 0.0)
        left = (top_kpa - floor_kpa) * math.exp(-24.0 * since / falls_within_h) if days >= every_days else 0.0
        swing = swing_kpa * math.cos(2.0 * math.pi * (hours - 20.0) / 24.0)
        return floor_kpa * math.exp(growth_per_day * since) + left + swing

    return course


def through(course: Course, tau_h: Course) -> Course:
    """Feel a course through a cup whose time constant may grow; 0: at once. Ask in the order of time."""
    felt = [course(0.0)]

    def feels(hours: float) -> float:
        while (len(felt) - 1) * STEP_H < hours:
            now_h = len(felt) * STEP_H
            tau = tau_h(now_h)
            share = 1.0 if tau <= 0.0 else -math.expm1(-STEP_H / tau)
            felt.append(felt[-1] + share * (course(now_h) - felt[-1]))
        return felt[round(hours / STEP_H)]

    return feels


def loose(course: Course, from_h: float, share: float, above_kpa: float = 10.0) -> Course:
    """Follow a course only in part above some tension, from some hour on: a cup in poor contact."""

    def feels(hours: float) -> float:
        soil = course(hours)
        return soil if hours < from_h or soil < above_kpa else above_kpa + share * (soil - above_kpa)

    return feels


def shifted(course: Course, from_h: float, by_kpa: float, until_h: float = math.inf) -> Course:
    """Move a course by a step at some hour, and back at another."""
    return lambda hours: course(hours) + (by_kpa if from_h <= hours < until_h else 0.0)


def stepped(course: Course, step_kpa: float = 0.12) -> Course:
    """Round to the steps of a coarse converter."""
    return lambda hours: step_kpa * round(course(hours) / step_kpa)


def rippled(course: Course, size_kpa: float = 0.05) -> Course:
    """Add what looks like noise: the same each time."""
    return lambda hours: course(hours) + size_kpa * math.sin(12_345.6 * hours) * math.sin(777.7 * hours + 1.0)
