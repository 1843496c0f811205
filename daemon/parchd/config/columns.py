"""The column of water of a tensiometer: from what was written, once and only once."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from parchd.config.toml_lines import Loc
from parchd.physics.head import inclined_height_m
from parchd.physics.levels import column_height_m

KEYS = ("height_cm", "tube_length_cm", "tube_angle_deg", "water_cm", "zeroed_in_water")


class Given(NamedTuple):
    """A key with its value, how far away it is written (0: at the tensiometer itself) and where."""

    value: Any
    distance: int
    loc: Loc


@dataclass(frozen=True, slots=True)
class Column:
    """The water between cup and transducer.

    Args:
        height_m: as it is corrected for; 0 where the gauge was zeroed in water.
        zeroed: whether it was.
        loc: where it is written.
        transducer_m: height of the transducer above the cup's centre, negative below.
        water_m: height of the water's surface; ``None``: nobody says that there is air.
    """

    height_m: float
    zeroed: bool
    loc: Loc
    transducer_m: float = 0.0
    water_m: float | None = None

    @property
    def top_m(self) -> float:
        """Height of the highest water above the cup's centre: it boils there first.

        >>> Column(-0.2, False, (), -0.2).top_m, Column(0.48, False, (), 0.6, 0.48).top_m
        (0.0, 0.48)
        """
        return max(0.0, self.transducer_m if self.water_m is None else self.water_m)


@dataclass(frozen=True, slots=True)
class Unclear:
    """Why there is no column. ``loc`` is empty where nothing is written at all."""

    loc: Loc
    found: str
    expected: str
    hint: str = ""


def column_of(given: Mapping[str, Given]) -> Column | Unclear:
    """Work out the column from the keys of `KEYS` that are given; of contradicting ones the nearer counts.

    A gauge that was zeroed with its cup in water contains the column already: a height given as near as that, or
    nearer, is refused, for it would be corrected twice.
    """
    height, length, water = given.get("height_cm"), given.get("tube_length_cm"), given.get("water_cm")
    zeroed = given.get("zeroed_in_water")
    if zeroed is not None and zeroed.value:
        return _zeroed(zeroed, _nearest(height, length, water))
    nearest = _nearest(height, length)
    if nearest is None:
        return Unclear((), "nothing", "height_cm: height of the transducer above the cup's centre", _NO_HEIGHT)
    if height is not None and length is not None and height.distance == length.distance:
        return Unclear(length.loc, "height_cm and tube_length_cm", "one of them", _SLOPING)
    column = _upright(nearest, given) if nearest is height else _sloping(nearest, given.get("tube_angle_deg"))
    return column if water is None or isinstance(column, Unclear) else _with_air(column, water.value / 100.0)


_NO_HEIGHT = "with air in the tube water_cm too; or zeroed_in_water = true if the gauge contains the column already"
_SLOPING = "height_cm is upright; tube_length_cm runs along a sloping tube and goes with tube_angle_deg"


def _nearest(*given: Given | None) -> Given | None:
    return min((one for one in given if one is not None), key=lambda one: one.distance, default=None)


def _zeroed(zeroed: Given, nearest: Given | None) -> Column | Unclear:
    if nearest is not None and nearest.distance <= zeroed.distance:
        return Unclear(
            nearest.loc,
            "a height of water together with zeroed_in_water = true",
            "one of them: the column would be corrected twice",
            "a gauge that showed 0 with its cup in water contains the column already; if this one did not, "
            "set zeroed_in_water = false here",
        )
    return Column(0.0, zeroed=True, loc=zeroed.loc)


def _upright(height: Given, given: Mapping[str, Given]) -> Column | Unclear:
    angle = given.get("tube_angle_deg")
    if angle is not None and angle.distance <= height.distance:
        return Unclear(angle.loc, "an angle together with height_cm", "tube_length_cm and the angle", _SLOPING)
    return _full(height.value / 100.0, height.loc)


def _sloping(length: Given, angle: Given | None) -> Column | Unclear:
    if angle is None:
        return Unclear(length.loc, "tube_length_cm alone", "tube_angle_deg with it", _SLOPING)
    return _full(inclined_height_m(length.value / 100.0, angle.value), length.loc)


def _full(transducer_m: float, loc: Loc) -> Column:
    return Column(transducer_m, zeroed=False, loc=loc, transducer_m=transducer_m)


def _with_air(column: Column, water_m: float) -> Column:
    return replace(column, height_m=column_height_m(column.transducer_m, water_m), water_m=water_m)
