"""At which tension the uncertainty of a tensiometer matters: where somebody decides by it."""

from parchd.config.loaded import Loaded
from parchd.contract import Place
from parchd.pipeline.setup import TensiometerSetup

USUAL_KPA = 30.0
"""Where neither the tensiometer nor its zone has a limit."""


def decides_at_kpa(loaded: Loaded, place: Place) -> float:
    """Give the limit of a tensiometer's own, else that of its zone; of two the one at which to irrigate."""
    rules = {rule.subject: rule for rule in loaded.alarms.irrigation}
    for subject in (f"tensiometer/{place.tensiometer}", f"zone/{place.zone}"):
        if (rule := rules.get(subject)) is not None:
            return max(kpa for _, kpa in rule.limits)
    return USUAL_KPA


def newest_us(setup: TensiometerSetup) -> int:
    """The moment from which the newest calibration of a tensiometer holds; 0: it has none."""
    return max((calibration.valid_from_us for calibration in setup.calibrations), default=0)
