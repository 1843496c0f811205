"""How tubes come back after they were opened."""

import math

import pytest

from parchd.contract import Cause
from parchd.diagnosis.kinds import FindingKind
from parchd.testing.courses import Course, through, watered
from parchd.testing.diagnosing import Curve, Watched, instrument

OWN = "bus1/north-30"
OTHERS = ("bus1/north-60", "bus1/south-30", "bus1/south-60")
OPENED_H = 20 * 24 + 10
NAMED = FindingKind.POOR_CONTACT, FindingKind.SLOW_RESPONSE, FindingKind.LOST_WATER


def opened(course: Course, tau_h: float) -> Course:
    """Let all vacuum out (2 kPa of it are water) for half an hour, then let it come back."""

    def reads(hours: float) -> float:
        if hours < OPENED_H:
            return course(hours)
        return -2.0 + (course(hours) + 2.0) * -math.expm1(-max(hours - OPENED_H - 0.5, 0.0) / tau_h)

    return reads


def farm() -> Watched:
    return Watched(*(instrument(one.partition("/")[2]) for one in (OWN, *OTHERS)))


def curves(own: Curve, others_opened: bool = True) -> dict[str, Curve]:
    ground = watered(every_days=9.0, floor_kpa=4.0, growth_per_day=0.15)
    beside = opened(ground, 0.7) if others_opened else ground
    return {OWN: own, **dict.fromkeys(OTHERS, beside)}


def test_a_sound_tube_that_was_opened_is_not_doubted() -> None:
    own = opened(watered(every_days=9.0, floor_kpa=4.0, growth_per_day=0.15), 1.5)

    assert farm().run(45 * 24, curves(own)).opened(*NAMED) == []


@pytest.mark.parametrize(("tau_h", "named"), [(14.0, set()), (40.0, {FindingKind.POOR_CONTACT})])
def test_a_tube_that_comes_back_over_days_but_falls_at_once_is_in_poor_contact(
    tau_h: float, named: set[FindingKind]
) -> None:
    """What is quicker may let in air, or stand in ground that gives its water slowly."""
    own = opened(watered(every_days=9.0, floor_kpa=4.0, growth_per_day=0.15), tau_h)

    assert farm().run(45 * 24, curves(own)).still_open() & set(NAMED) == named


def test_a_tube_that_comes_back_over_days_and_falls_slowly_is_slow() -> None:
    clogged = through(watered(every_days=9.0, floor_kpa=4.0, growth_per_day=0.15), lambda _: 20.0)

    watched = farm().run(45 * 24, curves(opened(clogged, 20.0)))

    assert watched.still_open() & set(NAMED) == {FindingKind.SLOW_RESPONSE}
    (found,) = watched.begun(FindingKind.SLOW_RESPONSE)
    assert found.facts[0].what == "after it was opened half of its vacuum came back within"
    assert 7.0 <= float(found.facts[0].value) <= 16.0


def test_water_that_leaves_the_ground_dry_may_leave_the_gap_open_and_tells_nothing_of_the_cup() -> None:
    dry = watered(every_days=9.0, floor_kpa=11.0, growth_per_day=0.12)

    watched = farm().run(45 * 24, curves(opened(through(dry, lambda _: 20.0), 20.0)))

    assert watched.opened(*NAMED) == []


def test_hours_of_which_nothing_is_known_do_not_make_an_opened_tube_slow() -> None:
    """Its converter was at its end for half a day, and it had come back by then; its falls are slow ones."""
    own = opened(through(watered(every_days=9.0, floor_kpa=4.0, growth_per_day=0.15), lambda _: 20.0), 4.0)

    def silent(hours: float) -> float | Cause:
        return Cause.SATURATED if OPENED_H + 2.0 <= hours < OPENED_H + 14.0 else own(hours)

    assert farm().run(45 * 24, curves(silent)).opened(FindingKind.SLOW_RESPONSE, FindingKind.POOR_CONTACT) == []


def test_a_tube_that_falls_back_by_half_of_what_had_come_back_got_water() -> None:
    slow = through(watered(every_days=9.0, floor_kpa=4.0, growth_per_day=0.15), lambda _: 20.0)

    def own(hours: float) -> float:
        since_h = hours - OPENED_H - 0.5
        wetted_kpa = 1.5 * math.exp(-(since_h - 3.0) / 8.0) if since_h > 3.0 else 0.0
        return opened(slow, 20.0)(hours) - wetted_kpa

    assert farm().run(45 * 24, curves(own)).opened(FindingKind.SLOW_RESPONSE) == []


def test_one_sample_that_stands_out_before_a_dip_of_the_wiring_tells_of_no_opening() -> None:
    ground = watered(every_days=9.0, floor_kpa=4.0, growth_per_day=0.25)
    dip_h = 18 * 24 + 12

    def own(hours: float) -> float:
        off_kpa = {dip_h - 2: -3.0, dip_h - 1: 7.0, dip_h: -5.0}
        return ground(hours) + off_kpa.get(int(hours), 0.0)

    beside = {one: lambda hours: ground(hours) - 4.0 * (int(hours) == dip_h) for one in OTHERS}
    hourly = Watched(*(instrument(one.partition("/")[2], interval_s=3600.0) for one in (OWN, *OTHERS)))

    assert hourly.run(45 * 24, {OWN: own, **beside}).opened(*NAMED) == []


def test_a_fall_by_itself_is_no_opening() -> None:
    own = opened(watered(every_days=9.0, floor_kpa=4.0, growth_per_day=0.15), 20.0)

    watched = farm().run(45 * 24, curves(own, others_opened=False))

    assert watched.opened(FindingKind.POOR_CONTACT, FindingKind.SLOW_RESPONSE) == []
