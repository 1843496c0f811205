"""Writing a calibration where the configuration finds it."""

import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from parchd.cli.calibrating import Bench
from parchd.cli.loading import load_config
from parchd.clock import to_datetime
from parchd.config import Loaded, load
from parchd.contract import ConfigError, ParchdError
from parchd.store.database import is_held
from parchd.workbench.live import find_setup
from parchd.workbench.records import writable, write_new

USUAL_FOLDER = "calibrations"


class RefusedError(ParchdError, ValueError):
    """The configuration does not take the file that was written; it was put aside."""


@dataclass(frozen=True, slots=True)
class Target:
    """Where calibrations go.

    Args:
        folder: exists, and files can be written into it.
        named: whether the configuration names it.
    """

    folder: Path
    named: bool


def target_of(loaded: Loaded) -> Target:
    """Find the folder for calibrations, before anybody takes points for nothing.

    Raises:
        RecordError: no file can be written there.
    """
    folder = (loaded.calibration_dir or loaded.path.parent / USUAL_FOLDER).absolute()
    writable(folder, "calibrations", "start this command as a user who may")
    return Target(folder, loaded.calibration_dir is not None)


def load_with(path: Path, target: Target) -> Loaded:
    """Load a configuration as if it named the folder, so that calibrations count that were written there before.

    Raises:
        ConfigError: it cannot be used.
    """
    if target.named:
        return load_config(path)
    return load(path, {**os.environ, "PARCHD_CALIBRATION_DIR": str(target.folder)}, None)


def begins(bench: Bench) -> list[datetime]:
    """Local times from which the calibrations so far hold."""
    return [to_datetime(one.valid_from_us).astimezone(bench.zone) for one in bench.setup.calibrations]


def write_calibration(bench: Bench, target: Target, name: str, text: str) -> Path:
    """Write a calibration and see that the configuration takes it.

    Raises:
        RefusedError: it does not; the file is put aside, so that a reload goes on working.
    """
    path = write_new(target.folder, name, ".toml", text)
    try:
        setup = find_setup(load_with(bench.loaded.path, target), bench.setup.place.tensiometer)
    except ConfigError as error:
        raise RefusedError(_put_aside(path, str(error))) from error
    if len(setup.calibrations) <= len(bench.setup.calibrations):
        raise RefusedError(_put_aside(path, "it does not find the file"))
    return path


def tell(bench: Bench, target: Target, path: Path) -> None:
    """Say what is left to do before it holds."""
    desk = bench.desk
    desk.show([f"Calibration: {path}"])
    if not target.named:
        desk.say(f"{bench.loaded.path} does not look into that folder yet. Add this line above its first table:")
        desk.show([f'    calibration_dir = "{USUAL_FOLDER}"'])
    if is_held(bench.loaded.store.path):
        desk.say("Then let the running daemon read it: systemctl reload parchd (or send it SIGHUP).")
    else:
        desk.say("The daemon takes it when it starts.")
    desk.say("Readings that are stored already stay as they are; parchd reprocess computes a span of them anew.")


def _put_aside(path: Path, why: str) -> str:
    aside = path.with_suffix(".toml.refused")
    path.rename(aside)
    return f"the configuration does not take it ({why}). It was put aside as {aside}"
