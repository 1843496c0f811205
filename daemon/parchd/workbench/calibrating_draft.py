"""Points that were taken and not written yet: kept in a file, so that a lost connection costs nothing."""

import tomllib
from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from parchd.pipeline.setup import TensiometerSetup
from parchd.workbench.calibrating import Reading, Session, Taken
from parchd.workbench.calibrating_reference import Reference
from parchd.workbench.records import RecordError, toml_text

_READING = ("signal", "supply_v", "air_kpa", "spread_kpa", "steady", "moved_kpa")


def draft_path(folder: Path, setup: TensiometerSetup) -> Path:
    return folder / f"{setup.place.tensiometer}_calibration.draft"


def save_draft(path: Path, session: Session, reference: Reference, begun: datetime) -> None:
    """Write all points.

    Raises:
        RecordError: they cannot be written.
    """
    content = {
        "begun": begun.replace(microsecond=0),
        "signal_unit": session.setup.transducer.unit.value,
        "unit": reference.unit,
        "water_c": reference.water_c,
        "half_kpa": reference.half_kpa,
        "left_out": tuple(sorted(session.left_out)),
        "vacuum_kpa": tuple(point.vacuum_kpa for point in session.taken),
        **{key: tuple(getattr(point.reading, key) for point in session.taken) for key in _READING},
    }
    text = toml_text(content, "Points of a calibration that is not finished; parchd calibrate goes on with them.")
    try:
        fresh = path.with_suffix(".new")
        fresh.write_text(text, encoding="utf-8")
        fresh.replace(path)
    except OSError as error:
        raise RecordError(f"{path}: cannot be written ({error.strerror})") from error


def load_draft(path: Path, setup: TensiometerSetup) -> tuple[Session, Reference, datetime] | None:
    """Read points that were kept; ``None``: there are none that can be used."""
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
        if content["signal_unit"] != setup.transducer.unit.value:
            return None
        reference = Reference(content["unit"], content["water_c"], content["half_kpa"])
        session = Session(setup, _taken(content), left_out=set(content["left_out"]))
        return (session, reference, content["begun"]) if session.taken else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def drop_draft(path: Path) -> None:
    with suppress(OSError):
        path.unlink()


def _taken(content: Mapping[str, Any]) -> list[Taken]:
    columns = zip(*(content[key] for key in _READING), strict=True)
    readings = [Reading(*values) for values in columns]
    return [Taken(float(kpa), reading) for kpa, reading in zip(content["vacuum_kpa"], readings, strict=True)]
