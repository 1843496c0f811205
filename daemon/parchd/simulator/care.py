"""Services: who opened which tubes when."""

import numpy as np

from parchd.clock import US_PER_S
from parchd.diagnosis.kinds import FindingKind
from parchd.simulator.chance import stream
from parchd.simulator.farm import Farm
from parchd.simulator.truth import Service

_DAY_US = 86_400 * US_PER_S
_HIDDEN = (FindingKind.LOST_WATER, FindingKind.AIR_ENTRY)


def services(farm: Farm, hour_at_start: float) -> tuple[Service, ...]:
    """Draw the services of a season: by day, within an hour, most tubes of one gateway.

    Half of the tubes that lose their water are passed over from then on: nobody saw that they were empty.
    """
    plan = farm.plan
    random = stream(plan.seed, "care")
    overlooked = {
        fault.target.removeprefix("tensiometer/"): fault.onset_us
        for fault in plan.faults
        if fault.kind in _HIDDEN and stream(plan.seed, "overlooked", fault.target).random() < 0.5
    }
    done = []
    for part in np.sort(random.uniform(0.12, 0.92, plan.services)):
        hour = (random.uniform(8.0, 16.0) - hour_at_start) % 24.0
        begin_us = plan.start_us + int(part * plan.days) * _DAY_US + int(hour * 3600) * US_PER_S
        end_us = begin_us + int(random.uniform(900, 3600)) * US_PER_S
        source = str(random.choice(plan.sources))
        names = [farm.names[row] for row in farm.of_source(source) if random.random() < 0.9]
        touched = tuple(name for name in names if begin_us < overlooked.get(name, end_us))
        done.append(Service(source, begin_us, end_us, touched))
    return tuple(done)
