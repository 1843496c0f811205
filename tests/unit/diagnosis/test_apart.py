"""Tensiometers that have come apart from neighbours they used to go with, and stations that are only different."""

import math
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from parchd.diagnosis import apart
from parchd.diagnosis.apart import Told, with_deeper
from parchd.diagnosis.beside import compared, learn, logarithm
from parchd.diagnosis.falls_pace import Pace, pace_of
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.record import DAY, KEPT_BLOCKS, NOTE, WEIGHED, blocks_of, packed, unpacked
from parchd.diagnosis.suspects import CEILINGS_KPA, courses
from parchd.diagnosis.verdict import Look
from parchd.diagnosis.weighing import Evidence, freedom, possible, weigh
from parchd.testing.courses import Course, loose, through, watered
from parchd.testing.diagnosing import Watched, instrument

Floats = NDArray[np.float64]
HEAD_KPA, DAYS, BEGINS = 4.0, 84, 48
TUBES = FindingKind.AIR_LEAK, FindingKind.POOR_CONTACT, FindingKind.SLOW_RESPONSE
OWN, BESIDE, BELOW = "bus1/north-30", "bus1/north-32", "bus1/north-60"


def ground(**changes: float) -> Course:
    return watered(**{"every_days": 9.0, "floor_kpa": 3.0, "growth_per_day": 0.26} | changes)


def course(**changes: float) -> Floats:
    curve = ground(**changes)
    return blocks_of([curve(24.0 * 9.0 + hour) for hour in range(24 * DAYS)])


SOIL, NEAR = course(growth_per_day=0.28), course()
NAMED = [
    (FindingKind.AIR_LEAK, 0.65),
    (FindingKind.SLOW_RESPONSE, 35.0),
    (FindingKind.POOR_CONTACT, 0.3),
    (FindingKind.CRACKED_CUP, 4.0),
]
ZERO = [(FindingKind.LEVEL_SHIFT, 7.0), (FindingKind.ZERO_DRIFT, 0.18)]


def faulty(kind: FindingKind, size: float) -> Floats:
    made = courses(SOIL[None], np.array([float(BEGINS)]), HEAD_KPA)[kind]
    found: Floats = made.kpa[0, made.size.index(size)]
    return found


@pytest.mark.parametrize(("kind", "size"), NAMED)
def test_each_fault_explains_its_own_course_best(kind: FindingKind, size: float) -> None:
    weighed = weigh(faulty(kind, size), NEAR, HEAD_KPA)

    assert weighed is not None
    best = max(WEIGHED, key=lambda one: weighed[one].weight)
    assert best is kind
    assert weighed[kind].weight > 5.0
    assert abs(weighed[kind].begin - BEGINS) <= 9


@pytest.mark.parametrize(("kind", "size"), ZERO)
def test_a_wrong_zero_is_no_fault_of_the_tube(kind: FindingKind, size: float) -> None:
    weighed = weigh(faulty(kind, size), NEAR, HEAD_KPA)

    assert weighed is not None
    assert max(one.weight for one in weighed.values()) < 1.0


@pytest.mark.parametrize("other", [{"growth_per_day": 0.21}, {"floor_kpa": 4.5}, {"late_h": 14.0}])
def test_a_station_that_is_only_different_has_no_fault(other: dict[str, float]) -> None:
    weighed = weigh(course(**other), NEAR, HEAD_KPA)

    assert weighed is not None
    assert max(one.weight for one in weighed.values()) < 2.0


def test_ground_drier_than_the_two_ever_were_together_tells_of_no_fault() -> None:
    day = np.arange(len(SOIL)) // DAY
    near = np.where(day < BEGINS, course(growth_per_day=0.12), course(growth_per_day=0.3))
    bends = np.where(near < 9.0, 1.2 * near, 10.8 + 0.5 * (near - 9.0))

    weighed = weigh(bends, near, HEAD_KPA)

    assert weighed is not None
    assert max(one.weight for one in weighed.values()) < 2.0


def test_what_reads_drier_than_its_neighbour_tells_has_no_gap_however_it_bends() -> None:
    flat = np.where(np.arange(len(SOIL)) < BEGINS * DAY, SOIL, 30.0 + 0.3 * SOIL)

    weighed = weigh(flat, NEAR, HEAD_KPA)

    assert weighed is not None
    assert weighed[FindingKind.POOR_CONTACT].weight <= 0.0
    assert weighed[FindingKind.AIR_LEAK].weight <= 0.0


@pytest.mark.parametrize(
    ("kind", "reads_kpa", "can"),
    [
        (FindingKind.AIR_LEAK, 10.0, True), (FindingKind.AIR_LEAK, 5.5, False),
        (FindingKind.POOR_CONTACT, 10.0, True), (FindingKind.POOR_CONTACT, 7.0, False),
        (FindingKind.CRACKED_CUP, 5.0, True), (FindingKind.CRACKED_CUP, 10.0, False),
        (FindingKind.CRACKED_CUP, 1.0, False),
    ],
)  # fmt: skip
def test_a_fault_explains_only_what_it_can_read_in_dry_ground(kind: FindingKind, reads_kpa: float, can: bool) -> None:
    days = compared(np.full(30 * DAY, reads_kpa), np.full(30 * DAY, 20.0))
    forms = len(CEILINGS_KPA)
    soil, means = (np.full(shape, logarithm(np.array(kpa))) for shape, kpa in (((1, 30), 20.0), ((1, forms, 30), 10.0)))

    weights = possible(kind, days, np.full((1, forms), 5.0), means, soil, [12])

    assert weights[0, -2] == (5.0 if can else 0.0)


@pytest.mark.parametrize(("off", "can"), [(0.2, True), (-0.2, True), (0.5, False), (-0.5, False)])
def test_a_clogged_cup_comes_near_what_the_soil_had_some_hours_ago(off: float, can: bool) -> None:
    days = compared(np.full(30 * DAY, 20.0), np.full(30 * DAY, 20.0))
    soil = np.full((1, 30), 0.1 + logarithm(np.array(20.0)))
    felt = soil[:, None] + np.where(np.arange(30) >= 12, off, 0.0)

    weights = possible(FindingKind.SLOW_RESPONSE, days, np.full((1, 1), 5.0), felt, soil, [12])

    assert weights[0, 0] == (5.0 if can else 0.0)


def test_a_cup_that_reads_ten_kilopascals_holds_them() -> None:
    held = np.where(np.arange(len(SOIL)) >= DAY * BEGINS, np.minimum(SOIL, 5.0) + 5.0, SOIL)

    weighed = weigh(held, NEAR, HEAD_KPA)

    assert weighed is not None
    assert weighed[FindingKind.CRACKED_CUP].weight <= 0.0


def test_a_change_that_is_fitted_to_more_days_is_worth_less_by_itself() -> None:
    days = compared(SOIL, NEAR)
    known = learn(days, 0, 30)
    free = known._replace(unsure=known.unsure + 0.01 * np.eye(3))
    worth = [float(freedom([known], [free], [learn(days, 30, end, free)])[0]) for end in (31, 40, DAYS)]

    assert worth == sorted(worth)
    assert worth[0] == pytest.approx(0.0)
    assert worth[-1] > 1.0


def test_nothing_is_weighed_before_the_two_are_known() -> None:
    assert weigh(SOIL[: 20 * DAY], NEAR[: 20 * DAY], HEAD_KPA) is None


def test_what_is_usual_counts_until_two_have_shown_what_they_are() -> None:
    days = compared(SOIL, NEAR)
    before, after = learn(days, 0, 0), learn(days, 0, DAYS)

    assert before.centre.tolist() == [0.0, 1.0, 0.0]
    assert np.trace(after.unsure) < np.trace(before.unsure) / 3.0


def test_one_wild_day_hardly_changes_what_is_learned() -> None:
    wild = SOIL.copy()
    wild[160:164] = 150.0

    off = learn(compared(wild, NEAR), 0, DAYS).centre - learn(compared(SOIL, NEAR), 0, DAYS).centre

    assert float(np.abs(off).max()) < 0.05


def test_blocks_are_medians_of_what_is_known() -> None:
    made = blocks_of([1.0, 2.0, 9.0, 4.0, 3.0, math.nan, *[math.nan] * 6, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0])

    assert made[0] == 3.0
    assert math.isnan(made[1])
    assert made[2] == 3.5


def test_what_is_remembered_is_short_and_exact_to_hundredths() -> None:
    kept = packed(SOIL.tolist())

    assert len(kept) < 1000
    assert float(np.abs(unpacked(kept) - SOIL).max()) <= 0.005


def test_a_cup_that_clogs_moves_less_the_slower_it_is() -> None:
    made = courses(SOIL[None], np.array([0.0]), HEAD_KPA)[FindingKind.SLOW_RESPONSE]
    widths = [float(np.ptp(made.kpa[0, number, 120:])) for number in range(4)]

    assert all(slow < quick for quick, slow in pairwise(widths))


def test_wettings_in_which_it_trails_speak_for_a_clogged_cup_and_others_against_it() -> None:
    trails = [Pace(day, -3.0 if day < 40 else 2.0) for day in range(10, 80, 10)]
    sound = [one._replace(gain=-3.0) for one in trails]

    assert pace_of(trails, [36]).max() == pytest.approx(8.0)
    assert pace_of(sound, [36]).max() < 0.0


def test_a_wetting_tells_nothing_of_a_cup_that_has_hardly_begun_to_clog() -> None:
    assert not pace_of([Pace(37.0, -3.0)], [36]).any()


def leaking(soil: Course, from_day: float) -> Course:
    """Let air in from a day on, more for three weeks, faster the drier the soil."""

    def reads(hours: float) -> float:
        grown = min(max((hours / 24.0 - from_day) / 21.0, 0.0), 1.0)
        leak = 0.8 * math.exp(2.3 * (grown - 1.0)) if hours >= 24.0 * from_day else 0.0
        kpa = soil(hours)
        return (kpa + 2.0) / (1.0 + leak * math.pow(max(kpa, 0.0) / 20.0, 1.5)) - 2.0

    return reads


def farm(*, level: bool = True) -> Watched:
    beside = instrument("north-32", station="post 2", interval_s=3600.0)
    below = instrument("north-60", depth_m=0.6, interval_s=3600.0)
    return Watched(instrument("north-30", interval_s=3600.0), *((beside,) if level else ()), below)


def deep(hours: float) -> float:
    """Ground further down: it moves with what lies above it, by less."""
    kpa = ground()(hours)
    return 6.0 + 2.0 * math.sqrt(max(kpa, 0.0))


def test_a_leak_that_grows_beside_a_neighbour_is_named() -> None:
    own = leaking(ground(growth_per_day=0.28), 55.0)

    watched = farm().run(95 * 24, {OWN: own, BESIDE: ground(), BELOW: deep})

    assert watched.opened(*TUBES) == [(FindingKind.AIR_LEAK, "north-30")]


def test_without_a_neighbour_at_its_depth_the_ones_further_down_tell() -> None:
    own = loose(ground(growth_per_day=0.28), 50 * 24.0, 0.2)

    watched = farm(level=False).run(95 * 24, {OWN: own, BELOW: deep})

    assert watched.opened(*WEIGHED) == [(FindingKind.POOR_CONTACT, "north-30")]


def test_a_cup_that_clogs_is_named_and_not_called_a_leak() -> None:
    own = through(ground(growth_per_day=0.28), lambda hours: min(max(hours - 50 * 24.0, 0.0) / 24.0, 35.0))

    watched = farm().run(100 * 24, {OWN: own, BESIDE: ground(), BELOW: deep})

    assert watched.still_open() == {FindingKind.SLOW_RESPONSE}


LEAK, CLOGGED, GAP = FindingKind.AIR_LEAK, FindingKind.SLOW_RESPONSE, FindingKind.POOR_CONTACT


@pytest.mark.parametrize(
    ("kind", "size", "weights", "named"),
    [
        (LEAK, 0.5, [5.5, 5.0], 1), (LEAK, 0.5, [4.5, 4.5, 4.5], 0), (LEAK, 0.5, [4.5, 6.0], 1),
        (LEAK, 0.5, [2.5, 8.0], 0), (LEAK, 0.5, [10.5], 1), (LEAK, 0.5, [7.0, -1.0, 7.0], 0),
        (CLOGGED, 0.5, [5.8, 5.7], 0), (CLOGGED, 0.5, [5.8, 6.5], 1),
        (GAP, 0.45, [5.8, 5.7], 0), (GAP, 0.45, [5.8, 6.5], 1), (GAP, 0.3, [5.8, 5.7], 1),
    ],
)  # fmt: skip
def test_two_looks_in_a_row_must_be_plain_together(
    kind: FindingKind, size: float, weights: list[float], named: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    looks = iter(weights)

    def told(*_: object) -> Told:
        found = [Evidence(weight, 0.0, size, 30.0) for weight in (next(looks, -1.0), -2.0)]
        return Told((kind, FindingKind.CRACKED_CUP), tuple(found))

    monkeypatch.setattr(apart, "_told", told)
    watched = farm(level=False).run(40 * 24, {OWN: ground(), BELOW: deep})

    assert len(watched.begun(kind)) == named


@pytest.mark.parametrize(("kind", "named"), [(LEAK, 1), (CLOGGED, 0)])
def test_while_the_supply_is_noisy_no_cup_is_called_clogged(
    kind: FindingKind, named: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = (Evidence(12.0, 0.0, 0.5, 30.0), Evidence(-2.0, 0.0, 0.5, 30.0))
    monkeypatch.setattr(apart, "_told", lambda *_: Told((kind, FindingKind.POOR_CONTACT), found))
    monkeypatch.setattr(Look, "source_has", lambda _, kind: kind is FindingKind.NOISY_SUPPLY)

    watched = farm(level=False).run(20 * 24, {OWN: ground(), BELOW: deep})

    assert len(watched.begun(kind)) == named


@pytest.mark.parametrize(
    ("ahead", "named_at"), [([2.5], 1), ([1.5], 3), ([0.5] * 4, 0), ([1.5, None, 1.5, 1.5, 1.5], 5), ([0.5, 1.5], 3)]
)
def test_a_leak_and_a_gap_in_a_close_race_wait_for_two_looks(
    ahead: list[float | None], named_at: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """``None``: a look in which it was, if anything, a gap."""
    leads = iter([*ahead, *[ahead[-1]] * 40])
    looks = 0

    def told(look: Look, _: int) -> Told:
        nonlocal looks
        by = next(leads)
        looks += not look.has(LEAK)
        found = tuple(Evidence(weight, 0.0, 0.5, 30.0) for weight in ((4.0, 3.0) if by is None else (15.0, 15.0 - by)))
        return Told((GAP, LEAK) if by is None else (LEAK, GAP), found)

    monkeypatch.setattr(apart, "_told", told)
    watched = farm(level=False).run(40 * 24, {OWN: ground(), BELOW: deep})

    assert (looks if watched.begun(LEAK) else 0) == named_at


@pytest.mark.parametrize(("first", "later_days", "changed"), [(LEAK, 4.0, 1), (LEAK, 12.0, 0), (CLOGGED, 12.0, 1)])
def test_a_leak_is_called_something_else_only_if_that_began_about_as_early(
    first: FindingKind, later_days: float, changed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    best = iter([first, *[GAP] * 19])
    begins: list[int] = []

    def told(_: Look, end: int) -> Told:
        kind = next(best)
        begins.append(end)
        begin = 40.0 if kind is first else 40.0 + later_days - (end - begins[0]) / DAY
        found = (Evidence(12.5, begin, 0.5, 30.0), Evidence(2.0, 0.0, 0.5, 30.0))
        return Told((kind, GAP if kind is first else first), found)

    monkeypatch.setattr(apart, "_told", told)
    watched = farm(level=False).run(60 * 24, {OWN: ground(), BELOW: deep})

    assert len(watched.begun(first)) == 1
    assert len(watched.begun(GAP)) == changed


@pytest.mark.parametrize(("beside", "weight"), [([6.0], 4.8), ([6.0, 20.0], 6.0)])
def test_one_further_down_counts_less_alone_and_of_two_the_one_that_doubts_it_most(
    beside: list[float], weight: float
) -> None:
    below = [Evidence(weight, 0.0, 0.5, 30.0) for weight in beside]

    assert with_deeper(FindingKind.AIR_LEAK, None, below).weight == pytest.approx(weight)
    level = Evidence(3.0, 0.0, 0.5, 30.0)
    assert with_deeper(FindingKind.SLOW_RESPONSE, level, below).weight == 3.0
    assert with_deeper(FindingKind.AIR_LEAK, level, below).weight == 3.0 + sum(beside) / len(beside) / 2.0


def test_two_that_go_on_together_are_left_alone_and_remember_little() -> None:
    watched = farm().run(95 * 24, {OWN: ground(growth_per_day=0.28), BESIDE: ground(), BELOW: deep})

    assert watched.opened(*TUBES) == []
    kept = watched.standing(OWN).notes[NOTE]
    assert isinstance(kept, list)
    assert isinstance(kept[1], str)
    assert len(unpacked(kept[1])) == KEPT_BLOCKS
