"""What a configuration says of tensiometers that are to be built."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from parchd.config import Loaded
from parchd.pipeline.setup import TensiometerSetup
from parchd.workbench.errors import SheetError
from parchd.workbench.geometry import Instrument, Pattern
from parchd.workbench.lengths import Ruler
from parchd.workbench.limits import Site

_SAME_HEIGHT_MM = 10.0


@dataclass(frozen=True, slots=True)
class Wanted:
    """Instruments and site.

    Args:
        depths_mm: how many instruments of each depth.
        notes: what is odd about them, in whole sentences.
    """

    depths_mm: Mapping[float, int]
    site: Site
    notes: tuple[str, ...] = ()


def wanted_by(loaded: Loaded, pattern: Pattern, ruler: Ruler) -> Wanted:
    """Count the tensiometers of a configuration by depth.

    Raises:
        SheetError: it has none.
    """
    setups = loaded.pipeline.tensiometers
    if not setups:
        raise SheetError(f"{loaded.path} has no tensiometer: name depths with --depth")
    table = loaded.settings.site
    site = Site(loaded.pipeline.site.name, table.altitude_m, table.water_c, table.gas_margin_kpa)
    with_height = [setup for setup in setups if setup.place.tensiometer not in loaded.zeroed]
    return Wanted(Counter(map(_depth_mm, setups)), site, tuple(_height_notes(with_height, pattern, ruler)))


def _depth_mm(setup: TensiometerSetup) -> float:
    return round(setup.place.depth_m * 1000.0, 1)


def _height_notes(setups: Iterable[TensiometerSetup], pattern: Pattern, ruler: Ruler) -> Iterable[str]:
    """Say where the configuration has another height than the sheet builds: its readings would be off by that."""
    other: dict[float, set[float]] = {}
    for setup in setups:
        depth_mm, height_mm = _depth_mm(setup), round(setup.height_m * 1000.0, 1)
        if abs(height_mm - _built_mm(depth_mm, pattern)) > _SAME_HEIGHT_MM:
            other.setdefault(depth_mm, set()).add(height_mm)
    if other:
        differences = "; ".join(
            f"{ruler.text(depth_mm)} deep {_span(heights, ruler)}, built {ruler.text(_built_mm(depth_mm, pattern))}"
            for depth_mm, heights in sorted(other.items())
        )
        yield (
            f"The configuration has other heights of water above the cup than this sheet builds: {differences}. "
            "Measure the finished instruments and write their height_cm."
        )


def _built_mm(depth_mm: float, pattern: Pattern) -> float:
    return Instrument(depth_mm, 1, pattern).height_mm


def _span(lengths_mm: set[float], ruler: Ruler) -> str:
    """
    >>> _span({520.0, 500.0, 510.0}, Ruler.CM), _span({520.0}, Ruler.CM)
    ('50 to 52 cm', '52 cm')
    """
    least, most = min(lengths_mm), max(lengths_mm)
    return ruler.text(most) if least == most else f"{ruler.number(least)} to {ruler.text(most)}"
