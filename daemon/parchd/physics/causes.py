"""What flag each cause brings."""

from collections.abc import Mapping
from types import MappingProxyType

from parchd.contract import Cause, Flag

_FLAGS: Mapping[Cause, Flag] = MappingProxyType(
    {
        Cause.NONE: Flag.PASS,
        Cause.NO_VALUE: Flag.MISSING,
        Cause.OPEN_CIRCUIT: Flag.FAIL,
        Cause.SHORT_CIRCUIT: Flag.FAIL,
        Cause.SATURATED: Flag.FAIL,
        Cause.UNDER_RANGE: Flag.SUSPECT,
        Cause.OVER_RANGE: Flag.SUSPECT,
        Cause.NO_SUPPLY: Flag.FAIL,
        Cause.BELOW_PHYSICAL: Flag.FAIL,
        Cause.ABOVE_PHYSICAL: Flag.FAIL,
        Cause.ABOVE_LIMIT: Flag.SUSPECT,
        Cause.CLOCK: Flag.SUSPECT,
        Cause.UNIT: Flag.FAIL,
        Cause.TIME_UNKNOWN: Flag.NOT_EVALUATED,
        Cause.STATUS: Flag.FAIL,
        Cause.NO_BAROMETER: Flag.FAIL,
        Cause.SERVICE: Flag.SUSPECT,
        Cause.SPIKE: Flag.SUSPECT,
        Cause.RISE_RATE: Flag.SUSPECT,
        Cause.FLAT_LINE: Flag.SUSPECT,
        Cause.ATTENUATED: Flag.SUSPECT,
        Cause.GAP: Flag.SUSPECT,
        Cause.DOUBTED: Flag.SUSPECT,
        Cause.CONDEMNED: Flag.FAIL,
    }
)


def flag_of(cause: Cause) -> Flag:
    """Give the QARTOD flag of a reading with this cause.

    What cannot be a measurement fails; what may be one, but must not be acted on, is suspect.

    >>> flag_of(Cause.OPEN_CIRCUIT).word, flag_of(Cause.OVER_RANGE).word, flag_of(Cause.NONE).word
    ('fail', 'suspect', 'pass')
    """
    return _FLAGS[cause]
