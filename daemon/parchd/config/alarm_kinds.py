"""``[alarms.KIND]``: what people change about a kind of alarm."""

from collections.abc import Mapping
from types import MappingProxyType

from parchd.alarms.kinds import DELAYED, USUAL, AlarmKind, KindSettings
from parchd.alarms.rules import CLOCK, DISK, Delays, HealthRule
from parchd.config.alarm_tables import KindTable
from parchd.config.draft import Draft
from parchd.config.model import Settings
from parchd.config.schema import among
from parchd.config.toml_lines import Loc

_ELSEWHERE = {
    AlarmKind.IRRIGATE_NOW: "on_delay_min and off_delay_min of its zone",
    AlarmKind.IRRIGATE_PLAN: "on_delay_min and off_delay_min of its zone",
    AlarmKind.OWN_RULE: "for_min and clear_after_min of each rule",
    AlarmKind.SILENT: "silent_intervals of the tensiometer",
    AlarmKind.DISK_FULL: "no delay: the next message may be the last",
    AlarmKind.ALARM_FLOOD: "no delay: it counts ten minutes by itself",
}
"""Where the delays of other kinds stand; those of findings stand in the evidence that the diagnosis asks for."""


_CONNECTIONS = {
    "sources": AlarmKind.SOURCE_DOWN, "sinks": AlarmKind.SINK_DOWN, "notifiers": AlarmKind.NOTIFIER_DOWN,
}  # fmt: skip


def check_kinds(draft: Draft) -> None:
    """Kinds must exist, and have the delays that are set."""
    known = {kind.value for kind in AlarmKind}
    for word, table in draft.settings.alarms.items():
        loc: Loc = ("alarms", word)
        if word not in known:
            hint = among(word, known)
            draft.error(loc, found=f'"{word}"', expected="a kind of alarm, as in config/alarms.md", hint=hint)
            continue
        _check_delays(draft, AlarmKind(word), table, loc)


def _check_delays(draft: Draft, kind: AlarmKind, table: KindTable, loc: Loc) -> None:
    if kind in DELAYED:
        return
    for key in ("on_delay_min", "off_delay_min"):
        if getattr(table, key) is not None:
            draft.error(
                (*loc, key),
                found=f"a delay for {kind}",
                expected=_ELSEWHERE.get(kind, "none: the diagnosis waits until its evidence is enough"),
            )


def compile_kinds(tables: Mapping[str, KindTable]) -> Mapping[AlarmKind, KindSettings]:
    """Give the settings of every kind."""
    return MappingProxyType({kind: _settings(USUAL[kind], tables.get(kind.value)) for kind in AlarmKind})


def _settings(usual: KindSettings, table: KindTable | None) -> KindSettings:
    if table is None:
        return usual
    return KindSettings(
        priority=usual.priority if table.priority is None else table.priority,
        on_s=usual.on_s if table.on_delay_min is None else table.on_delay_min * 60.0,
        off_s=usual.off_s if table.off_delay_min is None else table.off_delay_min * 60.0,
        repeat_s=None if table.repeat_h is None else table.repeat_h * 3600.0,
        out_of_service=table.out_of_service or "",
    )


def health_rules(settings: Settings, kinds: Mapping[AlarmKind, KindSettings]) -> tuple[HealthRule, ...]:
    """Watch every source, sink and notifier, the disk and the clock."""
    connections = (
        (kind, f"{group.removesuffix('s')}/{name}")
        for group, kind in _CONNECTIONS.items()
        for name in getattr(settings, group)
    )
    own = ((AlarmKind.DISK_FILLING, DISK), (AlarmKind.DISK_FULL, DISK), (AlarmKind.CLOCK_UNTRUSTED, CLOCK))
    return tuple(
        HealthRule(kind, subject, Delays(on_s=kinds[kind].on_s, off_s=kinds[kind].off_s))
        for kind, subject in (*connections, *own)
    )
