"""Open and shorted lines, and converters at their end."""

import math
from collections.abc import Callable

import pytest

from parchd.contract import Cause, Reading
from parchd.diagnosis.kinds import FindingKind
from parchd.testing.diagnosing import Curve, Watched, chance, hours_us, instrument, sent

CHANNEL = "bus1/north-20"
WIRES = (FindingKind.OPEN_CIRCUIT, FindingKind.SHORT_CIRCUIT, FindingKind.SATURATED)
KINDS = [
    (Cause.OPEN_CIRCUIT, FindingKind.OPEN_CIRCUIT),
    (Cause.SHORT_CIRCUIT, FindingKind.SHORT_CIRCUIT),
    (Cause.SATURATED, FindingKind.SATURATED),
]


def drying(h: float) -> float:
    return 20.0 + h / 24.0


def broken(cause: Cause, during: Callable[[float], bool]) -> Curve:
    """A converter at its end sends its last code."""
    bad = sent(4095.0, None, cause) if cause is Cause.SATURATED else cause
    return lambda h: bad if during(h) else drying(h)


def watched(curve: Curve, hours: float = 96, interval_s: float = 900.0) -> Watched:
    return Watched(instrument("north-20", interval_s=interval_s)).run(hours, {CHANNEL: curve})


@pytest.mark.parametrize(("cause", "kind"), KINDS)
@pytest.mark.parametrize("interval_s", [60.0, 900.0, 3600.0])
def test_a_line_that_breaks_is_found_within_four_samples_and_an_hour(
    cause: Cause, kind: FindingKind, interval_s: float
) -> None:
    seen = watched(broken(cause, lambda h: h >= 48.0), 60, interval_s)

    (finding,) = seen.begun(*WIRES)
    assert (finding.key.kind, finding.start_us) == (kind, hours_us(48))
    assert finding.found_us <= hours_us(49.0 + 4.0 * interval_s / 3600.0)


def test_it_is_over_with_an_hour_of_good_samples() -> None:
    seen = watched(broken(Cause.OPEN_CIRCUIT, lambda h: 48.0 <= h < 60.0))

    (ended,) = seen.ended(*WIRES)
    assert ended.ended_us == hours_us(60)


@pytest.mark.parametrize("interval_s", [900.0, 3600.0])
def test_one_or_two_bad_samples_are_quiet(interval_s: float) -> None:
    step_h = interval_s / 3600.0
    seen = watched(broken(Cause.OPEN_CIRCUIT, lambda h: 48.0 <= h < 48.0 + 2 * step_h), 96, interval_s)
    assert seen.opened(*WIRES) == []


def test_a_loose_contact_is_found_and_is_not_over_with_every_pause() -> None:
    """One sample of six is lost, never three in a row."""
    seen = watched(broken(Cause.OPEN_CIRCUIT, lambda h: 48.0 <= h < 90.0 and round(h * 4) % 6 == 0), 140)

    assert seen.opened(*WIRES) == [(FindingKind.OPEN_CIRCUIT, "north-20")]
    assert [hours_us(110) >= (one.ended_us or 0) >= hours_us(89) for one in seen.ended(*WIRES)] == [True]


def test_samples_that_several_channels_lose_now_and_then_blame_no_wire() -> None:
    names = ("north-20", "north-40", "north-60")
    seen = Watched(*map(instrument, names))
    curve = broken(Cause.OPEN_CIRCUIT, lambda h: h > 48.0 and chance(1, h).random() < 0.4)
    seen.run(96, {f"bus1/{name}": curve for name in names})

    assert seen.opened(*WIRES) == []


def test_samples_that_wet_soil_loses_while_the_others_of_its_board_dip_blame_no_wire() -> None:
    """A contact of the board takes half of each signal for a moment, and the one of wet soil leaves its range."""
    moments = {48.0 + at for at in (0.25, 1.5, 2.75, 4.5, 4.75, 6.25, 8.0, 10.5)}
    names = (CHANNEL, "bus1/north-40", "bus1/north-60")

    def wet(h: float) -> float | Cause:
        return Cause.OPEN_CIRCUIT if h in moments else drying(h)

    def seen(on_board: set[float]) -> Watched:
        curves: dict[str, Curve] = {one: lambda h: 0.5 * drying(h) if h in on_board else drying(h) for one in names[1:]}
        return Watched(*(instrument(one.partition("/")[2]) for one in names)).run(60, {CHANNEL: wet, **curves})

    assert seen(moments).opened(*WIRES) == []
    assert seen(set()).opened(*WIRES) == [(FindingKind.OPEN_CIRCUIT, "north-20")]


@pytest.mark.parametrize(("wanders", "named"), [(1.0, []), (0.0, [(FindingKind.OPEN_CIRCUIT, "north-20")])])
def test_noise_that_begins_and_carries_samples_of_wet_soil_out_of_their_range_is_no_broken_wire(
    wanders: float, named: list[tuple[FindingKind, str]]
) -> None:
    """Three in a row, an hour apart, before anybody can know that it is noise."""

    def shaken(number: int) -> Curve:
        return lambda h: 20.0 + h / 24.0 + (chance(number, h).gauss(0.0, 5.0) if h >= 48.0 else 0.0)

    def wet(h: float) -> Reading:
        if not 48.0 <= h < 51.0:
            return sent(4.8, -2.5)
        return sent(2.6 + wanders * 0.9 * (h == 49.0), None, Cause.OPEN_CIRCUIT)

    names = ("north-40", "north-60", "north-80")
    seen = Watched(*(instrument(one, interval_s=3600.0) for one in ("north-20", *names)))
    seen.run(54, {CHANNEL: wet, **{f"bus1/{one}": shaken(number) for number, one in enumerate(names)}})

    assert seen.opened(*WIRES) == named


@pytest.mark.parametrize("interval_s", [900.0, 3600.0])
def test_a_wire_that_breaks_for_hours_is_found_beside_the_drop_outs_of_its_board(interval_s: float) -> None:
    def dipping(h: float) -> float | Cause:
        return Cause.OPEN_CIRCUIT if chance(1, round(h)).random() < 0.1 and h == round(h) else drying(h)

    names = ("north-20", "north-40", "north-60")
    seen = Watched(*(instrument(name, interval_s=interval_s) for name in names))
    curves: dict[str, Curve] = {f"bus1/{name}": dipping for name in names}
    curves[CHANNEL] = lambda h: Cause.OPEN_CIRCUIT if 96.0 <= h < 105.0 else dipping(h)
    seen.run(140, curves)

    assert seen.opened(FindingKind.DROP_OUTS) == [(FindingKind.DROP_OUTS, "bus1")]
    (finding,) = seen.begun(*WIRES)
    assert (finding.key.name, finding.start_us) == ("north-20", hours_us(96))


def test_numbers_that_wander_far_beyond_the_range_are_no_shorted_line() -> None:
    """Codes with exchanged bytes do, whatever they look like."""

    def wandering(h: float) -> Reading:
        return sent(32000.0 - 5000.0 * (h % 12.0), None, Cause.SHORT_CIRCUIT) if h >= 48.0 else sent(22000.0, 20.0)

    assert watched(wandering, 60).opened(*WIRES) == []


def test_impossible_tensions_are_no_broken_wire() -> None:
    assert watched(broken(Cause.ABOVE_PHYSICAL, lambda h: h >= 48.0)).opened(*WIRES) == []


def test_a_signal_that_creeps_over_its_edge_for_some_hours_a_day_is_no_broken_wire() -> None:
    """An offset takes wet soil just past the line of the transducer."""

    def curve(h: float) -> Reading:
        volts = 4.70 + 0.12 * math.sin(h * math.pi / 12.0)
        return sent(volts, (4.5 - volts) / 0.04) if volts < 4.75 else sent(volts, None, Cause.SHORT_CIRCUIT)

    assert watched(curve, 240).opened(*WIRES) == []
