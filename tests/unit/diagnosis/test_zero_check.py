"""Zeros that a service shows: a tube that stands open reads its column of water, and what its zero is off."""

import math

import numpy as np
import pytest

from parchd.diagnosis.hours import hour_of
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.rows import flat
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Look
from parchd.diagnosis.zero_check import KEPT, MOST, NOTE, Check, checks, told, usually_drawn_kpa
from parchd.testing.courses import Course, rippled, watered
from parchd.testing.diagnosing import Watched, hours_us, instrument

DRIFT = FindingKind.ZERO_DRIFT
SHALLOW, NEAR, DEEP, DEEP_NEAR = "north-30", "north-32", "north-60", "north-62"
HEAD_KPA = {SHALLOW: 5.0, NEAR: 5.0, DEEP: 8.0, DEEP_NEAR: 8.0}
MOIST = {"every_days": 9.0, "floor_kpa": 16.0, "growth_per_day": 0.12}
BELOW = {"every_days": 9.0, "floor_kpa": 12.0, "growth_per_day": 0.08}
SHOWN = "vacuum that it still showed while it stood open"
ONSET_H, SERVED_H, END_H = 60.0 * 24.0, 100.0 * 24.0 + 10.0, 105.0 * 24.0


def farm() -> Watched:
    posts = {NEAR: "post 2", DEEP_NEAR: "post 2"}
    return Watched(
        *(
            instrument(name, station=posts.get(name, "post 1"), interval_s=900.0, head_kpa=head_kpa)
            for name, head_kpa in HEAD_KPA.items()
        )
    )


def sinking(course: Course, per_day_kpa: float) -> Course:
    return lambda hours: course(hours) - per_day_kpa * max(0.0, hours - ONSET_H) / 24.0


def opened(course: Course, head_kpa: float, at_h: float) -> Course:
    """Open a tube for a quarter of an hour; then it draws again."""

    def feels(hours: float) -> float:
        left = 1.0 if at_h <= hours < at_h + 0.25 else math.exp(at_h - hours + 0.25) if hours >= at_h else 0.0
        return (1.0 - left) * course(hours) - left * head_kpa

    return feels


def courses(at_h: float = math.inf, per_day_kpa: float = 0.0) -> dict[str, Course]:
    def one(name: str, number: int) -> Course:
        ground = rippled(watered(**(MOIST if HEAD_KPA[name] == HEAD_KPA[SHALLOW] else BELOW)))
        served = opened(ground, HEAD_KPA[name], at_h + 0.25 * number)
        return sinking(served, per_day_kpa) if name == SHALLOW else served

    return {f"bus1/{name}": one(name, number) for number, name in enumerate(HEAD_KPA)}


def standing(*kept: float, drawn_kpa: float = 0.8) -> Standing:
    made = Standing(instrument(SHALLOW, interval_s=900.0))
    made.notes[NOTE] = flat(Check(20 * 24 + number, kpa, drawn_kpa) for number, kpa in enumerate(kept))
    return made


def gains(*kept: float, drawn_kpa: float = 0.8) -> list[float]:
    """What services on the twentieth day tell of a zero that has sunk by 4 kPa, risen by 4, or hardly moved."""
    offsets = np.array([[0.0, -4.0], [0.0, 4.0], [0.0, 0.5]])
    return [float(one) for one in told(standing(*kept, drawn_kpa=drawn_kpa), np.array([10.0, 20.0]), offsets, 0)]


def test_what_an_open_tube_reads_is_what_its_zero_is_off() -> None:
    watched = farm().run(END_H, courses(SERVED_H, 0.1))

    seen = {name: checks(watched.standing(f"bus1/{name}")) for name in HEAD_KPA}
    assert {name: [one.hour for one in kept] for name, kept in seen.items()} == {
        name: [hour_of(hours_us(SERVED_H))] for name in HEAD_KPA
    }
    assert seen[SHALLOW][0].kpa == pytest.approx(-4.0, abs=0.1)
    assert [seen[name][0].kpa for name in (NEAR, DEEP, DEEP_NEAR)] == pytest.approx([0.0] * 3, abs=0.1)


def test_where_several_read_far_less_than_no_vacuum_no_tube_was_opened() -> None:
    """Wires that drop out do that."""
    both = courses(SERVED_H, 0.1)
    both[f"bus1/{NEAR}"] = sinking(both[f"bus1/{NEAR}"], 0.1)

    watched = farm().run(END_H, both)

    assert [checks(watched.standing(f"bus1/{name}")) for name in HEAD_KPA] == [[]] * len(HEAD_KPA)


def test_where_the_others_had_drawn_as_much_a_tube_that_shows_vacuum_tells_little() -> None:
    def drawing(drawn_kpa: float) -> list[Check]:
        ground = rippled(watered(**MOIST))
        late = {f"bus1/{name}": opened(ground, kpa - drawn_kpa, 20 * 24.0) for name, kpa in HEAD_KPA.items()}
        return checks(farm().run(24 * 24, late).standing(f"bus1/{SHALLOW}"))

    (little,), (much,) = drawing(0.2), drawing(3.0)
    assert much.kpa > 1.0
    assert much.drawn_kpa > 2.0 > 1.5 * little.drawn_kpa


def test_wires_that_drop_out_open_no_tubes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Look, "source_has", lambda _, kind: kind is FindingKind.DROP_OUTS)

    assert checks(farm().run(END_H, courses(SERVED_H)).standing(f"bus1/{SHALLOW}")) == []


def test_a_zero_that_sinks_is_found_after_a_service_that_shows_it() -> None:
    found = farm().run(END_H, courses(SERVED_H, 0.1)).begun(DRIFT)

    assert [one.key.name for one in found] == [SHALLOW]
    assert {fact.what: fact.value for fact in found[0].facts}[SHOWN] == pytest.approx(-4.0, abs=0.1)
    assert farm().run(END_H, courses(per_day_kpa=0.1)).begun(DRIFT) == []
    assert farm().run(END_H, courses(SERVED_H)).begun(DRIFT) == []


def test_without_a_service_nothing_is_told() -> None:
    assert gains() == [0.0, 0.0, 0.0]


def test_an_open_tube_that_reads_less_than_no_vacuum_has_a_zero_that_sank() -> None:
    sunk, risen, same = gains(-4.0)

    assert sunk == MOST
    assert risen == same == 0.0


def test_one_that_still_reads_vacuum_may_have_drawn_some_before_it_was_sampled() -> None:
    sunk, risen, same = gains(4.0)

    assert 0.0 < risen < MOST
    assert sunk < 0.0 <= same


def test_what_reads_vacuum_tells_less_where_much_is_drawn_again() -> None:
    assert gains(4.0, drawn_kpa=3.0)[1] < 0.3 * gains(4.0)[1]


@pytest.mark.parametrize(
    ("interval_s", "before_kpa", "drawn_kpa"), [(600.0, 30.0, 0.8), (3600.0, 5.0, 3.5), (3600.0, 30.0, 11.0)]
)
def test_what_is_drawn_again_goes_with_the_vacuum_before_and_with_how_seldom_it_is_sampled(
    interval_s: float, before_kpa: float, drawn_kpa: float
) -> None:
    watched = instrument(SHALLOW, interval_s=interval_s, head_kpa=5.0)

    assert usually_drawn_kpa(watched, before_kpa) == pytest.approx(drawn_kpa, abs=0.05)


def test_one_that_reads_nought_speaks_against_any_change() -> None:
    sunk, risen, same = gains(0.0)

    assert sunk < -4.0
    assert risen == -MOST
    assert same > -1.0


def test_every_service_tells_by_itself() -> None:
    assert gains(-4.0, -4.0)[0] == 2.0 * MOST


def test_only_the_last_services_are_kept() -> None:
    watched = farm()
    watched.standing(f"bus1/{SHALLOW}").notes[NOTE] = flat(Check(hour, 9.0, 0.8) for hour in range(KEPT))

    watched.run(30 * 24, courses(20.0 * 24.0))

    kept = checks(watched.standing(f"bus1/{SHALLOW}"))
    assert len(kept) == KEPT
    assert kept[-1].kpa == pytest.approx(0.0, abs=0.1)
