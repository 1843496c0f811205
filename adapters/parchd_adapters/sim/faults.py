"""Which scripted faults hold at a moment."""

import math
from collections.abc import Iterable, Sequence

from parchd_adapters.sim.options import Fault, FaultKind


class FaultScript:
    """The faults of one channel."""

    def __init__(self, faults: Iterable[Fault], channel: str) -> None:
        self._faults: Sequence[Fault] = [fault for fault in faults if fault.channel == channel]

    def holds(self, kind: FaultKind, elapsed_s: float) -> bool:
        """Whether a fault of this kind holds so many seconds after the start.

        >>> script = FaultScript([Fault(channel="a", kind=FaultKind.STUCK, after_s=60, for_s=10)], "a")
        >>> [script.holds(FaultKind.STUCK, second) for second in (59, 60, 69, 70)]
        [False, True, True, False]
        """
        return any(
            fault.kind is kind and 0 <= elapsed_s - fault.after_s < (fault.for_s or math.inf) for fault in self._faults
        )

    def ends(self, kind: FaultKind, elapsed_s: float, within_s: float) -> bool:
        """Whether a fault of this kind ends in the coming ``within_s`` seconds."""
        return any(
            fault.kind is kind and fault.for_s is not None and 0 <= fault.after_s + fault.for_s - elapsed_s < within_s
            for fault in self._faults
        )
