"""Fakes and behaviour suites for tests of parchd and of adapters written elsewhere."""

from parchd.testing.clock import FakeClock
from parchd.testing.intake import FakeIntake

__all__ = ["FakeClock", "FakeIntake"]
