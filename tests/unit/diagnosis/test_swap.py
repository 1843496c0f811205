"""Wires that were exchanged between two depths."""

import pytest

from parchd.contract import Unit
from parchd.diagnosis import order
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.order_signs import Signs
from parchd.testing.courses import Course, rippled, through, watered
from parchd.testing.diagnosing import Watched, hours_us, instrument

SWAPPED = FindingKind.SWAPPED
UPPER_HEAD_KPA, LOWER_HEAD_KPA = 4.0, 7.0


def upper(every_days: float = 5.0, growth_per_day: float = 0.45, swing_kpa: float = 0.6) -> Course:
    return rippled(watered(every_days, 3.0, growth_per_day, swing_kpa=swing_kpa))


def lower(late_h: float = 20.0) -> Course:
    return rippled(watered(10.0, 5.0, 0.12, falls_within_h=6.0, swing_kpa=0.1, late_h=late_h))


def exchanged(shallow: Course, deep: Course, from_h: float, until_h: float = 1e9) -> tuple[Course, Course]:
    """Exchange two wires: each channel gives the other's vacuum, corrected for its own water."""

    def wired(own: Course, other: Course, more_kpa: float) -> Course:
        return lambda hours: other(hours) + more_kpa if from_h <= hours < until_h else own(hours)

    gap_kpa = LOWER_HEAD_KPA - UPPER_HEAD_KPA
    return wired(shallow, deep, gap_kpa), wired(deep, shallow, -gap_kpa)


def farm(*, beside: bool = True, interval_s: float = 3600.0) -> Watched:
    """One station with two depths, and one beside it."""
    posts = ("post 1", "post 2") if beside else ("post 1",)
    return Watched(
        *(
            instrument(f"{zone}-{cm}", zone="north", station=post, head_kpa=head, interval_s=interval_s)
            for zone, post in zip(("one", "two"), posts, strict=False)
            for cm, head in ((30, UPPER_HEAD_KPA), (60, LOWER_HEAD_KPA))
        )
    )


@pytest.mark.parametrize("interval_s", [900.0, 3600.0])
def test_both_jump_to_where_the_other_was_and_both_are_found_within_hours(interval_s: float) -> None:
    shallow, deep = exchanged(upper(), lower(), 110.0)

    watched = farm(beside=False, interval_s=interval_s).run(6 * 24, {"bus1/one-30": shallow, "bus1/one-60": deep})

    assert sorted(watched.opened(SWAPPED)) == [(SWAPPED, "one-30"), (SWAPPED, "one-60")]
    assert [one.others for one in watched.begun(SWAPPED)] == [("one-60",), ("one-30",)]
    assert all(one.found_us <= hours_us(120.0) for one in watched.begun(SWAPPED))


@pytest.mark.parametrize(("celsius", "told"), [(9.0, 2), (-2.0, 0)])
def test_what_two_depths_do_in_frost_is_no_exchange(celsius: float, told: int) -> None:
    shallow, deep = exchanged(upper(), lower(), 110.0)
    pair = (("one-30", UPPER_HEAD_KPA), ("one-60", LOWER_HEAD_KPA))
    watched = Watched(
        *(instrument(name, zone="north", head_kpa=head, temperature_channel="bus1/warmth") for name, head in pair),
        units={"bus1/warmth": Unit.CELSIUS},
    )
    courses = {"bus1/one-30": shallow, "bus1/one-60": deep, "bus1/warmth": lambda h: celsius if h > 100.0 else 9.0}

    assert len(watched.run(6 * 24, courses).opened(SWAPPED)) == told


def test_wires_that_are_exchanged_back_end_it() -> None:
    shallow, deep = exchanged(upper(), lower(), 110.0, 230.0)

    watched = farm(beside=False).run(12 * 24, {"bus1/one-30": shallow, "bus1/one-60": deep})

    assert len(watched.opened(SWAPPED)) == 2
    assert len(watched.ended(SWAPPED)) == 2


def test_water_that_leads_one_down_while_the_other_dries_on_is_no_exchange() -> None:
    thirsty: Course = rippled(lambda hours: 8.0 + 12.0 * ((hours / 24.0) % 5.0) / 5.0)
    watched = farm(beside=False)

    watched.run(30 * 24, {"bus1/one-30": upper(), "bus1/one-60": thirsty})

    assert watched.opened(SWAPPED) == []


def test_depths_that_move_with_the_wrong_neighbours_are_found_without_a_jump() -> None:
    shallow, deep = exchanged(upper(), lower(), 0.0)
    courses = {"bus1/one-30": shallow, "bus1/one-60": deep, "bus1/two-30": upper(), "bus1/two-60": lower(24.0)}

    watched = farm().run(30 * 24, courses)

    assert sorted(watched.opened(SWAPPED)) == [(SWAPPED, "one-30"), (SWAPPED, "one-60")]
    assert watched.begun(SWAPPED)[0].found_us <= hours_us(16 * 24)


def test_two_stations_that_are_wired_rightly_stay_believed() -> None:
    courses = {
        "bus1/one-30": upper(growth_per_day=0.4),
        "bus1/one-60": lower(30.0),
        "bus1/two-30": upper(),
        "bus1/two-60": lower(24.0),
    }

    watched = farm().run(40 * 24, courses)

    assert watched.opened(SWAPPED) == []


def test_they_are_found_too_where_each_wetting_reaches_both_depths_within_the_hour() -> None:
    soaked = rippled(watered(5.0, 4.0, 0.2, falls_within_h=3.0, swing_kpa=0.2))
    shallow, deep = exchanged(upper(), soaked, 0.0)
    courses = {"bus1/one-30": shallow, "bus1/one-60": deep, "bus1/two-30": upper(), "bus1/two-60": soaked}

    assert sorted(farm().run(40 * 24, courses).opened(SWAPPED)) == [(SWAPPED, "one-30"), (SWAPPED, "one-60")]


def test_ten_days_alone_are_not_enough() -> None:
    shallow, deep = exchanged(upper(), lower(), 0.0)
    courses = {"bus1/one-30": shallow, "bus1/one-60": deep, "bus1/two-30": upper(), "bus1/two-60": lower(24.0)}

    assert farm().run(13 * 24, courses).opened(SWAPPED) == []


def test_an_upper_one_that_follows_late_is_not_exchanged() -> None:
    courses = {
        "bus1/one-30": through(upper(growth_per_day=0.4), lambda hours: 0.0 if hours < 240.0 else 60.0),
        "bus1/one-60": lower(30.0),
        "bus1/two-30": upper(),
        "bus1/two-60": lower(24.0),
    }

    assert farm().run(60 * 24, courses).opened(SWAPPED) == []


def beside_a_clogged_one() -> dict[str, Course]:
    return {
        "bus1/one-30": through(upper(), lambda hours: 0.0 if hours < 17.0 * 24.0 else 30.0),
        "bus1/one-60": lower(30.0),
        "bus1/two-30": upper(),
        "bus1/two-60": lower(24.0),
    }


@pytest.mark.parametrize(("days", "nearer", "told"), [(10, 1.0, False), (15, 1.0, True), (15, -0.1, False)])
def test_an_upper_one_that_was_found_slow_must_be_exchanged_the_more_plainly(
    days: int, nearer: float, told: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """More weighings, and each of the two where the other one was."""
    courses = beside_a_clogged_one()
    watched = farm().run(40 * 24, courses)
    monkeypatch.setattr(order, "signs", lambda *_: Signs(-1.0, 2.0, 9.0, nearer))
    monkeypatch.setattr(order, "weight_lately", lambda *_: 6.0)

    assert watched.opened(FindingKind.SLOW_RESPONSE) == [(FindingKind.SLOW_RESPONSE, "one-30")]
    assert ((SWAPPED, "one-30") in watched.run(days * 24, courses).opened(SWAPPED)) is told


@pytest.mark.parametrize(("weight", "told"), [(6.5, True), (20.0, False)])
def test_what_a_clogged_cup_explains_plainly_is_not_exchanged(
    weight: float, told: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    courses = beside_a_clogged_one()
    watched = farm().run(40 * 24, courses)
    monkeypatch.setattr(order, "signs", lambda *_: Signs(-1.0, 2.0, 9.0, 1.0))
    monkeypatch.setattr(order, "weight_lately", lambda *_: weight)

    assert ((SWAPPED, "one-30") in watched.run(15 * 24, courses).opened(SWAPPED)) is told


def test_what_has_been_known_for_a_clogged_cup_for_weeks_is_one(monkeypatch: pytest.MonkeyPatch) -> None:
    courses = beside_a_clogged_one()
    watched = farm().run(65 * 24, courses)
    monkeypatch.setattr(order, "signs", lambda *_: Signs(-1.0, 2.0, 9.0, 1.0))

    (slow,) = watched.begun(FindingKind.SLOW_RESPONSE)
    assert slow.found_us < hours_us((65 - 28) * 24)
    assert watched.run(25 * 24, courses).opened(SWAPPED) == []
