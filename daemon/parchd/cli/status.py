"""``parchd status``"""

import sqlite3
from argparse import Namespace
from collections.abc import Iterable, Mapping, Sequence

from parchd.alarms.standing_words import state_words
from parchd.app.ailing import ailing
from parchd.app.setup import names
from parchd.app.water_moves import water_moves
from parchd.app.zones_now import ago, sensor_standing, zone_standing
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.clock import US_PER_S, SystemClock
from parchd.config import Loaded
from parchd.contract import Unit
from parchd.physics.barometer import barometer_check
from parchd.pipeline.stage import auxiliary_value
from parchd.store import reader
from parchd.store.database import is_held, open_reader
from parchd.store.findings import open_findings
from parchd.store.standings import load_standings
from parchd.store.states import get_meta, load_alarm_state

ALIVE_S = 120


def command(arguments: Namespace) -> Exit:
    """Show, from the journal, how the daemon, the zones, the tensiometers, the sinks and the messages stand."""
    loaded = load_config(arguments.config)
    now_us = SystemClock().now_us()
    connection = open_reader(loaded.store.path)
    try:
        silent_s = (now_us - int(get_meta(connection, "heartbeat_us") or 0)) / US_PER_S
        held = is_held(loaded.store.path)
        if not arguments.quiet:
            print("\n".join(status_lines(connection, loaded, daemon_words(silent_s, held=held), now_us)))
    finally:
        connection.close()
    return Exit.OK if held and silent_s <= ALIVE_S else Exit.FAILED


def daemon_words(silent_s: float, *, held: bool) -> str:
    """How the daemon is: who holds the journal lives, who has not written into it for long hangs.

    >>> daemon_words(600, held=False), daemon_words(600, held=True)
    ('does not run (last sign of life 10 min ago)', 'hangs (last sign of life 10 min ago)')
    """
    if held and silent_s <= ALIVE_S:
        return "runs"
    return f"{'hangs' if held else 'does not run'} (last sign of life {ago(round(silent_s * US_PER_S))})"


def status_lines(connection: sqlite3.Connection, loaded: Loaded, daemon: str, now_us: int) -> Iterable[str]:
    """All that there is to say, line by line."""
    called, state, newest = names(loaded), load_alarm_state(connection), reader.latest(connection)
    yield f"{called.site}: the daemon {daemon}"
    rules = loaded.alarms.faults
    zones = [zone_standing(rule, state, called, now_us, rules) for rule in loaded.alarms.irrigation]
    yield from _table("Zones", [(z.name, _kpa(z.tension_kpa), z.text()) for z in zones])
    sensors = [sensor_standing(rule, newest.get(rule.channel), state, called, now_us) for rule in rules]
    yield from _table("Tensiometers", [(s.name, _kpa(s.tension_kpa), s.words) for s in sensors])
    holding = [record.finding for record in open_findings(connection).values()]
    yield from _table("In need of a hand", [one.row(called.voice) for one in ailing(state.faults, holding, called)])
    quiet = {key: one for key, one in load_standings(connection).items() if one.state.is_hidden}
    words = [(key.subject, key.kind.value, state_words(one, called.local)) for key, one in quiet.items()]
    yield from _table("Alarms that are kept quiet", words)
    moves = water_moves(rules, called.places, newest, now_us)
    yield from _table("Water moves", [move.row(called) for move in moves])
    yield from _table("Barometer", _barometer(loaded, newest))
    yield from _table("Sinks", [_sink(position) for position in reader.sink_positions(connection)])
    counts = [(c.notifier, f"{c.count}", " ".join((c.state, c.trouble))) for c in reader.outbox_counts(connection)]
    yield from _table("Messages", counts)
    gone = [(name, "", f"disabled: {why}") for name, why in reader.disabled_notifiers(connection).items()]
    yield from _table("Disabled notifiers", gone)


def _barometer(loaded: Loaded, newest: Mapping[str, reader.Latest]) -> list[tuple[str, str, str]]:
    """What the site's barometer reads, and whether that can be the pressure of its air."""
    site = loaded.settings.site
    latest = newest.get(site.barometer_channel or "")
    if latest is None or latest.value is None or latest.unit not in (Unit.KPA, Unit.HPA):
        return []
    air_kpa = auxiliary_value(latest.value, latest.unit)
    return [(latest.channel, f"{air_kpa:.1f} kPa", barometer_check(air_kpa, site.altitude_m).value)]


def _sink(position: reader.SinkPosition) -> tuple[str, str, str]:
    words = position.trouble or "up to date" if not position.behind else position.trouble or "catching up"
    aside = f", {position.rejected} rows set aside" if position.rejected else ""
    return position.name, f"{position.behind} behind", words + aside


def _table(title: str, rows: Sequence[tuple[str, str, str]]) -> Iterable[str]:
    if not rows:
        return
    widths = [max(len(row[i]) for row in rows) for i in range(2)]
    yield f"\n{title}"
    for first, second, third in rows:
        yield f"  {first:<{widths[0]}}  {second:>{widths[1]}}  {third}".rstrip()


def _kpa(tension_kpa: float | None) -> str:
    return "-" if tension_kpa is None else f"{tension_kpa:.1f} kPa"
