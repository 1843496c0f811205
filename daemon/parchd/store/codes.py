"""The small numbers that stand for units and time sources in the database. Never reuse one."""

from parchd.contract import TimeSource, Unit

UNIT_CODE = {Unit.COUNTS: 1, Unit.V: 2, Unit.MV: 3, Unit.MA: 4, Unit.KPA: 5, Unit.CELSIUS: 6, Unit.HPA: 7}
UNIT_OF_CODE = {code: unit for unit, code in UNIT_CODE.items()}

TIME_SOURCE_CODE = {TimeSource.DEVICE: 1, TimeSource.ARRIVAL: 2, TimeSource.UNKNOWN: 3}
TIME_SOURCE_OF_CODE = {code: source for source, code in TIME_SOURCE_CODE.items()}
