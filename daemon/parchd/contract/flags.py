"""Quality flags and the causes behind them."""

from collections.abc import Iterable
from enum import IntEnum

from parchd.words import noted


class Flag(IntEnum):
    """QARTOD primary flag of a reading (IOOS QARTOD; UNESCO/IOC Manuals and Guides 54, vol. 3, 2013)."""

    PASS = 1
    NOT_EVALUATED = 2
    SUSPECT = 3
    FAIL = 4
    MISSING = 9

    @property
    def word(self) -> str:
        """The flag as people read it.

        >>> Flag.NOT_EVALUATED.word
        'not evaluated'
        """
        return _FLAG_WORDS[self]

    @property
    def decides(self) -> bool:
        """Whether a reading with this flag may raise or clear an irrigation alarm.

        >>> [flag.decides for flag in Flag]
        [True, True, False, False, False]
        """
        return self in (Flag.PASS, Flag.NOT_EVALUATED)


_FLAG_WORDS = {
    Flag.PASS: noted("pass"),
    Flag.NOT_EVALUATED: noted("not evaluated"),
    Flag.SUSPECT: noted("suspect"),
    Flag.FAIL: noted("fail"),
    Flag.MISSING: noted("missing"),
}
_PRECEDENCE = {flag: rank for rank, flag in enumerate((9, 2, 1, 3, 4))}


def worst(flags: Iterable[Flag]) -> Flag:
    """Combine flags of one value: 9 < 2 < 1 < 3 < 4, the order of the IOOS reference code.

    No flag at all gives ``NOT_EVALUATED``.

    >>> worst([Flag.PASS, Flag.SUSPECT, Flag.MISSING]).name
    'SUSPECT'
    >>> worst([]).name
    'NOT_EVALUATED'
    """
    return max(flags, key=lambda flag: _PRECEDENCE[flag], default=Flag.NOT_EVALUATED)


class Cause(IntEnum):
    """Why a reading is not plainly good. The numbers are stored: never reuse one."""

    NONE = 0
    NO_VALUE = 1
    OPEN_CIRCUIT = 2
    SHORT_CIRCUIT = 3
    SATURATED = 4
    UNDER_RANGE = 5
    OVER_RANGE = 6
    NO_SUPPLY = 7
    BELOW_PHYSICAL = 8
    ABOVE_PHYSICAL = 9
    ABOVE_LIMIT = 10
    CLOCK = 11
    UNIT = 12
    TIME_UNKNOWN = 13
    STATUS = 14
    NO_BAROMETER = 15
    SERVICE = 16
    SPIKE = 17
    RISE_RATE = 18
    FLAT_LINE = 19
    ATTENUATED = 20
    GAP = 21
    DOUBTED = 22
    """A finding of the diagnosis makes the tensiometer doubtful."""
    CONDEMNED = 23
    """A finding of the diagnosis says that it measures no soil."""

    @property
    def word(self) -> str:
        """The cause as people read it.

        >>> Cause.OPEN_CIRCUIT.word
        'open circuit'
        """
        return _CAUSE_WORDS[self]


_CAUSE_WORDS = {
    Cause.NONE: "",
    Cause.NO_VALUE: noted("no value"),
    Cause.OPEN_CIRCUIT: noted("open circuit"),
    Cause.SHORT_CIRCUIT: noted("short circuit"),
    Cause.SATURATED: noted("converter at its end"),
    Cause.UNDER_RANGE: noted("signal just below its range"),
    Cause.OVER_RANGE: noted("signal just above its range"),
    Cause.NO_SUPPLY: noted("supply voltage unknown or out of tolerance"),
    Cause.BELOW_PHYSICAL: noted("more free water than the ground can hold"),
    Cause.ABOVE_PHYSICAL: noted("more vacuum than water can bear"),
    Cause.ABOVE_LIMIT: noted("above the usable limit"),
    Cause.CLOCK: noted("time cannot be believed"),
    Cause.UNIT: noted("unit does not fit the transducer"),
    Cause.TIME_UNKNOWN: noted("time of measurement unknown"),
    Cause.STATUS: noted("transducer reports a fault"),
    Cause.NO_BAROMETER: noted("pressure of the air unknown"),
    Cause.SERVICE: noted("somebody worked on it"),
    Cause.SPIKE: noted("one value apart from those before and after it"),
    Cause.RISE_RATE: noted("rose faster than soil dries"),
    Cause.FLAT_LINE: noted("has not moved for a day or more"),
    Cause.ATTENUATED: noted("has hardly moved for days"),
    Cause.GAP: noted("first value after a long gap"),
    Cause.DOUBTED: noted("its tensiometer is doubted"),
    Cause.CONDEMNED: noted("its tensiometer cannot be believed"),
}
