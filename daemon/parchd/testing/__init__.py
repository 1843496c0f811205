"""Fakes and behaviour suites for tests of parchd and of adapters written elsewhere."""

from parchd.testing.clock import FakeClock
from parchd.testing.intake import FakeIntake
from parchd.testing.notifier import FakeNotifier
from parchd.testing.sink import FakeSink

__all__ = ["FakeClock", "FakeIntake", "FakeNotifier", "FakeSink"]
