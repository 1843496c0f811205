"""Silences that nobody planned: gateways lose their line for hours on healthy farms too."""

from collections.abc import Mapping

import numpy as np

from parchd.clock import US_PER_S
from parchd.diagnosis.findings import Finding
from parchd.diagnosis.kinds import FindingKind
from parchd.simulator.convert import Columns

_EDGE_US = 60 * US_PER_S


def borne_out(finding: Finding, columns: Mapping[str, Columns], channels: Mapping[str, str]) -> bool:
    """Tell whether the records themselves show a silence: such a finding is true, whatever was planned.

    A channel alone is silent only if the others of its source were heard meanwhile.

    Args:
        channels: of the tensiometers, by name.
    """
    name, begin_us, end_us = finding.key.name, finding.start_us + _EDGE_US, finding.found_us
    if finding.key.kind is FindingKind.SILENT_SOURCE:
        return not _heard(name, columns, begin_us, end_us)
    if finding.key.kind is FindingKind.SILENT_CHANNEL and name in channels:
        own = channels[name]
        rest = {channel: column for channel, column in columns.items() if channel != own}
        silent = not _arrived(columns[own], begin_us, end_us)
        return silent and _heard(own.partition("/")[0], rest, begin_us, end_us)
    return False


def _heard(source: str, columns: Mapping[str, Columns], begin_us: int, end_us: int) -> bool:
    of_source = (column for channel, column in columns.items() if channel.partition("/")[0] == source)
    return any(_arrived(column, begin_us, end_us) for column in of_source)


def _arrived(column: Columns, begin_us: int, end_us: int) -> bool:
    return bool(np.any((column.received_us > begin_us) & (column.received_us <= end_us)))
