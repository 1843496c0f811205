"""Every detector, and how often it looks."""

from typing import NamedTuple

from parchd.diagnosis import water
from parchd.diagnosis.verdict import Detector, SourceDetector


class Watch(NamedTuple):
    """A detector of single tensiometers and how many hours lie between two of its looks."""

    detector: Detector
    every_h: int = 1


class SourceWatch(NamedTuple):
    """A detector of sources and how many hours lie between two of its looks."""

    detector: SourceDetector
    every_h: int = 1


WATCHES: tuple[Watch, ...] = (Watch(water.watch),)
SOURCE_WATCHES: tuple[SourceWatch, ...] = ()
