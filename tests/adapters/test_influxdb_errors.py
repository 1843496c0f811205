"""The sink against a server that fails in every way."""

import datetime
import ipaddress
import json
import logging
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from parchd.clock import SystemClock
from parchd.contract import Services, SinkUnavailable, StoredReading
from parchd.testing.clock import FakeClock
from parchd.testing.influx_fake import FakeInflux, Hang, Reply, Reset
from parchd.testing.sink_suite import sample_rows
from parchd_adapters.influxdb import InfluxOptions, InfluxSink, build

Connect = Callable[..., InfluxSink]


@pytest.fixture
def server() -> Iterator[FakeInflux]:
    with FakeInflux() as server:
        yield server


@pytest.fixture
def connect(server: FakeInflux) -> Iterator[Connect]:
    """Build sinks to the server; close them afterwards."""
    sinks: list[InfluxSink] = []

    def connect(**changes: object) -> InfluxSink:
        given = {"url": server.url, "org": "farm", "bucket": "tension", "token": "secret-token", **changes}
        sinks.append(build(InfluxOptions.model_validate(given), Services("copy", "Quillmere Orchard", FakeClock())))
        return sinks[-1]

    yield connect
    for sink in sinks:
        sink.close()


def refused(sink: InfluxSink, rows: list[StoredReading]) -> SinkUnavailable:
    with pytest.raises(SinkUnavailable) as caught:
        sink.write(rows)
    assert "secret-token" not in str(caught.value)
    return caught.value


def json_error(status: int, message: str) -> Reply:
    return Reply(status, json.dumps({"code": "x", "message": message}))


def test_the_request_names_org_bucket_and_precision(server: FakeInflux, connect: Connect) -> None:
    connect().write(sample_rows(3))
    (request,) = server.requests
    assert request.query == {"org": "farm", "bucket": "tension", "precision": "us"}
    assert request.lines == 3
    assert not request.gzip


def test_packed_requests_are_smaller(server: FakeInflux, connect: Connect) -> None:
    connect().write(sample_rows(500))
    connect(gzip=True).write(sample_rows(500))
    plain, packed = server.requests
    assert packed.gzip
    assert packed.size < plain.size / 4


@pytest.mark.parametrize("status", [408, 429, 500, 502, 503, 504])
def test_a_busy_server_is_tried_again_later(server: FakeInflux, connect: Connect, status: int) -> None:
    server.script(json_error(status, "busy"))
    sink = connect()
    error = refused(sink, sample_rows(5))
    assert not error.needs_person
    assert error.retry_after_s is None
    assert len(server.requests) == 1  # the client's own retries are off
    assert list(sink.write(sample_rows(5))) == []


def test_the_pause_a_server_asks_for_is_passed_on(server: FakeInflux, connect: Connect) -> None:
    server.script(
        Reply(429, "", {"Retry-After": "37"}), Reply(503, "", {"retry-after": "Thu, 28 May 2026 20:27:30 GMT"})
    )
    sink = connect()
    assert refused(sink, sample_rows(1)).retry_after_s == 37.0
    assert refused(sink, sample_rows(1)).retry_after_s == 50.0  # FakeClock: 2026-05-28 20:26:40 UTC


@pytest.mark.parametrize(
    ("wrong", "advice"),
    [
        ({"token": "other"}, "sinks.copy.token_file"),
        ({"token": None}, "sinks.copy.token_file"),
        ({"bucket": "elsewhere"}, "sinks.copy.bucket"),
        ({"org": "nobody"}, "sinks.copy.org"),
    ],
)
def test_a_wrong_key_needs_a_person_and_is_named(connect: Connect, wrong: dict[str, object], advice: str) -> None:
    error = refused(connect(**wrong), sample_rows(2))
    assert error.needs_person
    assert advice in str(error)


@pytest.mark.parametrize(
    ("reply", "advice"),
    [
        (json_error(403, "insufficient permissions"), "write access to bucket 'tension'"),
        (Reply(400, "<html>The plain HTTP request was sent to HTTPS port</html>"), "https or http?"),
        (Reply(301, "", {"Location": "http://127.0.0.1:9/"}), "sinks.copy.url"),
        (Reply(405, "method not allowed"), "sinks.copy.url"),
        (json_error(422, "partial write: field type conflict: input field"), "sinks.copy.measurement"),
    ],
)
def test_what_no_retry_heals_says_what_to_do(server: FakeInflux, connect: Connect, reply: Reply, advice: str) -> None:
    server.script(reply)
    error = refused(connect(), sample_rows(2))
    assert error.needs_person
    assert advice in str(error)
    assert len(server.requests) == 1


def test_a_token_that_no_header_carries_is_never_shown(connect: Connect) -> None:
    error = refused(connect(token="secret-token\nsecond line"), sample_rows(1))
    assert error.needs_person
    assert "sinks.copy.token_file" in str(error)


def test_a_line_end_after_the_token_does_no_harm(connect: Connect) -> None:
    assert list(connect(token="secret-token\r\n").write(sample_rows(1))) == []


def test_a_server_that_does_not_answer_in_time_is_raised(server: FakeInflux, connect: Connect) -> None:
    server.script(Hang())
    sink = connect(timeout_s=0.2)
    began_s = SystemClock().monotonic_s()
    assert "timed out" in str(refused(sink, sample_rows(3)))
    assert SystemClock().monotonic_s() - began_s < 5.0
    assert list(sink.write(sample_rows(3))) == []


def test_the_same_trouble_is_told_in_the_same_words(server: FakeInflux, connect: Connect) -> None:
    sink = connect()
    server.stop()
    first, second = str(refused(sink, sample_rows(1))), str(refused(sink, sample_rows(1)))
    assert (
        first
        == second
        == (f"no answer from {server.url}: Failed to establish a new connection: [Errno 111] Connection refused")
    )


def test_a_broken_connection_is_raised_and_the_next_write_succeeds(server: FakeInflux, connect: Connect) -> None:
    sink = connect()
    sink.write(sample_rows(3))
    server.script(Reset())
    refused(sink, sample_rows(6))
    assert list(sink.write(sample_rows(6))) == []
    assert len(server.lines) == 6


def test_a_lost_answer_leads_to_no_double(server: FakeInflux, connect: Connect) -> None:
    server.script(Reset(after_storing=True))
    sink = connect()
    refused(sink, sample_rows(6))
    assert len(server.lines) == 6
    sink.write(sample_rows(6))
    assert len(server.lines) == 6


def test_an_error_page_in_another_encoding_is_raised(server: FakeInflux, connect: Connect) -> None:
    server.script(Reply(502, b"Passerelle indisponible \xe9\xe8"))
    assert not refused(connect(), sample_rows(1)).needs_person


@pytest.mark.parametrize("partial", [True, False])
@pytest.mark.parametrize(("quotes", "most"), [(True, 3), (False, 23)])
def test_one_bad_line_in_two_thousand_is_found_with_few_requests(
    server: FakeInflux, connect: Connect, partial: bool, quotes: bool, most: int
) -> None:
    rows = sample_rows(2000)
    server.partial, server.quotes = partial, quotes
    bad = rows[1236]
    server.judge = lambda line: (
        "bad timestamp" if line.endswith(f" {bad.time_us}") and f"channel={bad.channel}," in line else None
    )
    (rejection,) = connect().write(rows)
    assert rejection.seq == bad.seq
    assert "bad timestamp" in rejection.reason
    assert len(server.lines) == 1999
    assert len(server.requests) <= most


def test_a_batch_that_is_too_large_is_halved_and_later_ones_are_smaller(
    server: FakeInflux, connect: Connect, caplog: pytest.LogCaptureFixture
) -> None:
    server.max_bytes = 40_000
    sink = connect()
    with caplog.at_level(logging.WARNING):
        assert list(sink.write(sample_rows(2000))) == []
    assert len(server.lines) == 2000
    assert sink.batch_rows == 125
    assert [record.__dict__["event"] for record in caplog.records] == ["influxdb.too-large"]
    before = len(server.requests)
    sink.write(sample_rows(sink.batch_rows))
    assert len(server.requests) == before + 1


def test_when_every_line_is_refused_a_person_is_called_and_nothing_is_set_aside(
    server: FakeInflux, connect: Connect
) -> None:
    server.quotes = False
    server.judge = lambda _line: "measurement is not allowed here"
    sink = connect()
    error = refused(sink, sample_rows(2000))
    assert error.needs_person
    assert "measurement is not allowed here" in str(error)
    server.judge = lambda _line: None
    assert list(sink.write(sample_rows(2000))) == []
    assert len(server.lines) == 2000


def attempt(sink: InfluxSink, rows: list[StoredReading]) -> list[int] | SinkUnavailable:
    """Write once: the ``seq`` of the refused rows, or why it has to be tried again."""
    try:
        return [rejection.seq for rejection in sink.write(rows)]
    except SinkUnavailable as error:
        return error


def test_many_scattered_bad_lines_are_found_over_several_attempts(server: FakeInflux, connect: Connect) -> None:
    rows = sample_rows(1000)
    bad = [{f"channel={row.channel},", f" {row.time_us}"} for row in rows[::50]]
    server.quotes = False
    server.judge = lambda line: "bad" if any(all(part in line for part in parts) for parts in bad) else None
    sink = connect()
    attempts = [attempt(sink, rows)]
    while isinstance(attempts[-1], SinkUnavailable) and len(attempts) < 10:
        attempts.append(attempt(sink, rows))
    *pauses, found = attempts
    assert found == [row.seq for row in rows[::50]]
    assert pauses
    for error in pauses:
        assert isinstance(error, SinkUnavailable)
        assert not error.needs_person
        assert error.retry_after_s == 1.0
    assert len(server.requests) <= 200 * len(attempts)


def test_an_older_row_goes_down_with_the_correction_that_is_refused(server: FakeInflux, connect: Connect) -> None:
    first, second = sample_rows(2)
    corrected = StoredReading(99, *[getattr(first, name) for name in first.__slots__[1:]])
    server.judge = lambda line: "bad" if f"channel={first.channel}," in line else None
    assert sorted(rejection.seq for rejection in connect().write([first, second, corrected])) == [first.seq, 99]


def test_a_row_that_was_returned_is_judged_anew_when_it_is_offered_again(server: FakeInflux, connect: Connect) -> None:
    server.judge = lambda _line: "bad"
    sink = connect()
    assert len(sink.write(sample_rows(1))) == 1
    server.judge = lambda _line: None
    assert list(sink.write(sample_rows(1))) == []
    assert len(server.lines) == 1


def test_the_outage_of_one_attempt_does_not_forget_what_was_found(server: FakeInflux, connect: Connect) -> None:
    rows = sample_rows(8)
    server.quotes = False
    bad = json_error(400, "bad")
    server.script(bad, bad, bad, bad, Reply(503, "busy"))  # 8, 4, 2 and 1 rows, then an outage
    sink = connect()
    refused(sink, rows)
    assert [rejection.seq for rejection in sink.write(rows)] == [rows[0].seq]
    assert server.requests[-1].lines == 7


def certificate(folder: Path) -> tuple[Path, Path]:
    """Make a self-signed certificate for 127.0.0.1."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "bench")])
    now = datetime.datetime.now(datetime.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=2))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    cert_file, key_file = folder / "cert.pem", folder / "key.pem"
    cert_file.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    key_file.write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )
    return cert_file, key_file


def test_a_server_is_believed_by_its_certificate_only(tmp_path: Path, connect: Connect) -> None:
    cert_file, key_file = certificate(tmp_path)
    with FakeInflux(certificate=cert_file, key=key_file) as server:
        trusting, doubting = connect(url=server.url, ca_file=str(cert_file)), connect(url=server.url)
        assert list(trusting.write(sample_rows(4))) == []
        error = refused(doubting, sample_rows(4))
        trusting.close()
    assert len(server.lines) == 4
    assert error.needs_person
    assert "sinks.copy.ca_file" in str(error)


def test_a_missing_ca_file_needs_a_person(tmp_path: Path, connect: Connect) -> None:
    cert_file, key_file = certificate(tmp_path)
    with FakeInflux(certificate=cert_file, key=key_file) as server:
        error = refused(connect(url=server.url, ca_file=str(tmp_path / "none.pem")), sample_rows(1))
    assert error.needs_person
    assert "sinks.copy.ca_file" in str(error)


def test_https_to_a_plain_server_needs_a_person(server: FakeInflux, connect: Connect) -> None:
    error = refused(connect(url=server.url.replace("http:", "https:")), sample_rows(1))
    assert error.needs_person


def test_loading_and_building_the_adapter_leaves_the_client_library_alone() -> None:
    program = (
        "import sys; from parchd.contract import Services; from parchd.testing import FakeClock; "
        "from parchd_adapters.influxdb import KIND; "
        "options = KIND.options(url='http://127.0.0.1:9', org='farm', bucket='tension'); "
        "KIND.build(options, Services('copy', 'Quillmere Orchard', FakeClock())).close(); "
        "sys.exit(any(name.split('.')[0] in ('influxdb_client', 'urllib3') for name in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0
