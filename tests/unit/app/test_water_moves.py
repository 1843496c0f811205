"""Which way water moves between the depths of a station."""

import json
from collections.abc import Iterable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.alarms.book import AlarmState
from parchd.alarms.rules import FaultRule
from parchd.app.digest import Digest
from parchd.app.water_moves import DIRECTIONS, Move, water_moves
from parchd.contract import Cause, Flag, Place, Unit
from parchd.physics.flow import Flow
from parchd.store.reader import Latest
from parchd.testing.site import MINUTE_US, START_US, names_of, small_site

PIPELINE, ALARMS = small_site()
NAMES = names_of(PIPELINE)
NORTH = ("bus1/n20", "bus1/n40", "bus1/n60")


def newest(channel: str, tension_kpa: float | None, u_kpa: float | None = 0.5) -> Latest:
    gauge_kpa = None if tension_kpa is None else -tension_kpa
    return Latest(
        channel, START_US, tension_kpa, Unit.KPA, gauge_kpa, tension_kpa, Flag.PASS, Cause.NONE, START_US, u_kpa
    )


def moves(latest: Iterable[Latest], now_us: int = START_US) -> tuple[Move, ...]:
    return water_moves(ALARMS.faults, NAMES.places, {one.channel: one for one in latest}, now_us)


def north(*tensions_kpa: float, u_kpa: float = 0.5) -> list[Latest]:
    """Readings at 20, 40 and 60 cm in the north block."""
    return [newest(channel, kpa, u_kpa) for channel, kpa in zip(NORTH, tensions_kpa, strict=False)]


def test_each_depth_is_compared_with_the_next() -> None:
    found = moves(north(10.0, 20.0, 15.0))
    assert [(move.depths(), move.flow.direction) for move in found] == [("20 to 40 cm", "down"), ("40 to 60 cm", "up")]
    assert {(move.zone, move.station) for move in found} == {("north", "post 1")}


def test_the_gradient_is_that_of_total_head() -> None:
    """Equal tensions leave gravity alone: a gradient of 1. Facts 1.8: a metre of water is 9.80665 kPa."""
    (even, _) = moves(north(20.0, 20.0, 20.0))
    assert even.flow.gradient == pytest.approx(1.0)
    (dry, _) = moves(north(20.0 + 0.2 * 9.80665, 20.0, 20.0))
    assert dry.flow.gradient == pytest.approx(0.0)
    assert even.flow.u_gradient == pytest.approx(2.0**0.5 * 0.5 / (9.80665 * 0.2))


def test_a_gradient_that_is_smaller_than_its_uncertainty_has_no_direction() -> None:
    (move, _) = moves(north(20.0, 20.0, 20.0, u_kpa=3.0))
    assert move.flow.direction == "unclear"
    assert move.words() == "unclear (gradient +1.0 +/- 2.2)"


@pytest.mark.parametrize(
    "bad",
    [
        replace(newest(NORTH[0], 20.0), flag=Flag.SUSPECT),
        replace(newest(NORTH[0], 20.0), flag=Flag.FAIL),
        newest(NORTH[0], None),
        newest(NORTH[0], 20.0, None),
    ],
)
def test_what_cannot_be_believed_or_judged_moves_no_water(bad: Latest) -> None:
    assert [move.depths() for move in moves([bad, *north(1.0, 20.0, 20.0)[1:]])] == ["40 to 60 cm"]


def test_readings_count_as_long_as_their_sensor_is_not_silent() -> None:
    """Its interval is ten minutes, and three of them without a sample make it silent."""
    latest = north(10.0, 20.0)
    assert len(moves(latest, START_US + 30 * MINUTE_US)) == 1
    assert moves(latest, START_US + 30 * MINUTE_US + 1) == ()


def test_a_depth_that_is_missing_is_leapt_over() -> None:
    assert [move.depths() for move in moves([newest(NORTH[0], 10.0), newest(NORTH[2], 20.0)])] == ["20 to 60 cm"]


def test_one_depth_alone_moves_nothing() -> None:
    assert moves([newest("bus1/c30", 10.0), newest(NORTH[0], 20.0)]) == ()
    assert moves([]) == ()


def test_two_tensiometers_at_one_depth_count_once() -> None:
    rules = [FaultRule(name, f"bus1/{name}", 600.0) for name in ("a", "b", "c")]
    depths = {"a": 0.3, "b": 0.3, "c": 0.6}
    places = {name: Place("Quillmere Orchard", "creek", "post 2", name, depth) for name, depth in depths.items()}
    latest = {f"bus1/{name}": newest(f"bus1/{name}", kpa) for name, kpa in (("a", 10.0), ("b", 90.0), ("c", 20.0))}
    (move,) = water_moves(rules, places, latest, START_US)
    assert move.flow.direction == "down"


def test_stations_are_kept_apart() -> None:
    places = {**NAMES.places, "north-40": replace(NAMES.places["north-40"], station="post 9")}
    latest = {one.channel: one for one in north(10.0, 20.0, 30.0)}
    found = water_moves(ALARMS.faults, places, latest, START_US)
    assert [(move.station, move.depths()) for move in found] == [("post 1", "20 to 60 cm")]


@given(st.floats(-10.0, 90.0), st.floats(-10.0, 90.0), st.floats(0.01, 5.0))
def test_what_moves_down_in_one_column_moves_up_in_its_mirror(one_kpa: float, other_kpa: float, u_kpa: float) -> None:
    """Take gravity out, swap the two: the gradient changes its sign."""
    flows = [moves(north(*pair, u_kpa=u_kpa))[0].flow for pair in ((one_kpa, other_kpa), (other_kpa, one_kpa))]
    assert flows[0].gradient - 1.0 == pytest.approx(1.0 - flows[1].gradient, abs=1e-9)
    assert flows[0].u_gradient == flows[1].u_gradient
    assert {flow.direction for flow in flows} <= set(DIRECTIONS)


def test_a_gradient_known_well_has_more_digits() -> None:
    assert Move("north", "post 1", 0.2, 0.4, Flow(-0.034, 0.012, "up")).words() == "up (gradient -0.03 +/- 0.01)"


def test_the_digest_has_a_table_of_it() -> None:
    latest = {one.channel: one for one in north(10.0, 20.0)}
    notice = Digest(ALARMS, NAMES, AlarmState(), latest, START_US).notice("2026-06-01")
    table = notice.tables[-1]
    assert (table.title, table.columns) == ("Water moves", ("Station", "Between", "Water moves"))
    assert table.rows == (("north block, post 1", "20 to 40 cm", "down (gradient +6.1 +/- 0.4)"),)
    assert notice.data["water_moves"] == [
        {
            "zone": "north",
            "station": "post 1",
            "from_m": 0.2,
            "to_m": 0.4,
            "direction": "down",
            "gradient": pytest.approx(1.0 + 10.0 / (9.80665 * 0.2)),
            "gradient_u": pytest.approx(2.0**0.5 * 0.5 / (9.80665 * 0.2)),
        }
    ]


def test_the_digest_tells_only_of_water_that_moves_for_certain() -> None:
    unclear = {one.channel: one for one in north(10.0, 10.0, u_kpa=9.0)}
    notice = Digest(ALARMS, NAMES, AlarmState(), unclear, START_US).notice("2026-06-01")
    assert "Water moves" not in [table.title for table in notice.tables]
    assert len(json.loads(json.dumps(notice.data["water_moves"]))) == 1


def test_a_digest_without_it_has_no_such_table() -> None:
    notice = Digest(ALARMS, NAMES, AlarmState(), {}, START_US).notice("2026-06-01")
    assert [table.title for table in notice.tables] == ["Zones"]
    assert notice.data["water_moves"] == []
