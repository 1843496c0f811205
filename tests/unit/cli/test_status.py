from parchd.alarms.kinds import AlarmKind
from parchd.app.messages import Ask, SinkProgress
from parchd.app.requests import TakeOut
from parchd.cli.exits import Exit
from parchd.clock import US_PER_S, SystemClock
from parchd.contract import DeliveryRefused, Sample, SampleBatch, Unit
from parchd.store.cursors import Cursor
from parchd.store.outbox import Outbox
from parchd.testing.bench import Bench
from parchd.testing.commands import Farm, parchd
from parchd.testing.farm import webhook
from parchd.testing.http_receiver import HttpReceiver


def feed(bench: Bench, **kpa: float) -> int:
    """Feed one sample for each channel, measured now."""
    now_us = SystemClock().now_us()
    samples = tuple(Sample(channel, now_us, value, Unit.KPA) for channel, value in kpa.items())
    bench.turn(now_us, SampleBatch("field", samples))
    return now_us


def test_a_daemon_that_lives_is_told_from_one_that_does_not(quillmere: Farm) -> None:
    with quillmere.held(), quillmere.engine():
        alive = parchd("status", quillmere.config)
    dead = parchd("status", quillmere.config)
    assert (alive.code, dead.code) == (Exit.OK, Exit.FAILED)
    assert alive.out.splitlines()[0] == "Quillmere Orchard: the daemon runs"
    assert dead.out.splitlines()[0] == "Quillmere Orchard: the daemon does not run (last sign of life 0 min ago)"


def test_a_daemon_that_holds_its_journal_and_writes_nothing_hangs(quillmere: Farm) -> None:
    with quillmere.engine(SystemClock().now_us() - 600 * US_PER_S):
        pass
    with quillmere.held():
        said = parchd("status", quillmere.config)
    assert said.code == Exit.FAILED
    assert "the daemon hangs (last sign of life 10 min ago)" in said.out


def test_quiet_answers_with_the_exit_code_alone(quillmere: Farm) -> None:
    with quillmere.held(), quillmere.engine():
        alive = parchd("status", quillmere.config, "-q")
    dead = parchd("status", quillmere.config, "--quiet")
    assert [(said.code, said.out, said.err) for said in (alive, dead)] == [(Exit.OK, "", ""), (Exit.FAILED, "", "")]


def test_asking_for_the_state_takes_the_journal_from_nobody(quillmere: Farm) -> None:
    with quillmere.engine():
        parchd("status", quillmere.config)
    with quillmere.held(), quillmere.engine():
        pass


def test_alarms_that_are_kept_quiet_are_not_forgotten(quillmere: Farm) -> None:
    with quillmere.engine() as bench:
        request = TakeOut(subject="north", kind=AlarmKind.IRRIGATE_NOW, why="fallow", by="Ines")
        bench.turn(SystemClock().now_us(), Ask(request, lambda answer: None))
    out = parchd("status", quillmere.config).out
    assert "Alarms that are kept quiet\n  zone/north  irrigate-now  out of service by Ines: fallow\n" in out


def test_zones_and_tensiometers_are_shown_in_words(quillmere: Farm) -> None:
    with quillmere.engine() as bench:
        feed(bench, c0=45.25)
    lines = [line.split(maxsplit=1) for line in parchd("status", quillmere.config).out.splitlines() if line]
    assert ["Zones"] in lines
    assert ["north", "block  45.2 kPa  irrigate now"] in lines
    assert ["t0", "(30 cm)  45.2 kPa  reads well (0 min ago)"] in lines
    assert ["t1", "(30 cm)         -  nothing heard in time yet"] in lines


def test_sinks_messages_and_disabled_notifiers_are_shown_with_their_trouble(quillmere: Farm) -> None:
    quillmere.write(webhook(HttpReceiver()))
    with quillmere.engine(recipients={"hook": ("hook.quillmere.example",)}) as bench:
        now_us = feed(bench, c0=45.25)
        bench.turn(now_us, SinkProgress("copy", Cursor(0), trouble="nobody listens at localhost:8086"))
        with bench.connection:
            Outbox(bench.connection).disable("hook", "mark", now_us, str(DeliveryRefused("410 Gone")))
    out = parchd("status", quillmere.config).out
    assert "copy  1 behind  nobody listens at localhost:8086" in out
    assert "hook  1  ready" in out
    assert "disabled: 410 Gone" in out
