"""The report of alarms, as a command on a journal."""

from parchd.cli.exits import Exit
from parchd.clock import US_PER_S, SystemClock
from parchd.contract import Sample, SampleBatch, Unit
from parchd.testing.commands import Farm, parchd
from parchd.testing.farm import mail
from parchd.testing.receivers import MailSandbox

NOW_US = SystemClock().now_us()
RECIPIENTS = {"people": ("anne@quillmere.example",)}


def dry(farm: Farm) -> None:
    """Let the north block be dry for an hour."""
    farm.write(mail(MailSandbox(port=9)))
    with farm.engine(NOW_US - 7200 * US_PER_S, RECIPIENTS) as bench:
        for ago_s in (3600, 1800):
            time_us = NOW_US - ago_s * US_PER_S
            bench.turn(time_us, SampleBatch("field", (Sample("c0", time_us, 55.0, Unit.KPA),)))


def test_the_report_tells_of_the_journal(quillmere: Farm) -> None:
    dry(quillmere)
    said = parchd("alarm-report", quillmere.config, "--ascii")
    assert said.code == Exit.OK
    assert said.out.startswith("Alarms of Quillmere Orchard\n")
    assert "1 alarm that asked for a response" in said.out
    assert "irrigate-now of zone/north" in said.out
    assert "people/anne@quillmere.example" in said.out
    assert "such figures want 30 or" in said.out
    assert said.out.isascii()


def test_the_page_is_written_where_it_was_asked_for(quillmere: Farm) -> None:
    dry(quillmere)
    path = quillmere.config.with_name("alarms.html")
    said = parchd("alarm-report", quillmere.config, "--html", path)
    assert (said.code, said.out) == (Exit.OK, f"{path} is written: open it in a browser\n")
    assert "<svg" in path.read_text("utf-8")


def test_a_span_that_is_empty_or_a_file_that_cannot_be_written_is_an_error(quillmere: Farm) -> None:
    dry(quillmere)
    assert "the span is empty" in parchd("alarm-report", quillmere.config, "--since", "1h", "--until", "2h").err
    missing = quillmere.config.parent / "missing" / "alarms.html"
    assert "cannot be written" in parchd("alarm-report", quillmere.config, "--html", missing).err


def test_an_earlier_span_does_not_know_of_later_alarms(quillmere: Farm) -> None:
    dry(quillmere)
    said = parchd("alarm-report", quillmere.config, "--since", "9d", "--until", "2d")
    assert "No alarms that asked for a response" in said.out
