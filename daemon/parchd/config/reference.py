"""The list of all keys as Markdown, made from the models: the page that people read cannot drift from the code."""

from collections.abc import Iterator
from datetime import time
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from parchd.config.alarm_tables import KindTable, RuleTable, TermTable
from parchd.config.calibration_table import CalibrationTable
from parchd.config.converters import AdcTable
from parchd.config.electrics import (
    BridgeTable,
    CurrentLoopTable,
    DigitalTable,
    LinearTable,
    PressureTable,
    RatiometricTable,
)
from parchd.config.ground import SiteTable, TensiometerDefaults, TensiometerTable, ZoneTable
from parchd.config.model import PolicyTable, ScheduleTable, Settings, StoreTable
from parchd.config.people import AwayTable, EscalationTable, PersonTable, ReachTable
from parchd.config.schema import is_secret
from parchd.config.transducer_table import TransducerTable
from parchd.config.web_table import TokenTable, WebTable
from parchd.contract import Priority

TABLES: tuple[tuple[str, type[BaseModel], tuple[str, ...]], ...] = (
    ("Above the first table", Settings, ("tensiometers_table", "calibration_dir", "include")),
    ("`[site]`", SiteTable, ()),
    ("`[store]`", StoreTable, ()),
    ("`[schedule]`", ScheduleTable, ()),
    ("`[web]`", WebTable, ("listen", "public_url", "link_days", "proxies")),
    ("`[web.tokens.NAME]`", TokenTable, ()),
    ("`[transducers.NAME]` of every kind", TransducerTable, ()),
    ('`[transducers.NAME]` with `kind = "ratiometric"`', RatiometricTable, ()),
    ('`[transducers.NAME]` with `kind = "current-loop"`', CurrentLoopTable, ()),
    ('`[transducers.NAME]` with `kind = "linear"`', LinearTable, ()),
    ('`[transducers.NAME]` with `kind = "bridge"`', BridgeTable, ()),
    ('`[transducers.NAME]` with `kind = "digital"`', DigitalTable, ()),
    ('`[transducers.NAME]` with `kind = "pressure"`', PressureTable, ()),
    ("`[transducers.NAME.adc]`", AdcTable, ()),
    ("`[zones.NAME]`", ZoneTable, ()),
    ("`[alarms.KIND]`", KindTable, ()),
    ("`[people.NAME]`", PersonTable, ()),
    ("`reach` of `[people.NAME]`", ReachTable, ()),
    ("`away` of `[people.NAME]`", AwayTable, ()),
    ("`[escalation]`", EscalationTable, ()),
    ("`[rules.NAME]`", RuleTable, ()),
    ("Conditions of a rule", TermTable, ()),
    ("`[tensiometers.NAME]`", TensiometerTable, ()),
    ("`[defaults]` and `[zones.NAME.defaults]`", TensiometerDefaults, ()),
    ("`[[tensiometers.NAME.calibration]]`", CalibrationTable, ()),
    ("`[notifiers.NAME]`, besides the keys of its kind", PolicyTable, ()),
)
"""Heading, model, and the keys of it that are listed (none: all)."""

_LATER = {
    "path": "`parchd.db` in the service's state folder, else beside this file",
    "station": "`main`",
    "interval_s": "600",
    "silent_intervals": "3",
    "fastest_drying_kpa_per_h": "10",
    "decides": "the shallowest of its station",
    "deadband_kpa": "3, or 5 % of the higher limit if that is more",
    "window": '`["05:00", "08:00"]`',
    "quiet_hours": "none",
    "on_delay_min": "see [alarms](alarms.md#settings-of-a-kind)",
    "off_delay_min": "0",
    "repeat_h": "24 for high priority, else never",
    "out_of_service": "in service",
    "deadband": "3 kPa or 5 % of the limit if that is more; of a rise or channel 5 %",
    "wet_h": "48",
    "priority": "see [alarms](alarms.md#all-alarms)",
    "name": "the name of the table",
    "time_zone": "that of the site",
    "digest_at": "`schedule.digest_at`",
    "barometer_u_kpa": "0.1",
    "sealed_at_kpa": "101.325",
    "accuracy_kpa": "2.5 % of its span, assumed",
    "drift_kpa_per_year": "0.5 % of its span, assumed",
    "temperature_effect_kpa": "0.5 % of its span, assumed",
    "height_half_cm": "1",
    "water_half_c": "10; 2 with a `temperature_channel`",
}
_REQUIRED = {"zone", "channel", "transducer", "depth_cm"}
_ELSEWHERE = {"kind", "defaults"}


def reference_text() -> str:
    """Write all tables."""
    return "\n".join(line for heading, model, keys in TABLES for line in _table(heading, model, keys))


def _table(heading: str, model: type[BaseModel], keys: tuple[str, ...]) -> Iterator[str]:
    yield from (f"### {heading}", "", "| key | default | meaning |", "| --- | --- | --- |")
    for key, info in model.model_fields.items():
        if key in keys or (not keys and key not in _elsewhere(model)):
            name = f"{key}_file" if is_secret(info) else key
            yield f"| `{name}` | {_default(key, info, model)} | {info.description}{_bounds(info)} |"
    yield ""


def _elsewhere(model: type[BaseModel]) -> set[str]:
    """Keys that are described in words, or in a table of their own."""
    common = TransducerTable.model_fields if model is not TransducerTable and issubclass(model, TransducerTable) else ()
    return _ELSEWHERE | set(common)


def _default(key: str, info: FieldInfo, model: type[BaseModel]) -> str:
    if info.is_required() or (model is TensiometerTable and key in _REQUIRED):
        return "required"
    if info.default is None:
        return "" if model is TensiometerDefaults else _LATER.get(key, "")
    return "" if info.default == () else _shown(info.default)


def _shown(value: Any) -> str:
    if isinstance(value, Priority):
        return f'`"{value.word}"`'
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, time):
        return f'`"{value:%H:%M}"`'
    if isinstance(value, tuple):
        return ", ".join(map(_shown, value))
    return f'`"{value}"`' if isinstance(value, str) else f"{value:g}"


def _bounds(info: FieldInfo) -> str:
    """Write the range of a number."""
    words = []
    for bound in info.metadata:
        words += [
            f"{word} {getattr(bound, name):g}"
            for name, word in (("gt", "above"), ("ge", "from"), ("lt", "below"), ("le", "up to"))
            if isinstance(getattr(bound, name, None), int | float)
        ]
    return f" ({' '.join(words)})" if words else ""
