"""What the diagnosis must know of each tensiometer."""

from collections.abc import Mapping
from dataclasses import dataclass

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
    """

    place: Place
    channel: str
    interval_s: float
    head_kpa: float
    limit_kpa: float
    temperature_channel: str | None = None
    vented: bool = True
    silent_intervals: float = SILENT_INTERVALS

    @property
    def name(self) -> str:
        return self.place.tensiometer

    @property
    def subject(self) -> str:
        return f"tensiometer/{self.place.tensiometer}"

    @property
    def source(self) -> str:
        return self.channel.partition("/")[0]


@dataclass(frozen=True, slots=True)
class DiagnosisSetup:
    """All tensiometers of a site.

    Args:
        instruments: in the order of the configuration.
        barometer_channel: channel with the pressure of the air, kPa or hPa; ``None``: not measured.
        time_zone: of the site, IANA name.
    """

    instruments: tuple[Instrument, ...] = ()
    barometer_channel: str | None = None
    time_zone: str = "UTC"


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
