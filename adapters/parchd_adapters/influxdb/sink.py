"""The sink: rows in, rejections out."""

import logging
from collections.abc import Sequence

from parchd.contract import Rejection, SinkUnavailable, StoredReading
from parchd_adapters.influxdb.lines import LineEncoder
from parchd_adapters.influxdb.replies import Reply, Verdict
from parchd_adapters.influxdb.sorting import Line, Outcome, sort_lines
from parchd_adapters.influxdb.writer import Writer

logger = logging.getLogger(__name__)

_BREATH_S = 1.0


class InfluxSink:
    """Writes rows as line protocol; keeps nothing that the journal does not have."""

    def __init__(self, encoder: LineEncoder, writer: Writer, batch_rows: int) -> None:
        self.batch_rows = batch_rows
        self._encoder = encoder
        self._writer = writer
        self._refused: dict[int, str] = {}

    def write(self, rows: Sequence[StoredReading]) -> Sequence[Rejection]:
        """Store all rows but those returned.

        Of rows with the same channel and time only the last is sent: it holds, and servers differ in which of two
        lines with one time they keep within a request. Should that one be refused, so are the others.
        """
        latest = {(row.channel, row.time_us): row for row in rows}
        todo = [row for row in latest.values() if row.seq not in self._refused]
        self._store([Line(row.seq, self._encoder.line(row)) for row in todo])
        refused, self._refused = self._refused, {}
        reasons = ((row.seq, refused.get(latest[row.channel, row.time_us].seq)) for row in rows)
        return [Rejection(seq, reason) for seq, reason in reasons if reason is not None]

    def close(self) -> None:
        self._writer.close()

    def _store(self, lines: Sequence[Line]) -> None:
        outcome = sort_lines(lines, self._send)
        self._refused.update(outcome.refused)
        self._shrink(outcome, len(lines))
        if outcome.blocked is not None:
            self._give_up(outcome.blocked)
        if outcome.unfinished:
            self._pause(outcome)

    def _send(self, lines: Sequence[Line]) -> Reply | None:
        return self._writer.send("\n".join(line.text for line in lines).encode())

    def _shrink(self, outcome: Outcome, sent: int) -> None:
        """Ask for smaller batches once the server found one too large."""
        if 0 < outcome.limit < min(sent, self.batch_rows):
            self.batch_rows = outcome.limit
            logger.warning(
                "the server takes no more than %d rows at once", self.batch_rows, extra={"event": "influxdb.too-large"}
            )

    def _give_up(self, reply: Reply) -> None:
        if reply.verdict is Verdict.LATER:
            raise SinkUnavailable(
                f"the server answered {reply.status}: {reply.reason}", retry_after_s=reply.retry_after_s
            )
        # What was refused so far may have been refused for the same cause.
        self._refused.clear()
        raise SinkUnavailable(self._writer.advice(reply), retry_after_s=reply.retry_after_s, needs_person=True)

    def _pause(self, outcome: Outcome) -> None:
        """Stop a search that costs too much; what was found is remembered, so the next attempt gets further."""
        if outcome.stored:
            found = len(self._refused)
            raise SinkUnavailable(f"{found} refused rows found, still searching", retry_after_s=_BREATH_S)
        reason = next(iter(outcome.refused.values()), "no reason given")
        self._refused.clear()
        raise SinkUnavailable(f"the server refuses every row: {reason}", needs_person=True)
