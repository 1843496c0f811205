"""What the pipeline must know of each tensiometer; the configuration is compiled into this."""

from dataclasses import dataclass, field

from parchd.contract import Place
from parchd.physics.adc import Adc
from parchd.physics.calibration import Calibration
from parchd.physics.reference import SEALED_AT_KPA
from parchd.physics.transducers import Transducer
from parchd.physics.uncertainty import Sources
from parchd.quality.limits import FASTEST_DRYING_KPA_PER_H


@dataclass(frozen=True, slots=True)
class TensiometerSetup:
    """One tensiometer as it is wired, calibrated and placed.

    Args:
        place: where it stands.
        channel: ``source/channel`` that carries its signal.
        transducer: nominal line from signal to gauge pressure.
        adc: how counts become volts; ``None``: samples are not counts.
        supply_channel: channel with the measured supply voltage (V or mV); ``None``: the transducer's nominal one.
        temperature_channel: channel with the water or soil temperature (degC); ``None``: ``water_c`` holds.
        water_c: temperature of the water column where none is measured.
        height_m: height of continuous water above the cup centre that the reading must be corrected for; 0 where
            the gauge was zeroed with its cup in water; negative for a transducer below the cup.
        calibrations: in any order.
        barometer_channel: channel with the pressure of the air at the site (kPa or hPa), for a transducer that does not
            measure against the air. ``None``: ``air_kpa`` holds.
        air_kpa: pressure of the air at the site's altitude; the limits below belong to it.
        sealed_at_kpa: absolute pressure of what is sealed into a sealed gauge.
        errors: what makes the tension uncertain; the calibration in force is put in for each reading.
        usable_limit_kpa: highest tension at the cup that can be believed.
        lowest_kpa, highest_kpa: outside of these no tension is possible in the ground.
        interval_s: expected time between samples.
        fastest_drying_kpa_per_h: a faster rise of the tension is suspect; infinity: none is.
    """

    place: Place
    channel: str
    transducer: Transducer
    height_m: float
    usable_limit_kpa: float
    lowest_kpa: float
    highest_kpa: float
    interval_s: float
    adc: Adc | None = None
    supply_channel: str | None = None
    temperature_channel: str | None = None
    water_c: float = 20.0
    calibrations: tuple[Calibration, ...] = ()
    barometer_channel: str | None = None
    air_kpa: float = 101.3
    sealed_at_kpa: float = SEALED_AT_KPA
    errors: Sources = field(default_factory=Sources)
    fastest_drying_kpa_per_h: float = FASTEST_DRYING_KPA_PER_H


@dataclass(frozen=True, slots=True)
class SiteSetup:
    """The site: its name, its time zone (IANA name) and altitude."""

    name: str
    time_zone: str
    altitude_m: float


@dataclass(frozen=True, slots=True)
class PipelineSetup:
    """All tensiometers of a site, each with a channel of its own."""

    site: SiteSetup
    tensiometers: tuple[TensiometerSetup, ...] = ()
