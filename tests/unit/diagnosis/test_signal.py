"""Numbers in the wrong byte order, in the wrong unit or on the wrong scale."""

import math
import struct
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import Cause, Reading, Unit
from parchd.diagnosis import evidence, rescaled
from parchd.diagnosis.byte_turns import TURNS, is_rail, is_senseless
from parchd.diagnosis.factors import FACTORS, PSI_KPA, factor_of
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.verdict import Look
from parchd.testing.diagnosing import Curve, Watched, chance, hours_us, instrument, noisy, sent

CHANNEL = "bus1/north-30"
HEAD_KPA = 3.0
WORDS = (FindingKind.BYTE_ORDER, FindingKind.WRONG_UNIT)
Tension = Callable[[float], float]


def soil(h: float) -> float:
    """Dries by 1.5 kPa a day with a ripple, and is wetted every ten days."""
    return 12.0 + 1.5 * (h % 240.0) / 24.0 + 0.8 * math.sin(h * math.pi / 12.0)


def vacuum(h: float) -> float:
    return noisy(soil, 0.06, 3)(h) + HEAD_KPA


def codes(kpa: float) -> int:
    """A 16-bit converter, signed, 40 mV a kilopascal downwards from 4.5 V."""
    return round((4.5 - 0.04 * kpa) / 6.144 * 32768)


def judged(value: float) -> Reading:
    """What a chain of kilopascals makes of a number: impossible tensions fail."""
    tension = value - HEAD_KPA
    cause = Cause.ABOVE_PHYSICAL if tension > 98.0 else Cause.BELOW_PHYSICAL if tension < -15.0 else Cause.NONE
    return sent(value, tension if math.isfinite(tension) else None, cause)


def in_kpa(turn: Callable[[float], float]) -> Curve:
    """A device that sends vacuum in kPa, and what is made of what it sends."""
    return lambda h: judged(turn(round(vacuum(h), 2)))


def in_codes(turn: Callable[[int], int]) -> Curve:
    """A device that sends codes; signals off the transducer's line are open or shorted."""

    def curve(h: float) -> Reading:
        code = turn(codes(vacuum(h)))
        volts = code * 6.144 / 32768
        cause = Cause.SHORT_CIRCUIT if volts > 4.75 else Cause.OPEN_CIRCUIT if volts < 0.25 else Cause.NONE
        return sent(float(code), None if cause else (4.5 - volts) / 0.04 - HEAD_KPA, cause)

    return curve


def from_hour(begin_h: float, wrong: Curve, right: Curve) -> Curve:
    return lambda h: wrong(h) if h >= begin_h else right(h)


def watched(curve: Curve, days: float, interval_s: float = 900.0, **others: Curve) -> Watched:
    names = ("north-30", "north-31", "north-60", "north-61")
    posts = {"north-31": "post 2", "north-61": "post 2"}
    seen = Watched(*(instrument(n, head_kpa=HEAD_KPA, interval_s=interval_s, station=posts.get(n, "post 1"))
                     for n in names))  # fmt: skip
    healthy = {f"bus1/{name}": in_kpa(lambda kpa: kpa) for name in names[1:]}
    return seen.run(24 * days, {CHANNEL: curve, **healthy, **others})


def swapped(code: int) -> int:
    turned: int = struct.unpack(">h", struct.pack("<h", code))[0]
    return turned


def reordered(order: tuple[int, int, int, int]) -> Callable[[float], float]:
    def turn(value: float) -> float:
        given_ = struct.pack(">f", value)
        out: float = struct.unpack(">f", bytes(given_[n] for n in order))[0]
        return out if math.isfinite(out) else 0.0

    return turn


@pytest.mark.parametrize("interval_s", [300.0, 900.0, 3600.0])
def test_exchanged_bytes_of_codes_are_found_within_hours(interval_s: float) -> None:
    seen = watched(from_hour(100.0, in_codes(swapped), in_codes(int)), 6, interval_s)

    (finding,) = seen.begun(*WORDS)
    assert (finding.key.kind, finding.key.name) == (FindingKind.BYTE_ORDER, "north-30")
    assert hours_us(99) <= finding.start_us <= hours_us(103)
    assert finding.found_us <= hours_us(110)


@pytest.mark.parametrize("order", [(3, 2, 1, 0), (2, 3, 0, 1)])
@pytest.mark.parametrize("interval_s", [900.0, 3600.0])
def test_numbers_whose_four_bytes_are_out_of_order_are_found(
    order: tuple[int, int, int, int], interval_s: float
) -> None:
    seen = watched(from_hour(100.0, in_kpa(reordered(order)), in_kpa(lambda kpa: kpa)), 6, interval_s)

    assert seen.opened(*WORDS) == [(FindingKind.BYTE_ORDER, "north-30")]
    assert seen.begun(*WORDS)[0].found_us <= hours_us(106)


def test_bytes_that_were_wrong_from_the_first_sample_are_found() -> None:
    assert watched(in_codes(swapped), 4).opened(*WORDS) == [(FindingKind.BYTE_ORDER, "north-30")]


def test_it_is_over_when_the_numbers_are_sensible_again() -> None:
    wrong = from_hour(100.0, in_codes(swapped), in_codes(int))
    seen = watched(from_hour(150.0, in_codes(int), wrong), 9)

    assert [one.key.kind for one in seen.ended(*WORDS)] == [FindingKind.BYTE_ORDER]
    assert hours_us(149) <= (seen.ended(*WORDS)[0].ended_us or 0) <= hours_us(155)


@pytest.mark.parametrize("factor", [10.0, 6.894757, 100.0])
@pytest.mark.parametrize("interval_s", [900.0, 3600.0])
def test_a_unit_that_makes_numbers_larger_is_found_within_hours(factor: float, interval_s: float) -> None:
    seen = watched(from_hour(100.0, in_kpa(lambda kpa: kpa * factor), in_kpa(lambda kpa: kpa)), 6, interval_s)

    (finding,) = seen.begun(*WORDS)
    assert finding.key.kind is FindingKind.WRONG_UNIT
    assert hours_us(99) <= finding.start_us <= hours_us(102)
    assert finding.found_us <= hours_us(106)
    assert finding.facts[0].value == pytest.approx(factor, rel=0.01)


@pytest.mark.parametrize("factor", [0.1, 0.1450377])
@pytest.mark.parametrize("interval_s", [900.0, 3600.0])
def test_a_unit_that_makes_numbers_smaller_is_found_within_days(factor: float, interval_s: float) -> None:
    """It reads like a tube without water; but noise and course go on, so many times smaller."""
    seen = watched(from_hour(100.0, in_kpa(lambda kpa: kpa * factor), in_kpa(lambda kpa: kpa)), 8, interval_s)

    assert seen.opened(*WORDS) == [(FindingKind.WRONG_UNIT, "north-30")]
    assert FindingKind.LOST_WATER not in seen.still_open()


@pytest.mark.parametrize("factor", [0.1, 0.1450377, 6.894757])
def test_a_scale_that_was_wrong_from_the_first_day_is_found_by_the_neighbours(factor: float) -> None:
    seen = watched(in_kpa(lambda kpa: kpa * factor), 20)

    assert seen.opened(*WORDS) == [(FindingKind.WRONG_UNIT, "north-30")]
    assert FindingKind.WRONG_UNIT in seen.still_open()


def test_a_unit_that_makes_numbers_larger_stays_known_when_the_soil_becomes_wet() -> None:
    def wetted(h: float) -> float:
        return round((noisy(soil, 0.06, 3)(h) + HEAD_KPA) * (1.0 if h < 200.0 else 0.27), 2)

    def right(h: float) -> Reading:
        return judged(wetted(h))

    others: dict[str, Curve] = {f"bus1/north-{name}": right for name in ("31", "60", "61")}
    wrong = from_hour(100.0, lambda h: judged(PSI_KPA * wetted(h)), right)

    seen = watched(wrong, 16, 900.0, **others)

    assert seen.opened(*WORDS) == [(FindingKind.WRONG_UNIT, "north-30")]
    assert FindingKind.WRONG_UNIT in seen.still_open()


def test_a_unit_that_makes_numbers_smaller_is_found_while_its_neighbours_are_watered() -> None:
    def watered(h: float) -> Reading:
        left = math.exp(-max(0.0, h - 51.0) / 2.0)
        return judged(round(4.0 + (vacuum(h) - 4.0) * left, 2))

    others: dict[str, Curve] = {f"bus1/north-{name}": watered for name in ("31", "60", "61")}
    still = noisy(lambda _: soil(50.0) + HEAD_KPA, 0.06, 3)
    wrong = from_hour(50.0, lambda h: judged(0.1 * still(h)), in_kpa(lambda kpa: kpa))

    assert watched(wrong, 4.5, 3600.0, **others).opened(*WORDS) == [(FindingKind.WRONG_UNIT, "north-30")]


@pytest.mark.parametrize(
    ("factor", "all_shake_less", "named"),
    [(0.1450377, False, [(FindingKind.WRONG_UNIT, "north-30")]), (0.1450377, True, []), (1.0, False, [])],
)
def test_a_unit_is_found_amid_noise_by_what_it_makes_of_that(
    factor: float, all_shake_less: bool, named: list[tuple[FindingKind, str]]
) -> None:
    """What comes down as far and shakes as before got water; where all shake less the supply is better."""

    def shaking(seed: int, from_h: float, level: float, noise: float) -> Curve:
        def curve(h: float) -> Reading:
            later = h >= from_h
            kpa = (soil(h) + HEAD_KPA) * (level if later else 1.0)
            return judged(kpa + chance(seed, h).gauss(0.0, 3.0) * (noise if later else 1.0))

        return curve

    noise = 0.145 if all_shake_less else 1.0
    others = {f"bus1/north-{name}": shaking(int(name), 100.3, 1.0, noise) for name in ("31", "60", "61")}
    seen = watched(shaking(3, 100.3, 0.145, 0.145 if all_shake_less else factor), 6, 1800.0, **others)

    assert seen.opened(FindingKind.WRONG_UNIT) == named


def test_what_is_left_of_a_broken_column_shakes_less_and_is_no_other_unit(monkeypatch: pytest.MonkeyPatch) -> None:
    def shaking(level: float) -> Curve:
        def curve(h: float) -> Reading:
            return judged((level if h >= 100.3 else 1.0) * (soil(h) + HEAD_KPA + chance(3, h).gauss(0.0, 3.0)))

        return curve

    others = {f"bus1/north-{name}": shaking(1.0) for name in ("31", "60", "61")}
    monkeypatch.setattr(Look, "has", lambda _, *kinds: FindingKind.AIR_ENTRY in kinds)

    assert watched(shaking(0.145), 6, 1800.0, **others).opened(FindingKind.WRONG_UNIT) == []


def test_a_wrong_scale_stays_known_while_the_soil_keeps_still() -> None:
    def quiet(h: float) -> float:
        return round(noisy(soil, 0.06, 3)(min(h, 20.0 * 24.0)) + HEAD_KPA, 2)

    def right(h: float) -> Reading:
        return judged(quiet(h))

    others: dict[str, Curve] = {f"bus1/north-{name}": right for name in ("31", "60", "61")}

    seen = watched(lambda h: judged(0.1 * quiet(h)), 32, 900.0, **others)

    assert seen.opened(*WORDS) == [(FindingKind.WRONG_UNIT, "north-30")]
    assert FindingKind.WRONG_UNIT in seen.still_open()


def wet(h: float) -> float:
    """Ground in which a seventh of what a transducer feels is less than free water above its cup."""
    return noisy(lambda x: 0.4 * soil(x), 0.02, 3)(h) + HEAD_KPA


WET_AROUND: dict[str, Curve] = {f"bus1/north-{name}": lambda h: judged(round(wet(h), 2)) for name in ("31", "60", "61")}


def test_a_unit_that_reads_less_than_free_water_is_found_within_eight_days() -> None:
    def psi(h: float) -> Reading:
        return judged(round(0.145 * 1.3 * wet(h) / 1.2, 3))

    assert watched(psi, 8.5, 900.0, **WET_AROUND).opened() == [(FindingKind.WRONG_UNIT, "north-30")]


def test_a_wrong_scale_stays_known_while_its_ground_becomes_drier() -> None:
    """It comes to read more than a third of what its neighbours do, and still moves by so much less."""

    def drier(h: float) -> Reading:
        much = min(1.0, max(0.0, h - 240.0) / 720.0)
        return judged(round(0.145 * (wet(h) * (1.0 + much) + 8.0 * much), 3))

    seen = watched(drier, 45, 3600.0, **WET_AROUND)

    assert seen.opened(*WORDS) == [(FindingKind.WRONG_UNIT, "north-30")]
    assert FindingKind.WRONG_UNIT in seen.still_open()


def test_a_wrong_scale_is_over_when_it_reads_what_its_neighbours_read() -> None:
    seen = watched(from_hour(20.0 * 24.0, in_kpa(lambda kpa: kpa), in_kpa(lambda kpa: 0.1 * kpa)), 30)

    assert FindingKind.WRONG_UNIT not in seen.still_open()


def test_a_unit_that_does_not_fit_the_transducer_is_found() -> None:
    seen = watched(from_hour(100.0, lambda h: Cause.UNIT, in_kpa(lambda kpa: kpa)), 5)
    assert seen.opened(*WORDS) == [(FindingKind.WRONG_UNIT, "north-30")]


@pytest.mark.parametrize("to_kpa", [0.3, 1.0, 2.0, -1.5, 0.0])
@pytest.mark.parametrize("interval_s", [900.0, 3600.0])
def test_water_that_takes_most_of_the_tension_is_no_unit(to_kpa: float, interval_s: float) -> None:
    def wetted(h: float) -> float:
        left = math.exp(-max(0.0, h - 100.0) / 0.4)
        wet = noisy(lambda x: to_kpa + 0.8 * max(0.0, x - 104.0) / 24.0, 0.06, 5)(h)
        return vacuum(h) if h < 100.0 else HEAD_KPA + wet + (vacuum(100.0) - HEAD_KPA - to_kpa) * left

    def curve(h: float) -> Reading:
        return sent(round(wetted(h), 2), wetted(h) - HEAD_KPA)

    assert watched(curve, 9, interval_s).opened(*WORDS) == []


def test_a_tube_that_lost_its_water_is_no_unit() -> None:
    def empty(h: float) -> Reading:
        kpa = vacuum(h) if h < 100.0 else noisy(lambda x: 1.6 + 0.3 * math.sin(x * math.pi / 12.0), 0.06, 5)(h)
        return sent(round(kpa, 2), kpa - HEAD_KPA)

    assert watched(empty, 12).opened(*WORDS) == []


def test_a_shift_of_level_is_no_unit() -> None:
    assert watched(from_hour(100.0, in_kpa(lambda kpa: kpa + 15.0), in_kpa(lambda kpa: kpa)), 9).opened(*WORDS) == []


@pytest.mark.parametrize("code", [400, 26400, 534])
def test_a_broken_wire_is_no_unit_and_no_byte_order(code: int) -> None:
    seen = watched(from_hour(100.0, in_codes(lambda _: code), in_codes(int)), 9)
    assert seen.opened(*WORDS) == []


def test_a_unit_that_changes_while_the_soil_dries_fast_is_found() -> None:
    """Soil goes on by a twenty-fifth within the hour; and what is left looks like a tube that lost its water."""

    def steep(h: float) -> float:
        return HEAD_KPA + 6.0 + 1.3 * math.sin((h - 2.0) * math.pi / 12.0) + 0.02 * math.sin(777.7 * h)

    psi = from_hour(99.1, lambda h: judged(steep(h) / 6.895), lambda h: judged(steep(h)))

    assert watched(psi, 8).opened(*WORDS) == [(FindingKind.WRONG_UNIT, "north-30")]


def test_a_unit_that_makes_numbers_larger_is_found_though_the_soil_goes_on_by_a_tenth_within_the_hour() -> None:
    def falling(h: float) -> float:
        return HEAD_KPA + 9.0 + 2.1 * math.cos((h - 92.0) * math.pi / 10.0) + 0.02 * math.sin(777.7 * h)

    psi = from_hour(98.1, lambda h: judged(falling(h) * 6.895), lambda h: judged(falling(h)))

    assert watched(psi, 104.0 / 24.0).opened() == [(FindingKind.WRONG_UNIT, "north-30")]


def test_turned_bytes_that_now_and_then_look_like_a_broken_wire_are_none() -> None:
    """From the first sample; every seventh number may be that of a wire."""
    turn = reordered((3, 2, 1, 0))

    def odd(h: float) -> Reading:
        value = 0.006 if int(h) % 7 == 6 else turn(round(vacuum(h), 2))
        return sent(value, None, Cause.OPEN_CIRCUIT)

    assert FindingKind.OPEN_CIRCUIT not in [kind for kind, _ in watched(odd, 3, 3600.0).opened()]


def test_codes_that_were_turned_from_the_first_sample_are_no_broken_wire() -> None:
    assert watched(in_codes(swapped), 4).opened() == [(FindingKind.BYTE_ORDER, "north-30")]


def test_turned_codes_of_which_the_first_may_have_been_right_are_no_broken_wire() -> None:
    """They pass for right ones until they look like an open line: those before were none that lie side by side."""
    right = (22317, 22310, 22307, 22318, 22298, 22263, 22212, 22152, 22063)

    def curve(h: float) -> Reading:
        since = int(h) - 100
        code = 22294 + since if since < 0 else swapped(right[min(since, len(right) - 1)])
        volts = code * 6.144 / 32768
        return sent(
            float(code),
            None if volts < 0.25 else (4.5 - volts) / 0.04,
            Cause.OPEN_CIRCUIT if volts < 0.25 else Cause.NONE,
        )

    assert watched(curve, 109.0 / 24.0, 3600.0).opened(FindingKind.OPEN_CIRCUIT) == []


@pytest.mark.parametrize("interval_s", [1800.0, 3600.0])
def test_codes_that_were_turned_from_the_first_sample_and_never_make_sense_are_no_broken_wire(
    interval_s: float,
) -> None:
    """They look like an open and like a shorted line by turns, a day and longer, one sample an hour or two."""

    def odd(h: float) -> Reading:
        code = float(swapped(21379 + round(30.0 * math.sin(h / 8.0))))
        return sent(code, None, Cause.SHORT_CIRCUIT if code > 0.0 else Cause.OPEN_CIRCUIT)

    assert watched(odd, 4, interval_s).opened(FindingKind.OPEN_CIRCUIT, FindingKind.SHORT_CIRCUIT) == []


def test_a_broken_wire_at_a_tenth_of_the_signal_is_no_unit() -> None:
    """Its last code comes and goes with the noise; soil would wander."""
    tenth = round(codes(vacuum(199.0)) / 160.0)

    def broken(h: float) -> Reading:
        return sent(float(tenth + (int(h) % 5 == 0)), None, Cause.OPEN_CIRCUIT)

    def coarse(h: float) -> Reading:
        return sent(float(round(codes(vacuum(h)) / 16.0)), soil(h))

    seen = watched(from_hour(200.0, broken, coarse), 12, 3600.0)
    assert seen.opened(*WORDS) == []


def test_a_wire_that_breaks_and_sends_zero_is_no_byte_order() -> None:
    """A single number before it may well be a tiny one when it is turned."""

    def last(h: float) -> Reading:
        return judged(9.846 if h >= 241.0 else round(vacuum(h), 2))

    seen = watched(from_hour(242.0, lambda _: sent(0.0, None, Cause.OPEN_CIRCUIT), last), 14)
    assert seen.opened(*WORDS) == []


def test_a_loose_wire_that_sends_zero_for_hours_is_no_byte_order() -> None:
    """Turned, what it sends in between lies next to zero and hardly changes."""

    def loop(h: float) -> Reading:
        kpa = 4.3 + 0.5 * math.sin(h * math.pi / 12.0)
        loose = h % 60.0 >= 46.0
        return sent(0.0, None, Cause.OPEN_CIRCUIT) if loose else sent(round(5.16 + 0.16 * kpa, 3), kpa)

    assert watched(loop, 12).opened(*WORDS) == []


def test_a_converter_at_its_end_is_no_byte_order() -> None:
    at_end = sent(32767.0, None, Cause.SATURATED)
    seen = watched(from_hour(100.0, lambda h: at_end, in_codes(int)), 9)
    assert seen.opened(*WORDS, FindingKind.SATURATED) == [(FindingKind.SATURATED, "north-30")]


@pytest.mark.parametrize(("cold_c", "found"), [(-2.0, []), (5.0, [(FindingKind.BYTE_ORDER, "north-30")])])
def test_ice_that_pushes_codes_to_the_end_of_the_range_is_no_byte_order(
    cold_c: float, found: list[tuple[FindingKind, str]]
) -> None:
    """A code of two is five hundred when its bytes are turned."""

    def pushed(h: float) -> Reading:
        return sent(float(1 + int(h) % 2), None, Cause.SHORT_CIRCUIT)

    def usual(h: float) -> Reading:
        return sent(500.0 - round(vacuum(h)), vacuum(h) - HEAD_KPA)

    warmth = "bus1/soil-c"
    seen = Watched(instrument("north-30", head_kpa=HEAD_KPA, temperature_channel=warmth), units={warmth: Unit.CELSIUS})
    seen.run(130, {CHANNEL: from_hour(100.0, pushed, usual), warmth: lambda h: cold_c if h >= 90.0 else 8.0})

    assert seen.opened(*WORDS) == found


@given(st.integers(-32768, 32767))
def test_codes_with_exchanged_bytes_can_be_put_right(code: int) -> None:
    assert TURNS["two bytes exchanged, signed"](float(swapped(code))) == code


@given(st.floats(width=32, allow_nan=False, allow_infinity=False))
def test_turning_bytes_twice_changes_nothing(value: float) -> None:
    for name in ("four bytes reversed", "two words exchanged", "bytes exchanged within two words"):
        turned = TURNS[name](value)
        assert math.isnan(turned) or math.isinf(turned) or abs(turned) >= 3.4e38 or TURNS[name](turned) == value


@given(st.floats(0.001, 5000.0))
def test_a_signal_of_any_unit_is_not_senseless(value: float) -> None:
    assert not is_senseless(value)


@pytest.mark.parametrize("bits", [8, 10, 12, 16, 24])
def test_ends_of_converters_are_rails(bits: int) -> None:
    assert is_rail(float(2**bits - 1))
    assert is_rail(float(-(2 ** (bits - 1))))
    assert not is_rail(float(2**bits * 0.7))


@pytest.mark.parametrize("factor", FACTORS)
def test_a_factor_is_named_when_it_is_nearly_met(factor: float) -> None:
    assert factor_of(factor * 1.03) == factor


@pytest.mark.parametrize(
    ("known", "factor", "said"),
    [
        (FindingKind.AIR_ENTRY, 0.13, ""),
        (FindingKind.LOST_WATER, 6.9, ""),
        (FindingKind.LOST_WATER, 0.13, "noise that changed with it"),
        (None, 0.13, "noise that changed with it"),
    ],
)
def test_noise_alone_shows_no_other_unit_where_air_broke_the_column_or_next_to_nothing_is_left(
    known: FindingKind | None, factor: float, said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(evidence, "_noise_fits", lambda *_: True)
    monkeypatch.setattr(evidence, "_course_fits", lambda *_: False)
    monkeypatch.setattr(Look, "has", lambda _, *kinds: known in kinds)
    state = Watched(instrument("north-30")).run(30, {"bus1/north-30": lambda _: 10.0}).state
    (standing,) = state.standings.values()
    look = Look(state, standing, standing.hours.end - 1, state.neighbours["bus1/north-30"], standing.hours.newest())

    assert evidence._goes_on(look, look.hour - 20, factor) == said


@pytest.mark.parametrize(
    ("known", "factor", "reads_kpa", "said"),
    [
        (FindingKind.AIR_ENTRY, 0.145, 0.2, ""),
        (FindingKind.AIR_ENTRY, 0.145, 5.0, "noise that changed with it"),
        (FindingKind.LOST_WATER, 6.895, 0.2, ""),
        (FindingKind.LOST_WATER, 0.145, 0.2, "noise that changed with it"),
    ],
)
def test_what_is_empty_still_has_no_other_unit_whatever_fits(
    known: FindingKind, factor: float, reads_kpa: float, said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Divided numbers may have been taken for lost water; grown ones would read more."""
    for name in ("_noise_fits", "_course_fits"):
        monkeypatch.setattr(evidence, name, lambda *_: True)
    monkeypatch.setattr(Look, "has", lambda _, *kinds: known in kinds)
    state = (
        Watched(instrument("north-30", head_kpa=HEAD_KPA))
        .run(30, {"bus1/north-30": lambda _: reads_kpa - HEAD_KPA})
        .state
    )
    (standing,) = state.standings.values()
    look = Look(state, standing, standing.hours.end - 1, state.neighbours["bus1/north-30"], standing.hours.newest())

    assert evidence._goes_on(look, look.hour - 20, factor) == said


@pytest.mark.parametrize(
    ("known", "factor", "told"),
    [(FindingKind.LOST_WATER, 6.895, False), (FindingKind.LOST_WATER, 0.145, True), (None, 6.895, True)],
)
def test_what_next_to_nothing_becomes_a_multiple_of_is_no_other_unit(
    known: FindingKind | None, factor: float, told: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, answer in (("_steps", True), ("_others_changed", False)):
        monkeypatch.setattr(rescaled, name, lambda *_, answer=answer: answer)
    for name in ("_level_log", "_noise_log"):
        monkeypatch.setattr(rescaled, name, lambda *_: math.log(factor))
    monkeypatch.setattr(Look, "has", lambda _, *kinds: known in kinds)
    state = Watched(instrument("north-30")).run(60, {"bus1/north-30": lambda _: 10.0}).state
    (standing,) = state.standings.values()
    look = Look(state, standing, standing.hours.end - 1, state.neighbours["bus1/north-30"], standing.hours.newest())

    assert [case.kind for case in rescaled.watch(look)] == ([FindingKind.WRONG_UNIT] if told else [])


@pytest.mark.parametrize(
    ("dry_kpa", "factor", "found"),
    [
        (60.0, 10.0, [FindingKind.AIR_ENTRY]), (0.0, 10.0, [FindingKind.LOST_WATER]),
        (0.0, PSI_KPA, [FindingKind.LOST_WATER]), (60.0, 0.1, []),
    ],
)  # fmt: skip
def test_a_tube_that_lost_its_water_is_seen_through_a_unit_that_makes_numbers_larger(
    dry_kpa: float, factor: float, found: list[FindingKind]
) -> None:
    def own(h: float) -> Reading:
        left = 1.0 if h < 330.0 else 0.45 * math.exp((330.0 - h) / 8.0)
        drier = dry_kpa * min(max((h - 240.0) / 60.0, 0.0), 1.0)
        return judged((vacuum(h) + drier) * left * factor)

    seen = watched(own, 17)

    assert seen.opened(*WORDS) == [(FindingKind.WRONG_UNIT, "north-30")]
    assert [kind for kind, _ in seen.opened(FindingKind.AIR_ENTRY, FindingKind.LOST_WATER)] == found
    assert FindingKind.WRONG_UNIT in seen.still_open()
