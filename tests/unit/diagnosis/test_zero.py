"""Zeros that drift, told by a whole season beside the neighbours."""

import numpy as np
import pytest

from parchd.diagnosis import drift, response
from parchd.diagnosis.findings import Finding, FindingKey
from parchd.diagnosis.hours import Hour
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.leap_in_doubt import NOTE as LEAPT
from parchd.diagnosis.record import packed
from parchd.diagnosis.verdict import Look
from parchd.diagnosis.zero import Best, is_plain
from parchd.diagnosis.zero_record import BLOCK_H, KEPT, NOTE, record_of, recorded, without_water_table
from parchd.diagnosis.zero_weighing import BESIDE, forms, gains
from parchd.testing.courses import Course, rippled, shifted, watered
from parchd.testing.diagnosing import Watched, hours_us, instrument

DRIFT = FindingKind.ZERO_DRIFT
OWN, BESIDE_IT, BELOW, DEEP_BESIDE = "bus1/north-30", "bus1/north-32", "bus1/north-60", "bus1/north-62"
DAYS = (np.arange(70, dtype=np.float64) + 0.5) * 2.0
ONSET_D = 60.0
FORMS = forms(DAYS)
DRIFTS = FORMS.rate_kpa_d != 0.0


def ground(**changes: float) -> Course:
    return rippled(watered(**{"every_days": 9.0, "floor_kpa": 3.0, "growth_per_day": 0.22} | changes))


def season(course: Course) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    return np.array([float(np.median([course(24.0 * day + hour) for hour in range(-24, 24, 3)])) for day in DAYS])


SOIL, NEAR = season(ground(growth_per_day=0.25)), season(ground())


def drifted(per_day_kpa: float) -> Course:
    course = ground(growth_per_day=0.25)
    return lambda hours: course(hours) + per_day_kpa * max(0.0, hours / 24.0 - ONSET_D)


@pytest.mark.parametrize("per_day_kpa", [0.13, -0.09])
def test_a_drift_is_what_explains_a_zero_that_drifts(per_day_kpa: float) -> None:
    own = SOIL + per_day_kpa * np.maximum(DAYS - ONSET_D, 0.0)

    told = gains(DAYS, own, NEAR, BESIDE, FORMS.kpa)

    best = int(np.argmax(told))
    assert told[best] > 20.0
    assert FORMS.rate_kpa_d[best] == per_day_kpa
    assert abs(FORMS.begin_d[best] - ONSET_D) <= 8.0


def test_sound_soil_needs_no_drift() -> None:
    assert gains(DAYS, SOIL, NEAR, BESIDE, FORMS.kpa).max() < 3.0


def test_a_level_that_shifted_is_better_explained_by_a_shift() -> None:
    told = gains(DAYS, SOIL + np.where(DAYS >= ONSET_D, 5.0, 0.0), NEAR, BESIDE, FORMS.kpa)

    assert told[~DRIFTS].max() > told[DRIFTS].max() + 10.0


def test_soil_that_dries_by_ever_more_in_terms_of_the_neighbours_needs_no_drift() -> None:
    drier = SOIL * np.exp(np.maximum(DAYS - ONSET_D, 0.0) / 250.0)

    assert gains(DAYS, drier, NEAR, BESIDE, FORMS.kpa)[DRIFTS].max() < 12.0


def farm() -> Watched:
    return Watched(
        instrument("north-30", interval_s=3600.0, head_kpa=5.0),
        instrument("north-32", station="post 2", interval_s=3600.0, head_kpa=5.0),
        instrument("north-60", interval_s=3600.0, head_kpa=8.0),
        instrument("north-62", station="post 2", interval_s=3600.0, head_kpa=8.0),
    )


def courses(own: Course, deep: Course | None = None) -> dict[str, Course]:
    below = ground(floor_kpa=4.0, growth_per_day=0.12)
    return {OWN: own, BESIDE_IT: ground(), BELOW: deep or below, DEEP_BESIDE: ground(floor_kpa=4.5, growth_per_day=0.1)}


def test_a_zero_that_rises_is_found_wherever_the_soil_is_wetted_again_and_again() -> None:
    watched = farm().run(110 * 24, courses(drifted(0.15)))

    (found,) = watched.begun(DRIFT)
    assert found.key.name == "north-30"


@pytest.mark.parametrize(
    ("kind", "opened"),
    [
        (None, [(DRIFT, "north-30")]),
        (FindingKind.SLOW_RESPONSE, []),
        (FindingKind.POOR_CONTACT, []),
        (FindingKind.BLOCKED_VENT, []),
    ],
)
def test_a_cup_that_is_known_to_be_clogged_or_behind_a_gap_or_a_blocked_vent_reads_ever_more_without_a_drift(
    kind: FindingKind | None, opened: list[tuple[FindingKind, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(response, "_is_over", lambda *_: False)
    monkeypatch.setattr(drift, "slides", lambda _: None)
    watched = farm().run(70 * 24, courses(drifted(0.15)))
    if kind is not None:
        key = FindingKey(kind, "tensiometer/north-30")
        watched.state.findings[key] = Finding(key, hours_us(60 * 24), hours_us(70 * 24), 0.8)

    assert watched.run(40 * 24, courses(drifted(0.15))).opened(DRIFT) == opened


@pytest.mark.parametrize(("leapt_kpa", "kind"), [(-9.0, FindingKind.LEVEL_SHIFT), (-2.0, DRIFT), (0.0, DRIFT)])
def test_a_zero_that_leapt_as_far_down_when_it_could_not_be_told_from_water_has_shifted(
    leapt_kpa: float, kind: FindingKind, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drift, "_below_water", lambda _: None)
    watched = farm().run(70 * 24, courses(drifted(-0.2)))
    standing = watched.standing(OWN)
    hour = standing.hours.end - 5 * 24
    standing.notes[LEAPT] = [hour, leapt_kpa, 1]

    watched.run(40 * 24, courses(drifted(-0.2)))

    assert watched.opened(DRIFT, FindingKind.LEVEL_SHIFT) == [(kind, "north-30")]


def test_a_deep_zero_that_rises_is_found_beside_one_as_deep() -> None:
    deep = ground(floor_kpa=4.0, growth_per_day=0.12)

    def rising(hours: float) -> float:
        return deep(hours) + 0.15 * max(0.0, hours / 24.0 - ONSET_D)

    watched = farm().run(130 * 24, courses(ground(growth_per_day=0.25), rising))

    assert watched.opened(DRIFT) == [(DRIFT, "north-60")]


def test_a_zero_that_sinks_is_found_though_it_never_reads_as_little_as_free_water() -> None:
    moist = {"floor_kpa": 16.0, "growth_per_day": 0.12}

    def sinking(hours: float) -> float:
        return ground(**moist)(hours) - 0.15 * max(0.0, hours / 24.0 - ONSET_D)

    below = ground(floor_kpa=12.0, growth_per_day=0.08)
    near = {BESIDE_IT: ground(**moist), BELOW: below, DEEP_BESIDE: below}
    watched = farm().run(130 * 24, {OWN: sinking, **near})

    assert watched.opened(DRIFT) == [(DRIFT, "north-30")]


UP = Best(31.0, 10.0, (9.0, 5.0, 4.0), 60.0, 0.13, 9.0, wettings=5, free=0, first=False)
DOWN = Best(27.0, 22.0, (9.0, 5.0, 4.0), 60.0, -0.13, -9.0, wettings=4, free=3, first=False)


@pytest.mark.parametrize("shallow", [True, False])
def test_a_drift_is_plain_that_explains_far_more_than_sound_soil(shallow: bool) -> None:
    assert is_plain(UP, shallow=shallow)
    assert is_plain(DOWN, shallow=shallow)


@pytest.mark.parametrize("drift", [UP, DOWN])
def test_no_drift_is_plain_that_a_neighbour_tells_plainly_against(drift: Best) -> None:
    assert not is_plain(drift._replace(voices=(14.0, 8.0, -4.0)), shallow=True)


def test_a_rise_since_which_the_soil_was_hardly_wetted_must_be_the_plainer() -> None:
    assert is_plain(UP._replace(wettings=2, gain=31.0), shallow=True)
    assert not is_plain(UP._replace(wettings=2, gain=29.0), shallow=True)
    assert is_plain(UP._replace(wettings=3, gain=21.0), shallow=True)
    assert not is_plain(UP._replace(wettings=3, gain=19.0), shallow=True)
    assert not is_plain(UP._replace(wettings=3), shallow=False)
    assert is_plain(UP._replace(wettings=6, gain=23.0), shallow=False)
    assert not is_plain(UP._replace(wettings=9, gain=21.0), shallow=False)
    assert not is_plain(UP._replace(wettings=2, gain=70.0, voices=(49.0, 11.0, 10.0)), shallow=False)
    assert is_plain(UP._replace(wettings=2, gain=70.0, voices=(39.0, 16.0, 15.0)), shallow=False)
    assert not is_plain(UP._replace(wettings=2, gain=64.0, voices=(22.0, 21.0, 21.0)), shallow=False)


def test_a_rise_of_few_kilopascals_may_be_soil_that_becomes_drier() -> None:
    assert not is_plain(UP._replace(off_kpa=4.0), shallow=True)


def test_a_rise_is_no_drift_that_a_shift_explains_better() -> None:
    assert is_plain(UP._replace(rival=30.0), shallow=True)
    assert not is_plain(UP._replace(rival=32.0), shallow=True)


def test_a_deep_one_that_began_as_early_as_can_be_told_is_soil_that_dries_by_and_by() -> None:
    assert not is_plain(UP._replace(first=True), shallow=False)
    assert is_plain(UP._replace(first=True), shallow=True)


def test_one_that_sinks_is_the_plainer_the_more_it_reads_as_little_as_free_water() -> None:
    assert is_plain(DOWN._replace(rival=31.0), shallow=True)
    assert not is_plain(DOWN._replace(rival=33.0), shallow=True)
    assert not is_plain(DOWN._replace(gain=19.0), shallow=True)
    assert not is_plain(DOWN._replace(free=2), shallow=True)
    assert is_plain(DOWN._replace(free=2, gain=41.0), shallow=True)
    assert not is_plain(DOWN._replace(free=2, gain=39.0), shallow=True)


@pytest.mark.parametrize("drift", [UP, DOWN, DOWN._replace(free=0, gain=60.0)])
def test_a_drift_must_be_told_by_more_than_one_neighbour(drift: Best) -> None:
    assert is_plain(drift._replace(voices=(drift.gain - 3.0, 2.0, 1.0)), shallow=True)
    assert not is_plain(drift._replace(voices=(drift.gain - 2.0, 2.0)), shallow=True)
    assert not is_plain(drift._replace(voices=(drift.gain,)), shallow=True)


def test_one_that_sinks_but_never_reads_as_little_as_free_water_for_long_explains_more_than_a_shift() -> None:
    assert not is_plain(DOWN._replace(free=0, gain=60.0, rival=61.0), shallow=True)
    assert is_plain(DOWN._replace(gain=60.0, rival=61.0), shallow=True)


SEEN = DOWN._replace(gain=25.0, free=0, seen=14.0)


@pytest.mark.parametrize("drift", [SEEN, SEEN._replace(rate_kpa_d=0.13, off_kpa=4.0, wettings=2)])
def test_one_that_a_service_shows_need_not_be_as_plain(drift: Best) -> None:
    assert is_plain(drift, shallow=False)
    assert is_plain(drift._replace(first=True), shallow=False)
    assert not is_plain(drift._replace(seen=9.0), shallow=False)
    assert not is_plain(drift._replace(gain=23.0), shallow=False)
    assert not is_plain(drift._replace(voices=(14.0, 8.0, -4.0)), shallow=False)


def test_a_shift_may_explain_a_little_more_of_what_a_service_shows_for_it_would_have_leapt() -> None:
    assert is_plain(SEEN._replace(rival=29.0), shallow=True)
    assert not is_plain(SEEN._replace(rival=31.0), shallow=True)


@pytest.mark.parametrize(("looks", "found"), [(1, []), (2, [(DRIFT, "north-30")])])
def test_one_that_sinks_must_be_plain_in_two_looks(
    looks: int, found: list[tuple[FindingKind, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A tube that has just lost its water can look like weeks of drift in one of them."""
    left = [DOWN] * looks

    def weighed(look: Look) -> Best | None:
        return left.pop() if look.instrument.channel == OWN and left else None

    monkeypatch.setattr("parchd.diagnosis.zero.weighed", weighed)

    assert farm().run(20 * 24, courses(ground(growth_per_day=0.25))).opened(DRIFT) == found


@pytest.mark.parametrize(
    ("beside", "found"),
    [
        (UP._replace(gain=17.0), []),
        (UP._replace(gain=13.0), [(DRIFT, "north-30")]),
        (DOWN._replace(gain=30.0), [(DRIFT, "north-30")]),
        (DOWN._replace(gain=32.0), []),
    ],
)
def test_what_a_neighbour_at_its_depth_does_as_well_is_the_soil_and_what_it_does_the_other_way_may_be_its_zero(
    beside: Best, found: list[tuple[FindingKind, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    drifts = {OWN: UP, BESIDE_IT: beside}
    monkeypatch.setattr("parchd.diagnosis.zero.weighed", lambda look: drifts.get(look.instrument.channel))
    monkeypatch.setattr("parchd.diagnosis.zero.is_plain", lambda best, **_: best is UP)

    assert farm().run(10 * 24, courses(ground(growth_per_day=0.25))).opened(DRIFT) == found


def test_two_soils_that_dry_in_their_own_ways_need_no_drift() -> None:
    assert farm().run(110 * 24, courses(ground(growth_per_day=0.27, floor_kpa=4.0))).opened(DRIFT) == []


def test_free_water_that_stands_deep_is_no_drift_where_the_ground_above_cannot_be_seen() -> None:
    """Its neighbour above has shifted, so that nobody can tell whether water stands."""
    deep = ground(floor_kpa=4.0, growth_per_day=0.12)

    def standing(hours: float) -> float:
        return -3.0 if 40 * 24 <= hours < 50 * 24 else deep(hours)

    watched = farm().run(60 * 24, courses(shifted(ground(growth_per_day=0.25), 20.0 * 24.0, 9.0), standing))

    assert watched.opened(FindingKind.LEVEL_SHIFT) == [(FindingKind.LEVEL_SHIFT, "north-30")]
    assert watched.opened(DRIFT) == []


@pytest.mark.parametrize(
    ("of", "shallow_kpa", "deep_kpa", "stands"),
    [
        (OWN, -2.1, -5.0, True),
        (BELOW, -2.1, -5.0, True),
        (BELOW, -0.9, -5.0, True),
        (BELOW, -0.7, -5.0, False),
        (BELOW, 4.0, -5.0, False),
        (OWN, -2.1, 3.0, False),
        (BELOW, 4.0, 1.0, False),
    ],
)
def test_a_water_table_that_both_cups_of_a_station_show_is_no_zero_that_sank(
    of: str, shallow_kpa: float, deep_kpa: float, stands: bool
) -> None:
    state = farm().state
    for channel, kpa in ((OWN, shallow_kpa), (BELOW, deep_kpa)):
        state.standings[channel].notes[NOTE] = [0, packed([kpa, 9.0])]
    look = Look(state, state.standings[of], 95, state.neighbours[of], Hour())

    left = without_water_table(look, recorded(look.standing, 0, 2), 0)

    assert [bool(one) for one in np.isnan(left)] == [stands, False]


def test_a_season_is_kept_in_so_many_numbers_and_no_more() -> None:
    watched = farm().run((KEPT + 12) * BLOCK_H, courses(ground()))

    standing = watched.state.standings[OWN]
    record = record_of(standing)
    assert record is not None
    assert len(record.kpa) == KEPT
    last = record.first + KEPT
    newest = standing.hours.column("mean_kpa", (last - 1) * BLOCK_H, last * BLOCK_H)
    assert record.kpa[-1] == pytest.approx(float(np.median(newest)), abs=0.01)
    assert recorded(standing, record.first, last).tolist() == record.kpa
