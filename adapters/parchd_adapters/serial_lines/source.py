"""The source: a port read for ever."""

from collections.abc import Callable, Iterable

from parchd.clock import Clock
from parchd.contract import Intake, SampleBatch, Services, StopSignal
from parchd_adapters._shared.batches import pack
from parchd_adapters.serial_lines.decoder import Decoded, LineDecoder, Reject
from parchd_adapters.serial_lines.options import SerialLinesOptions
from parchd_adapters.serial_lines.ports import Port, open_port

QUIET_S = 0.1
WAIT_S = 0.25
GATHER_S = 0.01
FULL = 1024


class SerialLines:
    """Reads lines from one port.

    Bytes that come within the first 0.1 s after opening may be the tail of a line: all up to the first line end is
    then dropped. A device that waits longer between two lines loses nothing.
    """

    def __init__(
        self,
        options: SerialLinesOptions,
        services: Services,
        open_port: Callable[[SerialLinesOptions], Port] = open_port,
    ) -> None:
        self._options = options
        self._name = services.name
        self._clock: Clock = services.clock
        self._open = open_port

    def run(self, intake: Intake, stop: StopSignal) -> None:
        port = self._open(self._options)
        try:
            self._listen(port, intake, stop)
        finally:
            port.close()

    def _listen(self, port: Port, intake: Intake, stop: StopSignal) -> None:
        chunk = port.read(QUIET_S)
        decoder = LineDecoder(self._options, mid_line=bool(chunk))
        intake.connected(self._options.port)
        silent_s = 0.0
        while not stop.is_set():
            silent_s = 0.0 if chunk else silent_s + WAIT_S
            overdue = silent_s >= self._options.partial_line_s
            self._hand_over(decoder.give_up() if overdue else decoder.feed(chunk, self._clock.now_us()), intake)
            intake.beat()
            if 0 < len(chunk) < FULL:
                stop.wait(GATHER_S)  # else a fast line is read byte by byte, at ten times the work
            chunk = port.read(WAIT_S)

    def _hand_over(self, decoded: Decoded, intake: Intake) -> None:
        for samples in pack(decoded.groups):
            intake.put(SampleBatch(self._name, samples))
        for reject, count in _count(decoded.rejects):
            intake.rejected(reject.reason, reject.example, count)


def _count(rejects: Iterable[Reject]) -> list[tuple[Reject, int]]:
    """Join rejects of one reason; the first one's example stands for all."""
    firsts: dict[str, Reject] = {}
    counts: dict[str, int] = {}
    for reject in rejects:
        firsts.setdefault(reject.reason, reject)
        counts[reject.reason] = counts.get(reject.reason, 0) + 1
    return [(first, counts[reason]) for reason, first in firsts.items()]
