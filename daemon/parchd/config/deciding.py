"""Which tensiometers have a say in irrigation."""

from collections.abc import Iterable, Iterator

from parchd.config.tensiometers import Tensiometer


def deciding(tensiometers: Iterable[Tensiometer]) -> dict[str, tuple[Tensiometer, ...]]:
    """Find those that decide, by zone: at each station the shallowest, unless ``decides`` says otherwise.

    The shallow one shows when to start, the deep ones how far the water got. Where one of a station says
    ``decides = true``, only those that say so decide there.
    """
    stations: dict[tuple[str, str], list[Tensiometer]] = {}
    for tensiometer in tensiometers:
        stations.setdefault((tensiometer.zone, tensiometer.station), []).append(tensiometer)
    found: dict[str, tuple[Tensiometer, ...]] = {}
    for (zone, _), members in stations.items():
        found[zone] = (*found.get(zone, ()), *_of_station(members))
    return found


def _of_station(members: list[Tensiometer]) -> Iterator[Tensiometer]:
    named = [tensiometer for tensiometer in members if tensiometer.decides]
    if named:
        yield from named
        return
    open_to_it = [tensiometer for tensiometer in members if tensiometer.decides is None]
    shallowest_m = min((tensiometer.depth_m for tensiometer in open_to_it), default=0.0)
    yield from (tensiometer for tensiometer in open_to_it if tensiometer.depth_m == shallowest_m)
