"""Calibrations of one tensiometer: from signals and vacuum to pressures, and judged for sense."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, time
from zoneinfo import ZoneInfo

from parchd.clock import from_datetime
from parchd.config.calibration_table import CalibrationTable
from parchd.config.origins import Origins
from parchd.config.toml_lines import Loc
from parchd.config.wiring import Wiring
from parchd.contract import Flag, Problem
from parchd.physics.calibration import NOMINAL, Calibration, CalibrationKind, Fit, TemperatureEffect
from parchd.physics.causes import flag_of
from parchd.physics.reference import from_gauge_kpa

LEAST_VACUUM_KPA, MOST_VACUUM_KPA = -20.0, 101.0
"""Below 0 it is pressure: of water above a transducer that lies below its cup."""
LARGE_OFFSET_KPA = 10.0
LARGE_SCATTER_KPA = 2.0

_ORDER = "the first number of a point is the signal, the second the vacuum in kPa"


@dataclass(frozen=True, slots=True)
class Dated:
    """A calibration with the place it is written."""

    table: CalibrationTable
    loc: Loc

    def begin_us(self, zone: ZoneInfo) -> int:
        """From when it holds: a date from its first moment on, local time."""
        moment = self.table.valid_from
        if not isinstance(moment, datetime):
            moment = datetime.combine(moment, time())
        return from_datetime(moment if moment.tzinfo is not None else moment.replace(tzinfo=zone))

    def label(self, zone: ZoneInfo) -> str:
        """Its date as people know it, with the time of day where one is written."""
        moment = self.table.valid_from
        if not isinstance(moment, datetime):
            return moment.isoformat()
        local = moment if moment.tzinfo is None else moment.astimezone(zone)
        return f"{local:%Y-%m-%d %H:%M}"


@dataclass(slots=True)
class Judged:
    """The calibrations of one tensiometer, in order of time, and what is wrong or odd about others."""

    calibrations: tuple[Calibration, ...] = ()
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Judge:
    """Judges calibrations one after another.

    Args:
        name: of the tensiometer.
        wiring: its nominal line takes signals to indicated pressures.
        zone: the site's time zone.
        origins: where keys stand.
    """

    name: str
    wiring: Wiring
    zone: ZoneInfo
    origins: Origins
    judged: Judged = field(default_factory=Judged)

    def judge(self, found: Sequence[Dated]) -> Judged:
        """Compile all in order of time; each check corrects the curve that was in force until then."""
        before, compiled = NOMINAL, []
        for dated in self._of_their_own_time(sorted(found, key=lambda dated: dated.begin_us(self.zone))):
            calibration = self._compile(dated)
            fit = None if calibration is None else self._fitted(calibration, before, dated)
            if calibration is not None and fit is not None:
                compiled.append(calibration)
                before = fit
        self.judged.calibrations = tuple(compiled)
        return self.judged

    def _of_their_own_time(self, found: Sequence[Dated]) -> Iterator[Dated]:
        times: dict[int, Loc] = {}
        for dated in found:
            first = times.setdefault(dated.begin_us(self.zone), dated.loc)
            if first is dated.loc:
                yield dated
            else:
                self._problem(
                    (*dated.loc, "valid_from"),
                    found=str(dated.table.valid_from),
                    expected=f"one calibration of {self.name} for each date; {self.origins.at(first)} has one",
                    hint="a second one of a day begins at its time: 2026-03-01T14:30:00",
                )

    def _compile(self, dated: Dated) -> Calibration | None:
        table = dated.table
        supply_v = table.supply_v or self.wiring.supply_v
        wrong = [p for point in table.points for p in self._wrong_point(point, supply_v, (*dated.loc, "points"))]
        wrong += self._wrong_keys(dated)
        if wrong:
            self.judged.problems += wrong
            return None
        kind = CalibrationKind.FULL if table.check is None else CalibrationKind(table.check)
        effect = TemperatureEffect(table.zero_kpa_per_k, table.span_per_k, table.temperature_c)
        return Calibration(
            valid_from_us=dated.begin_us(self.zone),
            label=dated.label(self.zone),
            points=tuple(self._point(point, supply_v, table.air_kpa or 0.0) for point in table.points),
            degree=table.degree,
            runs=table.runs,
            left_out=tuple(number - 1 for number in table.left_out),
            kind=kind,
            s_kpa=table.scatter_kpa,
            reference_u_kpa=table.reference_u_kpa,
            temperature=effect if table.zero_kpa_per_k or table.span_per_k else None,
            drifts=table.drifts,
        )

    def _point(self, point: tuple[float, float], supply_v: float, air_kpa: float) -> tuple[float, float]:
        signal, vacuum_kpa = point
        transducer, sealed_at_kpa = self.wiring.transducer, self.wiring.sealed_at_kpa
        reference = from_gauge_kpa(0.0 - vacuum_kpa, transducer.reference, air_kpa, sealed_at_kpa)
        return float(transducer.indicated_kpa(signal, supply_v)), reference

    def _fitted(self, calibration: Calibration, before: Fit, dated: Dated) -> Fit | None:
        loc = (*dated.loc, "points")
        try:
            fit = calibration.fitted(before)
        except ValueError as error:
            self._problem(loc, found=str(error), expected="points that make a calibration line", hint=_ORDER)
            return None
        self._look_at(fit, dated, loc)
        return fit

    def _wrong_keys(self, dated: Dated) -> Iterator[Problem]:
        table = dated.table
        if self.wiring.transducer.reference.needs_air and table.air_kpa is None:
            expected = (
                "air_kpa: the pressure of the air while it was calibrated, for the transducer measures against it"
            )
            yield self.origins.problem((*dated.loc, "air_kpa"), found="nothing", expected=expected)
        if table.runs and len(table.runs) != len(table.points):
            found, expected = f"{len(table.runs)} runs", f"one for each of the {len(table.points)} points"
            yield self.origins.problem((*dated.loc, "runs"), found=found, expected=expected)
        for number in table.left_out:
            if not 1 <= number <= len(table.points):
                expected = f"numbers of points, 1 to {len(table.points)}"
                yield self.origins.problem((*dated.loc, "left_out"), found=str(number), expected=expected)

    def _wrong_point(self, point: tuple[float, float], supply_v: float, loc: Loc) -> Iterator[Problem]:
        signal, vacuum_kpa = point
        shown_point = f"[{signal:g}, {vacuum_kpa:g}]"
        if not LEAST_VACUUM_KPA <= vacuum_kpa <= MOST_VACUUM_KPA:
            expected = f"a vacuum of 0 to {MOST_VACUUM_KPA:g} kPa as the second number, vacuum positive"
            yield self.origins.problem(loc, found=shown_point, expected=expected)
        cause = self.wiring.transducer.fault(signal, supply_v)
        if flag_of(cause) is Flag.FAIL:
            unit = self.wiring.transducer.unit
            yield self.origins.problem(
                loc,
                found=f"{shown_point}, where {signal:g} {unit} is a fault ({cause.word})",
                expected=f"signals in {unit} that the transducer can give",
                hint=_ORDER,
            )

    def _look_at(self, fit: Fit, dated: Dated, loc: Loc) -> None:
        if abs(fit.intercept_kpa) > LARGE_OFFSET_KPA:
            self._warn(loc, f"an offset of {fit.intercept_kpa:+.1f} kPa", "less than 10 kPa for a sound transducer")
        if not fit.suspects and fit.s_kpa is not None and fit.s_kpa > LARGE_SCATTER_KPA:
            self._warn(loc, f"points {fit.s_kpa:.1f} kPa off their line", "points near a straight line")
        for index in fit.suspects[:1]:
            signal, vacuum_kpa = dated.table.points[index]
            self._warn(
                loc,
                f"point {index + 1}, [{signal:g}, {vacuum_kpa:g}], {abs(fit.residuals_kpa[index]):.2f} kPa off",
                "points that belong together",
                f"left_out = [{index + 1}] keeps it on record, unused",
            )

    def _problem(self, loc: Loc, *, found: str, expected: str, hint: str = "") -> None:
        self.judged.problems.append(self.origins.problem(loc, found=found, expected=expected, hint=hint))

    def _warn(self, loc: Loc, found: str, expected: str, hint: str = "") -> None:
        self.judged.warnings.append(self.origins.problem(loc, found=found, expected=expected, hint=hint))
