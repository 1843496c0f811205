"""Everything that a simulated season tells programs fits the schema that is published."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import time

from parchd.contract import Notice, SampleBatch
from parchd.simulator.draw import draw_plan
from parchd.simulator.season import Season, simulate
from parchd.testing.bench import MEMORY, engine_on
from parchd.testing.bodies import check_body
from parchd.testing.season import arrivals, season_setup
from parchd.testing.site import DAY_US, HOUR_US, route
from parchd_adapters.webhook.envelope import Envelope, pack, type_of

SEED, DAYS = 50, 40
LATER_US = 10 * 365 * DAY_US
"""Simulated seasons lie in years that no clock is believed to show."""


def batches(season: Season) -> Iterator[tuple[int, SampleBatch]]:
    """What arrives, each batch with its time, some years later than it was simulated."""
    for arrival in arrivals(season):
        samples = tuple(replace(one, time_us=one.time_us + LATER_US) for one in arrival.batch.samples)
        yield arrival.received_us + LATER_US, replace(arrival.batch, samples=samples)


def test_all_messages_of_a_season_fit_in_every_envelope() -> None:
    season = simulate(draw_plan(SEED, faults=True, days=DAYS))
    setup = season_setup(season, routes=[route("hook", "receiver")], digest_at=time(6, 30))
    with engine_on(MEMORY, setup, ticked_us := season.start_us + LATER_US) as bench:
        for received_us, batch in batches(season):
            while ticked_us + HOUR_US <= received_us:
                ticked_us += HOUR_US
                bench.tick(ticked_us)
            bench.turn(received_us, batch)
        notices = [Notice.from_json(text) for (text,) in bench.rows("SELECT notice FROM outbox")]
    for notice in notices:
        for envelope in Envelope:
            check_body(pack(notice, envelope).content)
    told = {type_of(notice) for notice in notices}
    assert {"alarm.raised", "alarm.cleared", "digest.daily"} <= told
    assert len({notice.data.get("alarm") for notice in notices}) > 5
