"""Simulated seasons kept in a folder, so that a changed detector need not wait for the same weather again."""

import pickle
import zlib
from collections.abc import Iterator
from functools import cache
from hashlib import sha256
from pathlib import Path

import parchd
from parchd.evaluation.trial import Trial, simulated

_ROOT = Path(parchd.__file__).parent
_SOURCES = (
    "simulator/**/*.py",
    "physics/**/*.py",
    *(f"pipeline/{name}.py" for name in ("chain", "columns", "setup", "signal")),
    *(f"evaluation/{name}.py" for name in ("showing", "trial")),
)
"""What a kept season hangs on; the diagnosis is not among them."""


def kept(seed: int, *, faults: bool, folder: Path | None) -> Trial:
    """Give a season from the folder, or simulate it and leave it there.

    Args:
        folder: of the user's own; what lies in it is trusted. ``None``: keep nothing.
    """
    if folder is None:
        return simulated(seed, faults=faults)
    path = folder / f"{source_mark()}-{seed}-{'faulty' if faults else 'healthy'}.season"
    if path.exists():
        trial: Trial = pickle.loads(zlib.decompress(path.read_bytes()))  # noqa: S301 - the user's own folder
        return trial
    trial = simulated(seed, faults=faults)
    folder.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_suffix(".part")
    unfinished.write_bytes(zlib.compress(pickle.dumps(trial, protocol=5), 1))
    unfinished.replace(path)
    return trial


@cache
def source_mark() -> str:
    """A few letters that change with the source of the simulator and of what turns its signals into tension."""
    digest = sha256()
    for path in _sources():
        digest.update(path.relative_to(_ROOT).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()[:12]


def _sources() -> Iterator[Path]:
    for pattern in _SOURCES:
        yield from sorted(_ROOT.glob(pattern))
