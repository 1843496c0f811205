"""What may be said beside a fault without being wrong, each with its reason."""

from collections.abc import Mapping
from types import MappingProxyType

from parchd.diagnosis.kinds import FindingKind as K

ACCEPTED_WITH: Mapping[K, Mapping[K, str]] = MappingProxyType(
    {
        K.FROZEN: {K.FROST_RISK: "water that has frozen was at risk of it before"},
    }
)
"""By the kind of the true fault: kinds that may be found on what it concerns while it holds."""


def accepted(truth: K, found: K) -> bool:
    """Tell whether a finding of one kind may stand beside a fault of another.

    >>> accepted(K.FROZEN, K.FROST_RISK), accepted(K.FROST_RISK, K.FROZEN)
    (True, False)
    """
    return found in ACCEPTED_WITH.get(truth, {})
