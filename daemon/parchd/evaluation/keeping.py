"""Simulated seasons kept in a folder, so that a changed detector need not wait for the same weather again."""

import os
import pickle
import zlib
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from hashlib import sha256
from pathlib import Path

import parchd
from parchd.evaluation.trial import Trial, simulated
from parchd.pipeline.setup import PipelineSetup, SiteSetup
from parchd.simulator.farm import Farm

_ROOT = Path(parchd.__file__).parent
_SOURCES = (
    "simulator/**/*.py",
    "physics/**/*.py",
    *(f"evaluation/{name}.py" for name in ("counting", "differing", "showing", "trial")),
)
_OF_NO_MATTER = frozenset(("physics/causes.py",))
"""What a kept season hangs on; the diagnosis is not among it, and setups are made anew when a season is fetched."""


def kept(seed: int, *, faults: bool, days: int, folder: Path | None) -> Trial:
    """Give a season from the folder, or simulate it and leave it there.

    Args:
        folder: of the user's own; what lies in it is trusted. ``None``: keep nothing.
    """
    if folder is None:
        return simulated(seed, faults=faults, days=days)
    path = folder / f"{source_mark()}-{seed}-{days}-{'faulty' if faults else 'healthy'}.season"
    if path.exists():
        return _with_setup(pickle.loads(zlib.decompress(path.read_bytes())))  # noqa: S301 - the user's own folder
    trial = simulated(seed, faults=faults, days=days)
    folder.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_suffix(f".{os.getpid()}")
    unfinished.write_bytes(zlib.compress(pickle.dumps(_without_setup(trial), protocol=5), 1))
    unfinished.replace(path)
    return trial


def _without_setup(trial: Trial) -> Trial:
    """Leave out what other parts of the daemon define and change."""
    return replace(trial, season=replace(trial.season, setup=PipelineSetup(SiteSetup("", "UTC", 0.0))))


def _with_setup(trial: Trial) -> Trial:
    return replace(trial, season=replace(trial.season, setup=Farm(trial.plan).setup))


@cache
def source_mark() -> str:
    """A few letters that change with the source of the simulator and of what turns its signals into tension."""
    digest = sha256()
    for path in _sources():
        digest.update(path.relative_to(_ROOT).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()[:12]


def _sources() -> Iterator[Path]:
    for pattern in _SOURCES:
        found = sorted(_ROOT.glob(pattern))
        yield from (path for path in found if path.relative_to(_ROOT).as_posix() not in _OF_NO_MATTER)
