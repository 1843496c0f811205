"""Calibrations: collected from the tables and from their folder."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from parchd.config.calibration_judge import Dated, Judge, Judged
from parchd.config.calibration_table import CalibrationFile
from parchd.config.files import read_toml, toml_files
from parchd.config.origins import CALIBRATIONS, Origins, Where, shown
from parchd.config.parts import Parts
from parchd.config.problems import Translator
from parchd.config.schema import among
from parchd.config.toml_lines import Loc
from parchd.config.wiring import Wiring
from parchd.contract import Problem


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


def compile_calibrations(parts: Parts, filed: list[Dated], wiring: Wiring, zone: str, origins: Origins) -> Judged:
    """Turn points of signal and vacuum into points of indicated and true pressure.

    Args:
        parts: the tensiometer they belong to.
        filed: those that have files of their own.
        wiring: its transducer.
        zone: the site's time zone.
        origins: where keys stand.
    """
    place = parts.loc("calibration")
    own = [Dated(table, (*place, index)) for index, table in enumerate(parts.values.get("calibration", ()))]
    return Judge(parts.name, wiring, ZoneInfo(zone), origins).judge((*own, *filed))
