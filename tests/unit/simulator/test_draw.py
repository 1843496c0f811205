"""Laws of plans drawn at random."""

from collections import Counter

from parchd.diagnosis.kinds import FindingKind
from parchd.physics.retention import SOILS
from parchd.simulator.draw import INTERVALS_S, draw_plan
from parchd.simulator.draw_faults import (
    EARLIEST,
    FROM_START,
    FROST,
    LATEST,
    MOST_IN_ZONE,
    OWN,
    PRESSURES,
    SHARED,
    WIRES,
)
from parchd.simulator.farm import Farm
from parchd.simulator.plan import Plan
from parchd.simulator.wiring import WIRINGS

PLANS = [draw_plan(seed, faults=True) for seed in range(400)]


def share(plan: Plan, onset_us: int) -> float:
    return (onset_us - plan.start_us) / (plan.end_us - plan.start_us)


def test_a_healthy_plan_has_no_fault() -> None:
    assert all(draw_plan(seed, faults=False).faults == () for seed in range(50))


def test_a_season_has_twelve_tensiometers_and_half_a_year() -> None:
    assert all(len(Farm(plan).names) == 12 and plan.days == 180 for plan in PLANS)


def test_each_tensiometer_has_one_fault_of_its_own_at_most_and_each_season_one_shared() -> None:
    for plan in PLANS:
        targets = Counter(fault.target for fault in plan.faults)
        assert max(targets.values(), default=0) <= 1
        assert sum(fault.target.startswith("source/") for fault in plan.faults) <= 1
        swapped = [fault.target for fault in plan.faults if fault.kind is FindingKind.SWAPPED]
        assert all(target.replace("-30", "-60") not in targets for target in swapped)


def own_rows(plan: Plan) -> list[int]:
    """Tensiometers with a fault of their own, and those exchanged with them."""
    farm = Farm(plan)
    own = [fault for fault in plan.faults if fault.target.startswith("tensiometer/")]
    return [
        row
        for fault in own
        for first in [farm.number_of(fault.target)]
        for row in ((first, first + 1) if fault.kind is FindingKind.SWAPPED else (first,))
    ]


def test_hardly_a_third_of_the_tensiometers_go_wrong() -> None:
    ill = sum(len(own_rows(plan)) for plan in PLANS)
    assert 0.26 < ill / len(PLANS) / 12 <= 1.0 / 3.0


def test_at_least_two_of_the_four_tensiometers_of_a_zone_are_sound() -> None:
    most = [max(Counter(Farm(plan).zone_of[own_rows(plan)].tolist()).values(), default=0) for plan in PLANS]
    assert max(most) == MOST_IN_ZONE


def test_every_kind_comes_about_as_often_as_the_others_of_its_group() -> None:
    counts = Counter(fault.kind for plan in PLANS for fault in plan.faults)
    assert set(counts) == set(FindingKind)
    for group in (OWN, SHARED, FROST):
        mean = sum(counts[kind] for kind in group) / len(group)
        assert all(0.6 * mean < counts[kind] < 1.6 * mean for kind in group)


def test_onsets_lie_where_the_season_leaves_room_on_both_sides() -> None:
    for plan in PLANS:
        for fault in plan.faults:
            at = share(plan, fault.onset_us)
            if fault.kind in FROST:
                assert 0.0 < at < EARLIEST
            else:
                assert EARLIEST <= at <= LATEST or (at == 0.0 and fault.kind in FROM_START)


def test_every_fault_finds_a_wiring_that_can_show_it() -> None:
    for plan in PLANS:
        farm = Farm(plan)
        for fault in plan.faults:
            if fault.kind in WIRES | PRESSURES:
                wiring = WIRINGS[plan.wiring_of(farm.source_of(farm.number_of(fault.target)))]
                assert wiring.tells_open or fault.kind in PRESSURES
                assert wiring.has_rails or fault.kind is not FindingKind.SATURATED
                assert not wiring.tells_open or fault.kind not in PRESSURES
            assert plan.barometer or fault.kind is not FindingKind.BLOCKED_VENT
            assert plan.thermometer or fault.kind not in FROST


def test_all_soils_and_intervals_come_up() -> None:
    assert {soil for plan in PLANS for soil in plan.soils} == set(SOILS)
    assert {plan.interval_s for plan in PLANS} == set(INTERVALS_S)
