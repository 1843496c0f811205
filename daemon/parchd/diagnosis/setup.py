"""What the diagnosis must know of each tensiometer."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from parchd.clock import US_PER_S
from parchd.contract import Place
from parchd.physics.head import head_kpa
from parchd.pipeline.setup import PipelineSetup, TensiometerSetup

SILENT_INTERVALS = 3.0
"""As the alarms have it: two samples may be lost on any radio, three in a row seldom are."""


@dataclass(frozen=True, slots=True)
class Instrument:
    """One tensiometer as the diagnosis sees it.

    Args:
        place: where it stands.
        channel: ``source/channel``.
        interval_s: expected time between samples.
        head_kpa: pressure of the water column that the reading is corrected for; 0: zeroed in water.
        limit_kpa: usable limit at the cup.
        temperature_channel: channel with the temperature of water or soil; ``None``: not measured.
        vented: whether the transducer measures against the air through a vent.
        silent_intervals: so many intervals without a sample are silence.
        name, subject, source, patience_us: made of the others once, for they are asked for all the time.
    """

    place: Place
    channel: str
    interval_s: float
    head_kpa: float
    limit_kpa: float
    temperature_channel: str | None = None
    vented: bool = True
    silent_intervals: float = SILENT_INTERVALS
    name: str = field(init=False, repr=False, compare=False)
    subject: str = field(init=False, repr=False, compare=False)
    source: str = field(init=False, repr=False, compare=False)
    patience_us: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "name", self.place.tensiometer)
        object.__setattr__(self, "subject", f"tensiometer/{self.place.tensiometer}")
        object.__setattr__(self, "source", self.channel.partition("/")[0])
        object.__setattr__(self, "patience_us", round(self.silent_intervals * self.interval_s * US_PER_S))


@dataclass(frozen=True, slots=True)
class DiagnosisSetup:
    """All tensiometers of a site.

    Args:
        instruments: in the order of the configuration.
        barometer_channel: channel with the pressure of the air, kPa or hPa; ``None``: not measured.
        time_zone: of the site, IANA name.
        sources: the instruments of each source.
    """

    instruments: tuple[Instrument, ...] = ()
    barometer_channel: str | None = None
    time_zone: str = "UTC"
    sources: Mapping[str, tuple[Instrument, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        names = dict.fromkeys(one.source for one in self.instruments)
        found = {name: tuple(one for one in self.instruments if one.source == name) for name in names}
        object.__setattr__(self, "sources", found)


def diagnosis_setup(
    setup: PipelineSetup, barometer_channel: str | None = None, silent_intervals: Mapping[str, float] | None = None
) -> DiagnosisSetup:
    """Take what the diagnosis needs from the setup of the pipeline.

    Args:
        silent_intervals: of each tensiometer by its name; ``None``, and for those not in it: the usual.
    """
    patience = silent_intervals or {}
    instruments = (_instrument(t, patience.get(t.place.tensiometer, SILENT_INTERVALS)) for t in setup.tensiometers)
    return DiagnosisSetup(tuple(instruments), barometer_channel, setup.site.time_zone)


def _instrument(setup: TensiometerSetup, silent_intervals: float) -> Instrument:
    return Instrument(
        place=setup.place,
        channel=setup.channel,
        interval_s=setup.interval_s,
        head_kpa=head_kpa(setup.height_m, setup.water_c),
        limit_kpa=setup.usable_limit_kpa,
        temperature_channel=setup.temperature_channel,
        vented=not setup.transducer.reference.needs_air,
        silent_intervals=silent_intervals,
    )
