"""Checks of the conditions of rules: are they whole, do their names exist, can their limits be reached and left?"""

from dataclasses import dataclass

from parchd.alarms.findings import ALARM_OF, TOLD_ELSEWHERE
from parchd.alarms.terms import Quantity
from parchd.config.alarm_tables import TermTable
from parchd.config.draft import Draft
from parchd.config.limits import deadband_kpa, levels_of
from parchd.config.problems import one_of
from parchd.config.schema import among
from parchd.config.toml_lines import Loc
from parchd.diagnosis.kinds import FindingKind

QUANTITIES = tuple(quantity.value for quantity in Quantity)
SUBJECTS = (*QUANTITIES, "finding", "silent")
SHARE = 0.05
"""The usual deadband of a rise or a channel, as a share of its limit."""


def subject_of(term: TermTable) -> str:
    """The key that says what a condition is about; empty: none does, or several do."""
    named = [key for key in SUBJECTS if getattr(term, key) is not None]
    return named[0] if len(named) == 1 else ""


def usual_deadband(term: TermTable, subject: str, limit: float) -> float:
    """The deadband of a level, or the usual one."""
    if term.deadband is not None:
        return term.deadband
    if subject in (Quantity.TENSION, Quantity.ZONE_TENSION):
        return deadband_kpa(None, (("", abs(limit)),))
    return SHARE * abs(limit)


@dataclass(frozen=True, slots=True)
class TermCheck:
    """Looks at one condition."""

    draft: Draft
    term: TermTable
    loc: Loc

    def check(self) -> None:
        """Say everything that is wrong with it."""
        subject = subject_of(self.term)
        if not subject:
            named = [key for key in SUBJECTS if getattr(self.term, key) is not None]
            found = " and ".join(named) if named else "nothing that it is about"
            self._error("", found, f"{one_of(SUBJECTS)}, one in each condition")
        elif subject in QUANTITIES:
            self._check_level(subject)
        else:
            self._check_presence(subject)

    def _check_level(self, subject: str) -> None:
        self._refuse(subject, "of", "absent")
        if (self.term.above is None) == (self.term.below is None):
            found = "neither above nor below" if self.term.above is None else "above together with below"
            self._error("", found, "one of above, below: the limit")
            return
        if self._names_exist(subject):
            self._check_reach(subject)

    def _check_presence(self, subject: str) -> None:
        self._refuse(subject, "above", "below", "deadband", *(("of",) if subject == "silent" else ()))
        if subject == "silent":
            self._thing_exists("silent", str(self.term.silent))
            return
        known = {kind.value for kind in ALARM_OF}
        word = str(self.term.finding)
        if word in {kind.value for kind in TOLD_ELSEWHERE}:
            hint = "silent = NAME" if word == FindingKind.SILENT_CHANNEL else "the alarm electrical tells of it already"
            self._error("finding", f'"{word}"', one_of(known), hint)
        elif word not in known:
            self._error("finding", f'"{word}"', "the word of a finding, as in config/findings.md", among(word, known))
        if self.term.of is None:
            self._error("", "nothing that the finding is about", "of: the name of a tensiometer or source")
        else:
            self._thing_exists("of", self.term.of)

    def _refuse(self, subject: str, *keys: str) -> None:
        for key in keys:
            if getattr(self.term, key) not in (None, False):
                self._error(key, f"{key} together with {subject}", f"{subject} without it")

    def _names_exist(self, subject: str) -> bool:
        name = str(getattr(self.term, subject))
        if subject == Quantity.CHANNEL:
            return self._exists("sources", subject, name.partition("/")[0], "the name of a source before the slash")
        if subject in (Quantity.TENSION, Quantity.RISE):
            return self._exists("tensiometers", subject, name, "the name of a tensiometer")
        return self._exists("zones", subject, name, "the name of a zone") and self._zone_decides(subject, name)

    def _zone_decides(self, subject: str, name: str) -> bool:
        """A zone has a tension only where it votes."""
        zone = self.draft.settings.zones.get(name)
        if zone is None:
            return False
        if not self.draft.deciding.get(name):
            self._error(subject, f'"{name}", in which no tensiometer decides', "a zone with one that does")
            return False
        if subject == Quantity.ZONE_TENSION and not levels_of(zone.plan_kpa, zone.now_kpa):
            hint = "or tension of one of its tensiometers"
            self._error(subject, f'"{name}", which has no limits', "a zone with plan_kpa or now_kpa: it votes", hint)
            return False
        return True

    def _check_reach(self, subject: str) -> None:
        key = "above" if self.term.above is not None else "below"
        limit = float(getattr(self.term, key))
        band = usual_deadband(self.term, subject, limit)
        if subject in (Quantity.TENSION, Quantity.ZONE_TENSION):
            self._check_tension(key, limit, band, str(getattr(self.term, subject)), is_zone=subject != "tension")
        elif subject in (Quantity.RISE, Quantity.ZONE_RISE) and key == "above" and limit <= 0.0:
            self._error(key, f"{limit:g} kPa a day", "more than 0: ground that dries")

    def _check_tension(self, key: str, limit: float, band: float, name: str, *, is_zone: bool) -> None:
        members = [t.name for t in self.draft.deciding.get(name, ())] if is_zone else [name]
        ranges = {member: self.draft.ranges[member] for member in members if member in self.draft.ranges}
        if not ranges:
            return
        worst = min(ranges, key=lambda member: ranges[member].usable_kpa)
        usable_kpa, lowest_kpa = ranges[worst].usable_kpa, max(reach.lowest_kpa for reach in ranges.values())
        left_kpa = limit - band if key == "above" else limit + band
        if limit > usable_kpa:
            expected = f"at most {usable_kpa:.1f} kPa, the usable limit of {worst}: {ranges[worst].why}"
            self._error(key, f"{limit:g} kPa", expected, "an alarm at a tension that it cannot show never comes")
        elif limit < lowest_kpa:
            self._error(key, f"{limit:g} kPa", f"at least {lowest_kpa:.1f} kPa, the lowest that the ground can have")
        elif not lowest_kpa <= left_kpa <= usable_kpa:
            at = "deadband" if self.term.deadband is not None else key
            expected = f"a limit that is left between {lowest_kpa:.1f} and {usable_kpa:.1f} kPa"
            usual = "" if self.term.deadband is not None else "the usual "
            self._error(at, f"{limit:g} kPa with {usual}deadband of {band:g}, left at {left_kpa:g} kPa", expected)

    def _thing_exists(self, key: str, name: str) -> None:
        known = self.draft.names("tensiometers") | {parts.name for parts in self.draft.gathered}
        known |= self.draft.names("sources")
        broken = self.draft.all_broken("tensiometers") or self.draft.all_broken("sources")
        if name not in known and not broken:
            self._error(key, f'"{name}"', "the name of a tensiometer or source", among(name, known))

    def _exists(self, group: str, key: str, name: str, expected: str) -> bool:
        known = self.draft.names(group) | ({p.name for p in self.draft.gathered} if group == "tensiometers" else set())
        if name in known:
            return True
        if not self.draft.all_broken(group):
            self._error(key, f'"{getattr(self.term, key)}"', expected, among(name, known))
        return False

    def _error(self, key: str, found: str, expected: str, hint: str = "") -> None:
        self.draft.error((*self.loc, key) if key else self.loc, found=found, expected=expected, hint=hint)
