"""Every detector, and how often it looks."""

from typing import NamedTuple

from parchd.diagnosis import (
    apart,
    contact,
    drift,
    dropouts,
    electrics,
    frost,
    offset,
    order,
    refill,
    rescaled,
    response,
    saturation,
    scale,
    servicing,
    shift,
    signal,
    stuck,
    supply,
    swap,
    vent,
    water,
    zero,
)
from parchd.diagnosis.verdict import Detector, SourceDetector


class Watch(NamedTuple):
    """A detector of single tensiometers and how many hours lie between two of its looks."""

    detector: Detector
    every_h: int = 1


class SourceWatch(NamedTuple):
    """A detector of sources and how many hours lie between two of its looks."""

    detector: SourceDetector
    every_h: int = 1


WATCHES: tuple[Watch, ...] = (
    Watch(signal.watch),
    Watch(rescaled.watch),
    Watch(scale.watch, every_h=24),
    Watch(electrics.watch),
    Watch(frost.watch),
    Watch(water.watch),
    Watch(stuck.watch),
    Watch(swap.watch),
    Watch(order.watch, every_h=24),
    Watch(shift.watch),
    Watch(response.watch, every_h=12),
    Watch(refill.watch, every_h=12),
    Watch(contact.watch, every_h=24),
    Watch(apart.watch, every_h=apart.EVERY_H),
    Watch(drift.watch, every_h=24),
    Watch(offset.watch, every_h=96),
    Watch(zero.watch, every_h=zero.EVERY_H),
    Watch(vent.watch, every_h=48),
    Watch(saturation.watch),
)
"""In this order: numbers that mean nothing are told before what they would mean."""

SOURCE_WATCHES: tuple[SourceWatch, ...] = (
    SourceWatch(dropouts.watch),
    SourceWatch(supply.watch),
    SourceWatch(servicing.watch),
)
