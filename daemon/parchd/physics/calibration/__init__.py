"""From calibration points to corrected pressures and their uncertainty."""

from parchd.physics.calibration.blending import Blend, blend, drift_weight
from parchd.physics.calibration.curve import Fit, Line, straight
from parchd.physics.calibration.field import check_off_kpa, rezero, span_check
from parchd.physics.calibration.fieller import fieller_kpa
from parchd.physics.calibration.fitting import fit
from parchd.physics.calibration.points import Direction, Points, directions
from parchd.physics.calibration.record import NOMINAL, Calibration, CalibrationKind, Epoch, epochs, in_force
from parchd.physics.calibration.temperature import TemperatureEffect

__all__ = [
    "Points", "Direction", "directions",
    "Fit", "Line", "fit", "straight", "NOMINAL",
    "rezero", "span_check", "check_off_kpa", "Blend", "blend", "drift_weight", "fieller_kpa",
    "Calibration", "CalibrationKind", "Epoch", "epochs", "in_force", "TemperatureEffect",
]  # fmt: skip
