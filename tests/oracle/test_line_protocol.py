"""Line protocol judged by influxd 1.6.7 (Debian package ``influxdb``), whose parser is the reference implementation.

victoria-metrics cannot be the judge: it confirms lines that it could not read.
"""

import itertools
from collections.abc import Iterator, Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.clock import SystemClock
from parchd.contract import Cause, Flag, Place, StoredReading, Unit
from parchd.testing.series import Influx1, Point
from parchd.testing.sink_suite import sample_rows
from parchd_adapters.influxdb.lines import RAW_FIELDS, LineEncoder
from parchd_adapters.influxdb.replies import Reply, Verdict, read_reason
from parchd_adapters.influxdb.sorting import Line, sort_lines

pytestmark = pytest.mark.needs("influxd")

SITE = "Quillmere Orchard"
COUNTER = itertools.count()
NAMES = st.text(max_size=12) | st.text(alphabet=" ,=\"\\'#\n\t/é北", max_size=12)
NUMBERS = st.none() | st.floats(allow_nan=False, allow_infinity=False) | st.floats(-100, 100) | st.integers(-9, 9)
PLACES = st.none() | st.builds(Place, NAMES, NAMES, NAMES, NAMES, st.floats(0, 10))
CHANNELS = st.from_regex(r"[a-zA-Z0-9._-]{1,12}/[a-zA-Z0-9._-]{1,12}", fullmatch=True)
ROWS = st.builds(
    StoredReading,
    seq=st.integers(0, 2**40),
    time_us=st.integers(0, 4_102_444_800_000_000),
    channel=CHANNELS,
    place=PLACES,
    value=NUMBERS,
    unit=st.sampled_from(Unit),
    gauge_kpa=NUMBERS,
    tension_kpa=NUMBERS,
    flag=st.sampled_from(Flag),
    cause=st.sampled_from(Cause),
    late=st.booleans(),
    calibration=st.just(""),
)


@pytest.fixture(scope="module")
def server() -> Iterator[Influx1]:
    with Influx1() as server:
        yield server


def readable(name: str) -> str:
    return "".join(char if char.isprintable() else " " for char in name).replace("\\", "/")


def as_point(row: StoredReading, run: str) -> Point:
    """Say what the server must read back, written down without the encoder."""
    tags = {"run": run, "channel": row.channel, "site": SITE}
    if row.place is not None:
        place = row.place
        tags |= {"site": readable(place.site), "zone": readable(place.zone), "station": readable(place.station)}
        tags |= {"tensiometer": readable(place.tensiometer), "depth_m": format(place.depth_m, "g")}
    numbers = {"tension_kpa": row.tension_kpa, "gauge_kpa": row.gauge_kpa, RAW_FIELDS[row.unit]: row.value}
    fields: dict[str, float | bool] = {key: value for key, value in numbers.items() if value is not None}
    fields |= {"flag": row.flag.value, "cause": row.cause.value, "late": row.late}
    return Point({key: value for key, value in tags.items() if value}, fields, row.time_us)


def ordered(points: Sequence[Point]) -> list[tuple[object, ...]]:
    return sorted((p.time_us, sorted(p.tags.items()), sorted(p.fields.items())) for p in points)


@settings(max_examples=150, deadline=None)
@given(st.lists(ROWS, min_size=1, max_size=25, unique_by=lambda row: (row.channel, row.time_us)))
def test_every_line_is_accepted_and_reads_back_equal(server: Influx1, rows: list[StoredReading]) -> None:
    run = str(next(COUNTER))
    encoder = LineEncoder(SITE, "tension", "channel", {"run": run})
    answer = server.write(encoder.lines(rows))
    assert answer.status == 204, answer.text
    points = [*server.points("tension", "run", run), *server.points("channel", "run", run)]
    assert ordered(points) == ordered([as_point(row, run) for row in rows])


def test_fields_have_the_types_that_the_page_promises(server: Influx1) -> None:
    server.write(LineEncoder(SITE, "typed", "typed", {}).lines(sample_rows(8)))
    result = server.query('SHOW FIELD KEYS FROM "typed"')
    assert isinstance(result, dict)
    assert dict(result["series"][0]["values"]) == {
        "tension_kpa": "float",
        "gauge_kpa": "float",
        "raw_mv": "float",
        "raw_degc": "float",
        "flag": "integer",
        "cause": "integer",
        "late": "boolean",
    }


class Sender:
    """Posts to one database and reads the answers as the sink does."""

    def __init__(self, server: Influx1, database: str) -> None:
        self.server = server
        self.database = database
        self.requests = 0

    def __call__(self, lines: Sequence[Line]) -> Reply | None:
        self.requests += 1
        body = "\n".join(line.text for line in lines).encode()
        answer = self.server.post("/write", body, db=self.database, precision="u")
        return None if answer.status == 204 else Reply(answer.status, *read_reason(answer.text))


def encode(rows: Sequence[StoredReading], measurement: str) -> list[Line]:
    encoder = LineEncoder(SITE, measurement, measurement, {})
    return [Line(row.seq, encoder.line(row)) for row in rows]


def test_a_line_the_server_refuses_is_found_from_its_own_words(server: Influx1) -> None:
    lines = encode(sample_rows(2000), "refused")
    lines[1234] = Line(1235, lines[1234].text.rsplit(" ", 1)[0] + " " + "9" * 30)
    send = Sender(server, server.database)
    outcome = sort_lines(lines, send)
    assert list(outcome.refused) == [1235]
    assert "..." in outcome.refused[1235]
    assert send.requests == 3


def test_points_older_than_the_server_keeps_are_told_from_the_others(server: Influx1) -> None:
    server.post("/query", b"", q='CREATE DATABASE "short" WITH DURATION 1h')
    now_us = SystemClock().now_us()
    rows = sample_rows(300)
    stamps = [now_us - (0 if row.seq > 100 else 90_000_000_000) - row.seq for row in rows]
    encoder = LineEncoder(SITE, "kept", "kept", {})
    lines = [
        Line(row.seq, f"{encoder.line(row).rsplit(' ', 1)[0]} {stamp}") for row, stamp in zip(rows, stamps, strict=True)
    ]
    send = Sender(server, "short")
    outcome = sort_lines(lines, send)
    assert set(outcome.refused) == set(range(1, 101))
    assert "retention" in outcome.refused[1]
    assert send.requests <= 20


def test_a_field_of_another_type_calls_for_a_person(server: Influx1) -> None:
    server.write(["taken tension_kpa=1i 1780000000000000"])
    outcome = sort_lines(encode(sample_rows(4), "taken"), Sender(server, server.database))
    assert outcome.blocked is not None
    assert outcome.blocked.verdict is Verdict.PERSON
