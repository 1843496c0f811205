"""Checks of transducers and converters: can it be, and is it meant?"""

from dataclasses import dataclass

from parchd.config.converters import AdcTable
from parchd.config.electrics import AnyKind, CurrentLoopTable, DigitalTable
from parchd.config.origins import Origins
from parchd.config.toml_lines import Loc
from parchd.contract import Problem

NE_43_FAILURE_MA = 21.0
"""Above it a transmitter says that it is broken (NAMUR NE 43)."""


def check_wiring(problems: list[Problem], warnings: list[Problem], table: AnyKind, loc: Loc, origins: Origins) -> None:
    """Look at one ``[transducers.NAME]`` that can be built."""
    judge = _Judge(problems, warnings, table, loc, origins)
    judge.pressures()
    judge.sealed()
    judge.averaging()
    if table.converter is not None:
        judge.converter(table.converter)


@dataclass(frozen=True, slots=True)
class _Judge:
    problems: list[Problem]
    warnings: list[Problem]
    table: AnyKind
    loc: Loc
    origins: Origins

    def pressures(self) -> None:
        ends = self.table.ends_kpa
        if ends is None:
            return
        found = f"a range of {ends[0]:g} to {ends[1]:g} kPa"
        if self.table.reference == "absolute":
            if min(ends) < 0.0:
                expected = 'pressures of 0 kPa or more with reference = "absolute"'
                self._problem(self.table.last_key, found, expected, "an absolute pressure is never below nothing")
        elif min(ends) >= 0.0:
            hint = (
                'a gauge for 0 to 100 kPa of vacuum is written 0 and -100; an absolute one says reference = "absolute"'
            )
            self._problem(self.table.last_key, found, "one that reaches into vacuum, which is negative", hint)

    def sealed(self) -> None:
        if self.table.sealed_at_kpa is not None and self.table.reference != "sealed":
            found = f'sealed_at_kpa with reference = "{self.table.reference}"'
            self._problem("sealed_at_kpa", found, 'it with reference = "sealed" only')

    def averaging(self) -> None:
        table = self.table
        if isinstance(table, DigitalTable) and table.status_bits and table.readings_averaged > 1:
            found = f"averages of {table.readings_averaged} codes with {table.status_bits} status bits"
            self._problem("readings_averaged", found, "codes as they were sent", "status bits do not survive averaging")

    def converter(self, adc: AdcTable) -> None:
        if adc.written_twice:
            loc, expected = (*self.loc, "adc", "divider_ohm"), "one of them: a divider is a gain below 1"
            self.problems.append(self.origins.problem(loc, found="gain and divider_ohm", expected=expected))
        elif isinstance(self.table, CurrentLoopTable) and self.table.shunt_ohm is None:
            self._problem("adc", "a converter without shunt_ohm", "the shunt it reads over")
        elif self.table.ends_v is not None:
            self._reach(adc, *self.table.ends_v)

    def _reach(self, adc: AdcTable, lowest_v: float, highest_v: float) -> None:
        reach_v = adc.reach_v
        if highest_v > reach_v * 1.0001:
            self._warn(
                "adc",
                f"a converter that ends at {reach_v:.3g} V",
                f"one that reaches the {highest_v:.3g} V of the transducer",
                "a voltage divider ahead of it is written as divider_ohm = [top, bottom]",
            )
        elif isinstance(self.table, CurrentLoopTable) and self.table.shunt_ohm is not None:
            self._hidden_failure(reach_v, self.table.shunt_ohm)
        if lowest_v < 0.0 and not adc.signed:
            self._warn(
                "adc",
                f"a converter that begins at 0 V, and a transducer that goes down to {lowest_v * 1000:.3g} mV",
                "signed = true, or a signal that is not negative",
                "exchange the two output wires of a bridge, and say vacuum_positive = true",
            )

    def _hidden_failure(self, reach_v: float, shunt_ohm: float) -> None:
        reach_ma = reach_v * 1000.0 / shunt_ohm
        if reach_ma <= NE_43_FAILURE_MA:
            self._warn(
                "shunt_ohm",
                f"{shunt_ohm:g} ohm: the converter ends at {reach_ma:.4g} mA",
                f"at most {reach_v * 1000.0 / NE_43_FAILURE_MA * 0.99:.0f} ohm, to see more than 21 mA",
                "a transmitter that is broken gives more than 21 mA (NE 43): it could not be told from full scale",
            )

    def _problem(self, key: str, found: str, expected: str, hint: str = "") -> None:
        self.problems.append(self.origins.problem((*self.loc, key), found=found, expected=expected, hint=hint))

    def _warn(self, key: str, found: str, expected: str, hint: str) -> None:
        self.warnings.append(self.origins.problem((*self.loc, key), found=found, expected=expected, hint=hint))
