"""Which finding explains which: the stronger one ends the weaker, and the weaker does not begin beside it."""

from collections.abc import Mapping

from parchd.diagnosis.kinds import FindingKind as K

_HYDRAULIC = frozenset({K.LOST_WATER, K.AIR_ENTRY, K.CRACKED_CUP})
_SLOW = frozenset({K.AIR_LEAK, K.SLOW_RESPONSE, K.POOR_CONTACT, K.LEVEL_SHIFT, K.ZERO_DRIFT, K.BLOCKED_VENT})
LASTING = frozenset({K.LEVEL_SHIFT, K.ZERO_DRIFT, K.BLOCKED_VENT})
"""What the transducer keeps, whatever else may happen to the tube weeks later."""
_WIRES = frozenset({K.OPEN_CIRCUIT, K.SHORT_CIRCUIT, K.SATURATED})
_ELECTRIC = frozenset({K.OPEN_CIRCUIT, K.SHORT_CIRCUIT, K.SATURATED, K.BYTE_ORDER, K.WRONG_UNIT})

SUPERSEDES: Mapping[K, frozenset[K]] = {
    K.AIR_ENTRY: _SLOW | {K.LOST_WATER, K.CRACKED_CUP, K.STUCK_VALUE},
    K.LOST_WATER: _SLOW | {K.CRACKED_CUP, K.STUCK_VALUE},
    K.CRACKED_CUP: _SLOW | {K.LOST_WATER},
    K.AIR_LEAK: frozenset({K.POOR_CONTACT, K.ZERO_DRIFT, K.LEVEL_SHIFT, K.SLOW_RESPONSE}),
    K.POOR_CONTACT: frozenset({K.LOST_WATER, K.AIR_LEAK, K.SLOW_RESPONSE, K.LEVEL_SHIFT}),
    K.SLOW_RESPONSE: frozenset({K.LOST_WATER, K.AIR_LEAK, K.POOR_CONTACT}),
    K.STUCK_VALUE: _SLOW,
    K.SWAPPED: _SLOW | {K.LOST_WATER, K.CRACKED_CUP},
    K.BYTE_ORDER: _SLOW | _HYDRAULIC | (_ELECTRIC - {K.BYTE_ORDER}) | {K.STUCK_VALUE, K.NOISY_SUPPLY},
    K.WRONG_UNIT: _SLOW | _HYDRAULIC | _WIRES | {K.STUCK_VALUE},
    K.OPEN_CIRCUIT: frozenset({K.STUCK_VALUE}),
    K.SHORT_CIRCUIT: frozenset({K.STUCK_VALUE}),
    K.SATURATED: frozenset({K.STUCK_VALUE}),
}
"""Open findings that a new one of this kind ends, on the same subject."""


def _yields() -> dict[K, frozenset[K]]:
    weaker: dict[K, set[K]] = {}
    for strong, weak in SUPERSEDES.items():
        for kind in weak:
            weaker.setdefault(kind, set()).add(strong)
    mutual = {(a, b) for a, found in SUPERSEDES.items() for b in found if a in SUPERSEDES.get(b, ())}
    return {kind: frozenset(s for s in strong if (s, kind) not in mutual) for kind, strong in weaker.items()}


YIELDS_TO: Mapping[K, frozenset[K]] = _yields()
"""Open findings beside which one of this kind does not begin."""
