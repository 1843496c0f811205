"""Tensiometers that have come apart from a neighbour they used to go with, and stations that are only different."""

import math
from itertools import pairwise

import numpy as np
import pytest

from parchd.diagnosis import apart
from parchd.diagnosis.beside import NOTHING, blocks_of, learn, learned_from, relation_of
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.suspects import courses
from parchd.diagnosis.weighing import weigh
from parchd.testing.courses import Course, watered
from parchd.testing.diagnosing import Watched, instrument

HEAD_KPA = 4.0
DAYS = 28


def ground(**changes: float) -> Course:
    return watered(**{"every_days": 9.0, "floor_kpa": 3.0, "growth_per_day": 0.26} | changes)


def course(curve: Course, begin_day: float, days: float = DAYS) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    return blocks_of([curve(24.0 * begin_day + hour) for hour in range(round(24 * days))])


def sound(**changes: float) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    return course(ground(**changes), 60.0)


LEARNED = learn(NOTHING, course(ground(growth_per_day=0.28), 9.0, 45.0), course(ground(), 9.0, 45.0))
SOIL = sound(growth_per_day=0.28)
NAMED = [
    (FindingKind.AIR_LEAK, 0.65),
    (FindingKind.SLOW_RESPONSE, 32.0),
    (FindingKind.POOR_CONTACT, 0.25),
    (FindingKind.LEVEL_SHIFT, 7.0),
    (FindingKind.ZERO_DRIFT, 0.18),
]


@pytest.mark.parametrize(("kind", "size"), NAMED)
def test_each_fault_explains_its_own_course_best(kind: FindingKind, size: float) -> None:
    made = courses(SOIL, HEAD_KPA)[kind]
    own = made.kpa[made.size.index(size)]

    weighed = weigh(own, sound(), relation_of(LEARNED), HEAD_KPA)

    assert min(weighed.left, key=lambda one: weighed.left[one]) is kind
    assert weighed.left[kind] < 0.2 < weighed.sound


def test_what_goes_as_it_used_to_go_is_sound() -> None:
    assert weigh(SOIL, sound(), relation_of(LEARNED), HEAD_KPA).left == {}


def test_a_station_that_got_more_water_is_other_soil_and_no_fault() -> None:
    wetter = sound(growth_per_day=0.23)

    weighed = weigh(wetter, sound(), relation_of(LEARNED), HEAD_KPA)

    assert math.log((weighed.sound + apart.ROOM) / (min(weighed.left.values()) + apart.ROOM)) < apart.LEAST


def test_what_is_usual_counts_until_two_have_shown_what_they_are() -> None:
    before, after = relation_of(NOTHING), relation_of(LEARNED)

    assert before.centre.tolist() == [0.0, 1.0, 0.0]
    assert np.trace(after.unsure) < np.trace(before.unsure) / 3.0
    assert after.scatter < before.scatter


def test_sums_are_the_same_after_they_were_kept() -> None:
    assert learned_from(LEARNED.row()) == LEARNED


def test_one_wild_block_hardly_changes_what_was_learned() -> None:
    wild = learn(LEARNED, np.array([500.0]), np.array([10.0]))

    assert float(np.abs(relation_of(wild).centre - relation_of(LEARNED).centre).max()) < 0.03


def test_blocks_are_medians_of_what_is_known() -> None:
    made = blocks_of([1.0, 2.0, 9.0, 4.0, 3.0, math.nan, *[math.nan] * 6, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0])

    assert made[0] == 3.0
    assert math.isnan(made[1])
    assert made[2] == 3.5


def test_a_cup_that_clogs_moves_less_the_slower_it_is() -> None:
    made = courses(SOIL, HEAD_KPA)[FindingKind.SLOW_RESPONSE]
    widths = [float(np.ptp(made.kpa[number])) for number in range(4)]

    assert all(slow < quick for quick, slow in pairwise(widths))


def leaking(soil: Course, from_day: float) -> Course:
    """Let air in from a day on, more for three weeks, faster the drier the soil."""

    def reads(hours: float) -> float:
        grown = min(max((hours / 24.0 - from_day) / 21.0, 0.0), 1.0)
        leak = 0.8 * math.exp(2.3 * (grown - 1.0)) if hours >= 24.0 * from_day else 0.0
        kpa = soil(hours)
        return (kpa + 2.0) / (1.0 + leak * math.pow(max(kpa, 0.0) / 20.0, 1.5)) - 2.0

    return reads


def farm() -> Watched:
    beside = instrument("north-32", station="post 2", interval_s=3600.0)
    return Watched(instrument("north-30", interval_s=3600.0), beside)


TUBES = FindingKind.AIR_LEAK, FindingKind.POOR_CONTACT, FindingKind.SLOW_RESPONSE


def test_a_leak_that_grows_beside_a_neighbour_is_named() -> None:
    own = leaking(ground(growth_per_day=0.28), 55.0)

    watched = farm().run(110 * 24, {"bus1/north-30": own, "bus1/north-32": ground()})

    assert watched.still_open() == {FindingKind.AIR_LEAK}
    assert watched.opened(*TUBES) == [(FindingKind.AIR_LEAK, "north-30")]


def test_two_that_go_on_together_are_left_alone_and_remember_little() -> None:
    watched = farm().run(110 * 24, {"bus1/north-30": ground(growth_per_day=0.28), "bus1/north-32": ground()})

    assert watched.opened(*TUBES) == []
    learnt = watched.standing("bus1/north-30").notes[apart.LEARNT]
    assert isinstance(learnt, dict)
    assert isinstance(learnt["north-32"], list)
    assert len(learnt["north-32"]) == 10
