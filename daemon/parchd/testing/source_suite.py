"""What every source must do, as tests to inherit.

A source of your own passes them with a class like this::

    from parchd.testing.source_suite import ConnectedSourceSuite

    class TestMySource(ConnectedSourceSuite):
        kind = my_package.KIND
        options: ClassVar = {"host": "127.0.0.1", "port": 9}  # valid, though nobody is there

        @pytest.fixture
        def rig(self) -> Iterator[MyRig]:
            with MyRig() as rig:
                yield rig

`SourceSuite` is for sources that cannot lose a connection (a file, a simulation), `ConnectedSourceSuite` for all
others. The rig is the far end of the line: see `SourceRig` and `ConnectedRig`.
"""

import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, ClassVar, Protocol

import pytest
from pydantic import ValidationError

from parchd.contract import AdapterKind, Services, Source, SourceLost
from parchd.testing.arrivals import Arrivals, Sent, check_contract
from parchd.testing.clock import FakeClock
from parchd.testing.intake import FakeIntake
from parchd.testing.running import Running

__all__ = ["ConnectedRig", "ConnectedSourceSuite", "Sent", "SourceRig", "SourceSuite"]

PATIENCE_S = 10.0
STOP_S = 2.0


class SourceRig(Protocol):
    """A source and the far end of its line."""

    name: str
    """The name in `Services` that the source was built with."""

    @property
    def source(self) -> Source:
        """The source, built once and not started. The suite runs it once or twice, one run after the other."""
        ...

    def feed(self, groups: int) -> Sequence[Sequence[Sent]]:
        """Make the far end send so many lines or messages, and return what was in each.

        It is called once ``intake.connected`` was. Values must be the same to the last bit when they arrive. A source
        that waits for its clock (replay, simulation) is fed by moving the clock.
        """
        ...


class ConnectedRig(SourceRig, Protocol):
    """A rig whose line can be cut."""

    def feed_garbage(self) -> None:
        """Make the far end send what no device would: broken text, binary bytes."""
        ...

    def lose(self) -> None:
        """Cut the connection: pull out the adapter, kill the broker."""
        ...

    def restore(self) -> None:
        """Mend the connection, and return when a new ``run`` can succeed."""
        ...


class SourceSuite:
    """Tests for any source. Set ``kind`` and ``options``, and override ``rig``."""

    kind: ClassVar[AdapterKind[Any, Source]]
    options: ClassVar[Mapping[str, object]]
    """Valid options of a source whose other end is not there."""

    @pytest.fixture
    def rig(self) -> Iterator[SourceRig]:
        raise NotImplementedError("override the fixture `rig` with the far end of your source's line")

    def test_options_refuse_a_key_they_do_not_know(self) -> None:
        assert self.kind.options.model_validate(self.options)
        with pytest.raises(ValidationError, match="no_such_key"):
            self.kind.options.model_validate({**self.options, "no_such_key": 1})

    def test_it_can_be_built_while_its_other_end_is_away(self) -> None:
        options = self.kind.options.model_validate(self.options)
        assert callable(self.kind.build(options, Services("bus1", "Quillmere Orchard", FakeClock())).run)

    def test_samples_arrive_with_channel_value_and_unit(self, rig: SourceRig) -> None:
        with started(rig) as (intake, _):
            arrivals = Arrivals(intake)
            arrivals.expect(rig.feed(3))
            arrivals.expect(rig.feed(1))

    def test_what_is_handed_over_keeps_the_contract(self, rig: SourceRig) -> None:
        with started(rig) as (intake, _):
            Arrivals(intake).expect(rig.feed(4))
        check_contract(intake, rig.name)

    def test_values_sent_together_stay_in_one_batch(self, rig: SourceRig) -> None:
        with started(rig) as (intake, _):
            for batches in Arrivals(intake).expect(rig.feed(5)):
                assert len(batches) <= 1, "one line or message was split over several batches"

    def test_it_says_that_it_lives_while_the_line_is_silent(self, rig: SourceRig) -> None:
        with started(rig) as (intake, _):
            seen = intake.beats
            assert intake.wait_for(lambda intake: intake.beats > seen + 1, 2 * PATIENCE_S)

    def test_a_stop_ends_the_run_within_two_seconds(self, rig: SourceRig) -> None:
        with started(rig) as (intake, running):
            Arrivals(intake).expect(rig.feed(1))
            running.stop.set()
            assert running.ended(within_s=STOP_S)
            assert running.error is None

    def test_nothing_is_handed_over_after_the_stop(self, rig: SourceRig) -> None:
        with started(rig) as (intake, running):
            Arrivals(intake).expect(rig.feed(1))
            running.stop.set()
            assert running.ended(within_s=STOP_S)
            seen = len(intake.batches)
            rig.feed(2)
            assert not intake.wait_for(lambda intake: len(intake.batches) > seen, 0.3)

    def test_it_leaves_when_the_daemon_takes_nothing_more(self, rig: SourceRig) -> None:
        down = threading.Event()
        with started(rig, FakeIntake(stop=down)) as (intake, running):
            down.set()
            rig.feed(3)
            assert running.ended(within_s=PATIENCE_S)
            assert running.error is None
            assert len(intake.batches) <= 1  # what was on its way already


class ConnectedSourceSuite(SourceSuite):
    """Tests for sources whose line can be cut or babble."""

    @pytest.fixture
    def rig(self) -> Iterator[ConnectedRig]:
        raise NotImplementedError("override the fixture `rig` with the far end of your source's line")

    def test_garbage_is_counted_and_harms_nothing(self, rig: ConnectedRig) -> None:
        with started(rig) as (intake, _):
            arrivals = Arrivals(intake)
            arrivals.expect(rig.feed(1))
            rig.feed_garbage()
            assert intake.wait_for(lambda intake: intake.rejects.total() > 0, PATIENCE_S)
            arrivals.expect(rig.feed(2))

    def test_a_lost_connection_is_raised(self, rig: ConnectedRig) -> None:
        with started(rig) as (_, running):
            rig.lose()
            assert running.ended(within_s=PATIENCE_S)
            assert isinstance(running.error, SourceLost), running.error

    def test_a_connection_that_is_not_there_is_raised(self, rig: ConnectedRig) -> None:
        rig.lose()
        with Running(rig.source, intake := FakeIntake()) as running:
            assert running.ended(within_s=PATIENCE_S)
            assert isinstance(running.error, SourceLost), running.error
            assert not intake.details

    def test_a_second_run_delivers_again(self, rig: ConnectedRig) -> None:
        with started(rig) as (intake, running):
            Arrivals(intake).expect(rig.feed(1))
            rig.lose()
            assert running.ended(within_s=PATIENCE_S)
        rig.restore()
        with started(rig) as (intake, _):
            Arrivals(intake).expect(rig.feed(2))


@contextmanager
def started(rig: SourceRig, intake: FakeIntake | None = None) -> Iterator[tuple[FakeIntake, Running]]:
    """Run the rig's source, and go on once it says that it is connected."""
    intake = intake or FakeIntake()
    with Running(rig.source, intake) as running:
        assert intake.wait_for(lambda intake: bool(intake.details), PATIENCE_S), f"not connected: {running.error!r}"
        yield intake, running
