"""Calibrations: collected from the tables and from their folder, and judged for sense."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from parchd.clock import from_datetime
from parchd.config.files import read_toml, toml_files
from parchd.config.ground import CalibrationFile, CalibrationTable
from parchd.config.origins import CALIBRATIONS, Origins, Where, shown
from parchd.config.parts import Parts
from parchd.config.problems import Translator
from parchd.config.schema import among
from parchd.config.toml_lines import Loc
from parchd.contract import Flag, Problem
from parchd.physics.calibration import Calibration, Line, fit
from parchd.physics.causes import flag_of
from parchd.physics.transducers import Transducer

MOST_VACUUM_KPA = 101.0
LARGE_OFFSET_KPA = 10.0
LARGE_SCATTER_KPA = 2.0

_ORDER = "the first number of a point is the signal, the second the vacuum in kPa"


@dataclass(frozen=True, slots=True)
class Dated:
    """A calibration with the place it is written."""

    table: CalibrationTable
    loc: Loc


@dataclass(slots=True)
class Calibrations:
    """What the folder holds, by tensiometer."""

    by_tensiometer: dict[str, list[Dated]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)


def read_folder(folder: Path, loc: Loc, origins: Origins) -> Calibrations:
    """Read each TOML file of the folder as one calibration."""
    found = Calibrations()
    try:
        paths = toml_files(folder)
    except ValueError as error:
        found.problems.append(origins.problem(loc, found=shown(str(folder)), expected=str(error)))
        return found
    for path in paths:
        _read_file(path, origins, found)
    return found


def _read_file(path: Path, origins: Origins, found: Calibrations) -> None:
    result = read_toml(path)
    if isinstance(result, Problem):
        found.problems.append(result)
        return
    data, lines = result
    loc: Loc = (CALIBRATIONS, str(path))
    origins.written[loc] = Where(str(path))
    origins.written.update({(*loc, *key): Where(str(path), line) for key, line in lines.items()})
    try:
        table = CalibrationFile.model_validate(data)
    except ValidationError as error:
        findings = Translator(CalibrationFile, data, origins, loc).findings(error)
        found.problems += [finding.problem for finding in findings]
        return
    found.by_tensiometer.setdefault(table.tensiometer, []).append(Dated(table, loc))


def of_nobody(found: Calibrations, names: Mapping[str, object], origins: Origins) -> Iterator[Problem]:
    """Find files of tensiometers that are not there."""
    for name, dated in found.by_tensiometer.items():
        if name not in names:
            for one in dated:
                yield origins.problem(
                    (*one.loc, "tensiometer"),
                    found=f'"{name}"',
                    expected="the name of a tensiometer",
                    hint=among(name, list(names)),
                )


@dataclass(slots=True)
class Judged:
    """The calibrations of one tensiometer, in order of time, and what is wrong or odd about others."""

    calibrations: tuple[Calibration, ...] = ()
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)


def compile_calibrations(
    parts: Parts, filed: list[Dated], transducer: Transducer, supply_v: float, zone: str, origins: Origins
) -> Judged:
    """Turn points of signal and vacuum into points of indicated and true pressure.

    Args:
        parts: the tensiometer they belong to.
        filed: those that have files of their own.
        transducer: its nominal line takes signals to indicated pressures.
        supply_v: nominal supply, for calibrations that do not say what it was.
        zone: the site's time zone: a calibration holds from the first moment of its day.
        origins: where keys stand.
    """
    place = parts.loc("calibration")
    own = [Dated(table, (*place, index)) for index, table in enumerate(parts.values.get("calibration", ()))]
    judge = _Judge(parts.name, transducer, supply_v, origins)
    found = sorted((*own, *filed), key=lambda dated: dated.table.valid_from)
    found = [dated for dated in found if judge.is_new(dated)]
    compiled = [judge.compile(dated, zone) for dated in found]
    judge.judged.calibrations = tuple(calibration for calibration in compiled if calibration is not None)
    return judge.judged


@dataclass(frozen=True, slots=True)
class _Judge:
    name: str
    transducer: Transducer
    supply_v: float
    origins: Origins
    judged: Judged = field(default_factory=Judged)
    dates: dict[date, Loc] = field(default_factory=dict)

    def is_new(self, dated: Dated) -> bool:
        first = self.dates.setdefault(dated.table.valid_from, dated.loc)
        if first is dated.loc:
            return True
        self._problem(
            (*dated.loc, "valid_from"),
            found=str(dated.table.valid_from),
            expected=f"one calibration of {self.name} for each date; {self.origins.at(first)} has one",
        )
        return False

    def compile(self, dated: Dated, zone: str) -> Calibration | None:
        loc = (*dated.loc, "points")
        supply_v = dated.table.supply_v or self.supply_v
        wrong = [p for point in dated.table.points for p in self._wrong_point(point, supply_v, loc)]
        if wrong:
            self.judged.problems += wrong
            return None
        points = tuple((self.transducer.gauge_kpa(v, supply_v), 0.0 - vacuum) for v, vacuum in dated.table.points)
        try:
            line = fit(points)
        except ValueError as error:
            self._problem(loc, found=str(error), expected="points that make a calibration line", hint=_ORDER)
            return None
        self._look_at(line, loc)
        day = dated.table.valid_from
        start = datetime.combine(day, time(), ZoneInfo(zone))
        return Calibration(from_datetime(start), day.isoformat(), points)

    def _wrong_point(self, point: tuple[float, float], supply_v: float, loc: Loc) -> Iterator[Problem]:
        signal, vacuum_kpa = point
        shown_point = f"[{signal:g}, {vacuum_kpa:g}]"
        if not 0.0 <= vacuum_kpa <= MOST_VACUUM_KPA:
            expected = f"a vacuum of 0 to {MOST_VACUUM_KPA:g} kPa as the second number, vacuum positive"
            yield self.origins.problem(loc, found=shown_point, expected=expected)
        cause = self.transducer.fault(signal, supply_v)
        if flag_of(cause) is Flag.FAIL:
            unit = self.transducer.unit
            yield self.origins.problem(
                loc,
                found=f"{shown_point}, where {signal:g} {unit} is a fault ({cause.word})",
                expected=f"signals in {unit} that the transducer can give",
                hint=_ORDER,
            )

    def _look_at(self, line: Line, loc: Loc) -> None:
        if abs(line.intercept_kpa) > LARGE_OFFSET_KPA:
            self._warn(loc, f"an offset of {line.intercept_kpa:+.1f} kPa", "less than 10 kPa for a sound transducer")
        if line.residual_kpa is not None and line.residual_kpa > LARGE_SCATTER_KPA:
            self._warn(loc, f"points {line.residual_kpa:.1f} kPa off their line", "points near a straight line")

    def _problem(self, loc: Loc, *, found: str, expected: str, hint: str = "") -> None:
        self.judged.problems.append(self.origins.problem(loc, found=found, expected=expected, hint=hint))

    def _warn(self, loc: Loc, found: str, expected: str) -> None:
        self.judged.warnings.append(self.origins.problem(loc, found=found, expected=expected))
