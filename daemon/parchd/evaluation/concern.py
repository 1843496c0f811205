"""Whom a fault concerns."""

from parchd.pipeline.setup import PipelineSetup
from parchd.simulator.season import Fault


def subjects_of(fault: Fault, setup: PipelineSetup) -> frozenset[str]:
    """Subjects on which a fault may rightly be found: its own, those named beside it, and those of its source."""
    return frozenset((fault.subject, *(f"tensiometer/{name}" for name in tensiometers_of(fault, setup))))


def tensiometers_of(fault: Fault, setup: PipelineSetup) -> frozenset[str]:
    """Names of the tensiometers whose readings a fault changes."""
    what, _, name = fault.subject.partition("/")
    if what == "source":
        fed = {one.place.tensiometer for one in setup.tensiometers if one.channel.partition("/")[0] == name}
        return frozenset(fed)
    return frozenset((name, *(other.removeprefix("tensiometer/") for other in fault.others)))
