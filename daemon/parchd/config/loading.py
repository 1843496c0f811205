"""From a file to a configuration that can be used."""

from collections.abc import Iterable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from parchd.alarms.kinds import AlarmKind
from parchd.config.adapters import Adapters, read_adapters
from parchd.config.alarm_kinds import check_kinds
from parchd.config.calibrations import Calibrations, compile_calibrations, of_nobody, read_folder
from parchd.config.checks import check_barometer, check_channels, check_references, check_use
from parchd.config.compile import assumed_keys, compile_alarm_setup, compile_pipeline_setup
from parchd.config.deciding import deciding
from parchd.config.draft import Draft, distinct
from parchd.config.environment import ADAPTERS, NAMED, Overrides, read_overrides
from parchd.config.files import Document, read_document
from parchd.config.limits import check_limits
from parchd.config.loaded import Loaded, ScheduleSettings, StoreSettings
from parchd.config.model import Settings
from parchd.config.origins import CALIBRATIONS, ROWS
from parchd.config.parts import gather
from parchd.config.people_checks import check_people
from parchd.config.people_compile import compile_escalation, compile_people
from parchd.config.plausible import check_plausible
from parchd.config.ranges import range_of
from parchd.config.rows import Rows, read_rows
from parchd.config.rule_checks import check_rules
from parchd.config.salvage import Salvaged, validate
from parchd.config.secrets import logins_in_addresses
from parchd.config.sources import DocumentSource
from parchd.config.tensiometers import make_whole
from parchd.config.web import check_web, web_secrets, web_settings
from parchd.config.wiring import build_wirings
from parchd.contract import ConfigError, Problem
from parchd.physics.calibration import Calibration

DATABASE = "parchd.db"
MEGABYTE = 1_000_000
CHECKS = (
    check_references, check_channels, check_barometer, check_limits, check_plausible, check_kinds, check_rules,
    check_use, check_web,
)  # fmt: skip


def load(path: Path, environ: Mapping[str, str], credentials: Path | None) -> Loaded:
    """Read, check and compile a configuration.

    Args:
        path: the main TOML file.
        environ: variables ``PARCHD_...`` change single keys; ``STATE_DIRECTORY`` is where the journal goes.
        credentials: folder of systemd credentials (``$CREDENTIALS_DIRECTORY``).

    Raises:
        ConfigError: it cannot be used; carries every problem, not the first only.
    """
    document = read_document(path, environ.get("PARCHD_INCLUDE", ""))
    if document.unreadable:
        raise ConfigError(_in_order(document.problems, document.origins.main))
    rows = _read_rows(document, environ.get("PARCHD_TENSIOMETERS_TABLE", ""))
    overrides = read_overrides(environ, credentials, _names(document, rows), document.origins)
    web = web_secrets(document.data, document.origins)
    salvaged = validate((*overrides.sources, DocumentSource(web.table)), document.origins)
    adapters = read_adapters(salvaged.settings, document.data, document.origins)
    draft = _draft(document, rows, salvaged, overrides, adapters)
    draft.problems.extend(web.problems)
    draft.warnings.extend(web.warnings)
    calibrations = _calibrations(draft)
    for check in CHECKS:
        check(draft)
    check_people(draft, adapters.notifiers)
    problems = distinct(draft.problems)
    if problems:
        raise ConfigError(_in_order(problems, document.origins.main))
    return _loaded(path, draft, adapters, calibrations, document.data, environ)


def _read_rows(document: Document, override: str) -> Rows:
    name = override or document.data.get(ROWS)
    if not isinstance(name, str) or not name:
        return Rows()
    folder = Path(document.origins.main).parent if override else document.origins.folder((ROWS,))
    return read_rows(folder / name, document.origins)


def _names(document: Document, rows: Rows) -> dict[str, set[str]]:
    names = {group: set(table) for group in NAMED if isinstance(table := document.data.get(group), dict)}
    names.setdefault("tensiometers", set()).update(rows.tables)
    names["alarms"] = {kind.value for kind in AlarmKind}
    return names


def _draft(document: Document, rows: Rows, salvaged: Salvaged, overrides: Overrides, adapters: Adapters) -> Draft:
    settings, origins = salvaged.settings, document.origins
    wirings = build_wirings(settings, origins)
    gathered = tuple(gather(settings, rows))
    whole = make_whole(gathered, origins, salvaged.broken | rows.broken)
    site_is_whole = all(loc[0] != "site" for loc in salvaged.broken)
    draft = Draft(
        settings=settings,
        origins=origins,
        broken=frozenset(salvaged.broken),
        gathered=gathered,
        tensiometers=whole.tensiometers,
        wirings=wirings.by_name,
        ranges={
            t.name: range_of(t, settings.site, wirings.by_name.get(t.transducer))
            for t in whole.tensiometers.values()
            if site_is_whole
        },
        deciding=deciding(whole.tensiometers.values()),
    )
    for found in (document, rows, overrides, salvaged, whole, wirings, adapters):
        draft.problems.extend(found.problems)
    draft.problems.extend(logins_in_addresses(document.data, origins))
    for odd in (overrides, wirings, adapters):
        draft.warnings.extend(odd.warnings)
    return draft


def _calibrations(draft: Draft) -> dict[str, tuple[Calibration, ...]]:
    found = _filed(draft)
    draft.problems.extend(found.problems)
    draft.warnings.extend(of_nobody(found, {parts.name: parts for parts in draft.gathered}, draft.origins))
    compiled = {}
    zone = draft.settings.site.time_zone
    for parts in draft.gathered:
        wiring = draft.wirings.get(parts.values.get("transducer", ""))
        if wiring is not None:
            filed = found.by_tensiometer.get(parts.name, [])
            judged = compile_calibrations(parts, filed, wiring, zone, draft.origins)
            draft.problems.extend(judged.problems)
            draft.warnings.extend(judged.warnings)
            compiled[parts.name] = judged.calibrations
    return compiled


def _filed(draft: Draft) -> Calibrations:
    folder = _calibration_dir(draft)
    return Calibrations() if folder is None else read_folder(folder, (CALIBRATIONS,), draft.origins)


def _calibration_dir(draft: Draft) -> Path | None:
    given = draft.settings.calibration_dir
    return None if given is None else draft.origins.folder((CALIBRATIONS,)) / given


def _loaded(
    path: Path,
    draft: Draft,
    adapters: Adapters,
    calibrations: Mapping[str, tuple[Calibration, ...]],
    written: Mapping[str, Any],
    environ: Mapping[str, str],
) -> Loaded:
    settings = draft.settings
    store = settings.store
    return Loaded(
        path=path,
        settings=_without_secrets(settings, written),
        pipeline=compile_pipeline_setup(draft, calibrations),
        alarms=compile_alarm_setup(draft),
        sources=MappingProxyType(adapters.entries["sources"]),
        sinks=MappingProxyType(adapters.entries["sinks"]),
        notifiers=MappingProxyType(adapters.notifiers),
        store=StoreSettings(
            _database(draft, environ), store.keep_days or None, store.commit_ms, round(store.reserve_mb * MEGABYTE)
        ),
        schedule=ScheduleSettings(settings.schedule.digest_at),
        people=compile_people(settings),
        escalation=compile_escalation(settings.escalation),
        schedulers=MappingProxyType({zone: tuple(t.name for t in ts) for zone, ts in draft.deciding.items()}),
        zeroed=frozenset(t.name for t in draft.tensiometers.values() if t.column.zeroed),
        transducers=MappingProxyType({t.name: t.transducer for t in draft.tensiometers.values()}),
        assumed=MappingProxyType({t.name: assumed_keys(draft, t) for t in draft.tensiometers.values()}),
        calibration_dir=_calibration_dir(draft),
        warnings=tuple(_in_order(distinct(draft.warnings), draft.origins.main)),
        web=web_settings(draft),
    )


def _without_secrets(settings: Settings, written: Mapping[str, Any]) -> Settings:
    """Keep of adapters what the files say: secrets do not stand there."""
    tables = {
        group: {
            name: written.get(group, {}).get(name, {"kind": table["kind"]})
            for name, table in getattr(settings, group).items()
        }
        for group in ADAPTERS
    }
    return settings.model_copy(update=tables)


def _database(draft: Draft, environ: Mapping[str, str]) -> Path:
    given, loc = draft.settings.store.path, ("store", "path")
    if given is not None:
        return (draft.origins.folder(loc) / given).absolute()
    state = environ.get("STATE_DIRECTORY", "").split(":")[0]
    folder = Path(state) if state else Path(draft.origins.main).parent
    return (folder / DATABASE).absolute()


def _in_order(problems: Iterable[Problem], main: str) -> list[Problem]:
    """The main file first, then the others by name, the environment last; by line."""
    return sorted(problems, key=lambda p: (p.file != main, not p.file, p.file, p.line or 0, p.key))
