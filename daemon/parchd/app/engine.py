"""The engine: one owner of all state; each turn is one transaction."""

import logging
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial

from parchd.alarms.book import AlarmState
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.manners import manners
from parchd.alarms.standing import Transition
from parchd.alarms.suppression import Scene, suppressed
from parchd.app.acting import AlarmDesk
from parchd.app.alarming import Alarming
from parchd.app.asking import Desk, answer_request
from parchd.app.clock_trust import ClockTrust
from parchd.app.diagnosing import Diagnosing
from parchd.app.health import Health
from parchd.app.informing import Informing
from parchd.app.links import renew_links, use_link
from parchd.app.messages import Ask, Delivery, DiskSpace, Message, Post, Reload, SinkProgress, SourceHealth, Tick
from parchd.app.once import answer_before, note
from parchd.app.post import dispatch, post, record
from parchd.app.requests import AlarmRequest, Answer, AnyRequest, RecordService, RenewLinks, UseLink, WorkRequest
from parchd.app.settling import Settling
from parchd.app.setup import EngineSetup
from parchd.app.stepping import post_each
from parchd.app.writing import Writer
from parchd.clock import US_PER_S
from parchd.contract import Cause, Flag, Reading, Sample, SampleBatch
from parchd.people.tell import Passing
from parchd.pipeline.stage import PipelineState, process
from parchd.quality.stage import check
from parchd.quality.track import Track
from parchd.store import cursors
from parchd.store.answered import forget_answers
from parchd.store.diagnosis import rewind_diagnosis
from parchd.store.journal import Journal
from parchd.store.outbox import Outbox
from parchd.store.services import services
from parchd.store.states import (
    AlarmKeeper,
    get_meta,
    load_alarm_state,
    load_pipeline_state,
    rewind,
    set_meta,
)
from parchd.store.tellings import forget_tellings_before
from parchd.store.tracks import TrackKeeper, load_tracks, revise

logger = logging.getLogger(__name__)

HEARTBEAT_US = 30 * US_PER_S
LONG_SLEEP_US = 60 * US_PER_S
LEAP_US = 86_400 * US_PER_S
"""A machine may sleep for a night, and that time went by for its people too; beyond, the clock was set."""
RETENTION_US = 600 * US_PER_S
TRACKS_US = 3 * 3600 * US_PER_S
RETENTION_ROWS = 20_000
STEADY_US = 3600 * US_PER_S
OUTBOX_DAYS = 30
DAY_US = 86_400 * US_PER_S


class Engine:
    """Turns messages into rows, alarms and outgoing messages.

    Deterministic: the same messages with the same times give the same database. Not safe for more than one thread.
    """

    def __init__(self, connection: sqlite3.Connection, setup: EngineSetup, now_us: int) -> None:
        self._connection = connection
        self._journal = Journal(connection)
        self._outbox = Outbox(connection)
        self._setup = setup
        self._listening_since_us = now_us
        self._ticked_us = now_us
        self._retained_us = 0
        self._pipeline = PipelineState()
        self._tracks: dict[str, Track] = {}
        self._track_keeper = TrackKeeper()
        self._tracks_kept_us = now_us
        self._alarms = AlarmState()
        self._keeper = AlarmKeeper(self._alarms)
        self._alarming = Alarming(connection)
        self._health = Health(connection)
        self._diagnosing = Diagnosing(connection, self._journal, setup.diagnosis)
        self._trust = ClockTrust()
        self._informing = Informing(connection, self._outbox)
        self._beaten_us = 0
        self._failed = False
        self._received_us = self._committed_us = 0
        self._after: list[Callable[[], None]] = []
        self.pulse: Callable[[], None] = _nothing
        self._load()
        with self._journal.transaction():
            self._watch_clock(now_us)
            self._adopt(setup, now_us)
            self._beat(now_us)

    def turn(self, messages: Sequence[Message], now_us: int) -> None:
        """Take a group of messages in one transaction, then call back those who wait for the commit.

        Raises:
            sqlite3.Error: nothing of it happened; the same messages may be offered again.
        """
        self._after = committed = []
        with self._journal.transaction():
            if self._failed:
                self._load()
            self._failed = True
            for message in messages:
                self.step(message, now_us)
                if isinstance(message, SampleBatch | Delivery) and message.on_committed is not None:
                    committed.append(message.on_committed)
        self._failed = False
        self._committed_us = self._received_us
        for call in committed:
            call()

    def step(self, message: Message, now_us: int) -> None:
        """Take one message within the turn's transaction."""
        match message:
            case SampleBatch():
                self._take_samples(message, now_us)
            case Tick():
                self._tick(now_us)
            case Post():
                routes = [r for r in self._setup.routes if message.notifier in (None, r.notifier)]
                post(self._outbox, routes, message.notice, now_us)
                self._dispatch(now_us)
            case Ask():
                self._answer(message, now_us)
            case Reload():
                self._setup = message.setup
                self._load_tracks()
                self._adopt(message.setup, now_us)
                self._diagnosing.load()
            case _:
                self._note(message, now_us)

    def _note(self, message: SinkProgress | SourceHealth | DiskSpace | Delivery, now_us: int) -> None:
        """Note what became of a source, a sink, a message or the disk."""
        match message:
            case SinkProgress():
                cursors.advance(
                    self._connection, message.sink, message.cursor, message.rejections, message.trouble, now_us
                )
                self._follow(self._health.note_sink(message, now_us), now_us)
            case SourceHealth():
                self._follow(self._health.note_source(message, now_us), now_us)
            case DiskSpace():
                found = self._health.judge_disk(self._setup.alarms, self._alarms.faults, message, now_us)
                self._publish(found, now_us)
                self._keeper.save(self._connection, self._alarms)
            case Delivery():
                self._record(message, now_us)

    def checkpoint(self) -> None:
        """Fold the write-ahead log into the database; between turns."""
        self._journal.checkpoint()

    def _take_samples(self, batch: SampleBatch, now_us: int) -> None:
        self._pipeline, readings = process(
            self._setup.pipeline,
            self._pipeline,
            batch,
            self._received(now_us),
            clock_trusted=self._trust.is_trusted(now_us),
        )
        readings, revised = check(self._setup.pipeline.limits, self._tracks, readings)
        judge = partial(self._setup.book.judge_one, self._alarms, held_kpa=self._diagnosing.held_kpa)
        settle = partial(self._settling.settle, now_us=now_us)
        new, events = self._diagnosing.take(batch.source, readings, judge, settle)
        if new < len(readings):
            self._keep_tracks_of(readings)
        if revised:
            revise(self._connection, revised)
        self._publish(events, now_us)
        self._keeper.save(self._connection, self._alarms)
        self._diagnosing.save()

    @property
    def _settling(self) -> Settling:
        return Settling(self._connection, self._diagnosing, self._setup, self._alarms)

    def keep_raw(self, batch: SampleBatch, now_us: int) -> None:
        """Store samples that cannot be worked out just as they came, in a turn of their own: they judge nothing.

        Once it is mended, readings can be computed of them anew.
        """
        received_us = self._received(now_us)
        readings = [_as_it_came(batch.source, sample, received_us) for sample in batch.samples]
        with self._journal.transaction():
            self._journal.write(readings)

    def _received(self, now_us: int) -> int:
        """Give each batch a time of its own, so that the order of arrival can be told from the journal."""
        stepped_back = now_us < self._received_us - US_PER_S
        self._received_us = now_us if stepped_back else max(now_us, self._received_us + 1)
        return self._received_us

    def _answer(self, ask: Ask, now_us: int) -> None:
        answer = answer_before(self._connection, ask.once, ask.request)
        if answer is None:
            answer = self._carry_out(ask.request, ask.answer, now_us)
            note(self._connection, ask.once, ask.request, answer, now_us)
        self._after.append(partial(ask.answer, answer))

    def _carry_out(self, request: AnyRequest, tell: Callable[[Answer], None], now_us: int) -> Answer:
        match request:
            case AlarmRequest():
                desk = AlarmDesk(self._alarming, self._setup.book, self._setup.names)
                answer, steps = desk.do(request, now_us)
                self._tell(steps, now_us)
                return answer
            case UseLink():
                return use_link(self._connection, request, lambda one: self._carry_out(one, tell, now_us), now_us)
            case RenewLinks():
                return renew_links(self._connection, request)
            case _:
                return self._work(request, tell, now_us)

    def _work(self, request: WorkRequest, tell: Callable[[Answer], None], now_us: int) -> Answer:
        desk = Desk(self._connection, self._journal, self._setup.measurement, self._diagnosing)
        answer = answer_request(desk, request, tell, self.pulse, now_us)
        self._load_services()
        self._load_tracks()
        self._diagnosing.save()
        self._diagnosing.load()
        served = request if isinstance(request, RecordService) and answer.state == "done" else None
        self._publish(self._settling.judge_findings(now_us), now_us, "" if served is None else served.by)
        if served is not None:
            self._tell(self._alarming.serviced(served.tensiometer, served.by, now_us), now_us)
        self._keeper.save(self._connection, self._alarms)
        return answer

    def _tick(self, now_us: int) -> None:
        if now_us - self._trust.highest_us > LEAP_US:
            logger.warning("the clock leapt forward; alarms wait anew", extra={"event": "clock.leapt"})
            self._alarming.leapt(now_us)
        self._watch_clock(now_us)
        if not 0 <= now_us - self._ticked_us <= LONG_SLEEP_US:
            self._listening_since_us = now_us
        self._ticked_us = now_us
        self._diagnosing.mark()
        is_trusted = self._trust.is_trusted(now_us)
        clock = self._health.judge_clock(self._setup.alarms, self._alarms.faults, is_trusted, now_us)
        self._publish(clock, now_us)
        self._judge_health(now_us)
        if is_trusted:
            self._publish(self._silences(now_us), now_us)
            self._tell(self._alarming.suppress(self._reasons(now_us), now_us), now_us)
            self._tell(self._alarming.tick(now_us), now_us, passing=Passing.TRUSTED)
            self._keeper.save(self._connection, self._alarms)
            self._diagnosing.save()
        else:
            self._tell((), now_us, passing=Passing.UNTRUSTED)
        self._dispatch(now_us)
        if not 0 <= now_us - self._tracks_kept_us < TRACKS_US:
            self._keep_tracks(now_us)
        if now_us - self._beaten_us >= HEARTBEAT_US or now_us < self._beaten_us:
            self._beat(now_us)
        if now_us - self._retained_us >= RETENTION_US and now_us - self._listening_since_us >= STEADY_US:
            self._retain(now_us)

    def _follow(self, news: bool, now_us: int) -> None:
        if news:
            self._judge_health(now_us)

    def _judge_health(self, now_us: int) -> None:
        if self._trust.is_trusted(now_us):
            self._publish(self._health.judge(self._setup.alarms, self._alarms.faults, now_us), now_us)
        self._keeper.save(self._connection, self._alarms)

    def _keep_tracks_of(self, readings: Sequence[Reading]) -> None:
        """Write what the tests took from a reading that is not in the journal: its row was taken by another."""
        tracks = {r.channel: self._tracks[r.channel] for r in readings if r.channel in self._tracks}
        self._track_keeper.save(self._connection, self._setup.pipeline.limits, tracks)

    def _keep_tracks(self, now_us: int) -> None:
        self._tracks_kept_us = now_us
        self._track_keeper.save(self._connection, self._setup.pipeline.limits, self._tracks)

    def _silences(self, now_us: int) -> list[AlarmEvent]:
        since_us = self._listening_since_us
        outcome = self._diagnosing.listen(self._alarms.heard_us, since_us, now_us)
        found = self._settling.settle(outcome, now_us, now_us=now_us)
        return found + self._setup.book.listen(
            self._alarms, since_us, now_us, self._pipeline.services, self._diagnosing.is_silent_alone
        )

    def _watch_clock(self, now_us: int) -> None:
        before, self._trust = self._trust, self._trust.observe(now_us)
        if before.back_since_us is None and self._trust.back_since_us is not None:
            logger.warning("the clock stepped back; arrival times are not believed", extra={"event": "clock.back"})
        if self._trust.highest_us < before.highest_us:
            logger.warning("the earlier time of the clock is accepted", extra={"event": "clock.accepted"})
            self._rewind(now_us)

    def _rewind(self, now_us: int) -> None:
        """Go on from an earlier time: nothing that is known may lie in the future."""
        rewind(self._connection, now_us)
        rewind_diagnosis(self._connection, now_us)
        self._alarming.leapt(now_us)
        self._load_states()
        self._diagnosing.adopt(self._setup.diagnosis)
        self._retained_us = min(self._retained_us, now_us)
        self._beat(now_us)

    def _publish(self, events: Sequence[AlarmEvent], now_us: int, by: str = "") -> None:
        """Let alarms follow what was judged, and tell of it."""
        if events:
            self._health.note_events(events, now_us)
            self._tell(self._alarming.take(events, now_us, by, self._reasons(now_us)), now_us)

    def _reasons(self, now_us: int) -> Mapping[AlarmKey, str]:
        """Which alarms are suppressed by design now, and why."""
        if not self._alarms.faults:
            return {}
        channels, served = self._setup.channels, self._pipeline.services
        working = {channels[c].tensiometer for c, one in served.items() if c in channels and one.marks(now_us)}
        names, findings = self._setup.names, self._diagnosing.findings
        reached_us = self._health.reached_us
        return suppressed(Scene(self._setup.alarms, self._alarms, names.places, findings, working, now_us, reached_us))

    def _tell(self, steps: Sequence[Transition], now_us: int, *, passing: Passing = Passing.NONE) -> None:
        writer = Writer(self._connection, self._setup, self._alarms, self._diagnosing.findings, self._diagnosing.hourly)
        told, floods = self._informing.tell(self._setup.people, steps, now_us, writer.write, passing)
        if post_each(self._outbox, self._setup, steps, now_us) or told:
            self._dispatch(now_us)
        for step in steps:
            logger.info(
                "%s %s: %s", step.key.kind, step.happening, step.key.subject,
                extra={"event": f"alarm.{step.happening}"},
            )  # fmt: skip
        self._publish(floods, now_us)

    def _dispatch(self, now_us: int) -> None:
        for route in self._setup.routes:
            dispatch(self._outbox, route, now_us)

    def _record(self, delivery: Delivery, now_us: int) -> None:
        created_us = self._outbox.created_us(delivery.row_id)
        route = next((r for r in self._setup.routes if r.notifier == delivery.notifier), None)
        if created_us is not None:
            record(self._outbox, delivery, route, created_us, now_us)
            recipient = self._outbox.recipient(delivery.row_id)
            self._follow(self._health.note_delivery(delivery, recipient, now_us), now_us)

    def _beat(self, now_us: int) -> None:
        self._beaten_us = now_us
        set_meta(self._connection, "heartbeat_us", str(now_us))
        set_meta(self._connection, "highest_us", str(self._trust.highest_us))

    def _retain(self, now_us: int) -> None:
        self._outbox.forget_before(now_us - OUTBOX_DAYS * DAY_US)
        forget_answers(self._connection, now_us)
        more = False
        if self._setup.keep_days is not None:
            oldest_us = now_us - self._setup.keep_days * DAY_US
            forget_tellings_before(self._connection, oldest_us)
            deleted = self._journal.delete_before(oldest_us, RETENTION_ROWS)
            more = deleted == RETENTION_ROWS
        if not more:
            self._retained_us = now_us

    def _adopt(self, setup: EngineSetup, now_us: int) -> None:
        """Fit what is known to a configuration that may have changed."""
        self._load_services()
        self._diagnosing.adopt(setup.diagnosis)
        setup.book.prune(self._alarms)
        self._informing.adopt(setup.people, self._alarming.standings, now_us)
        self._tell(self._alarming.adopt(manners(setup.alarms), self._knows, self._is_on, now_us), now_us)
        self._publish(self._settling.judge_findings(now_us), now_us)
        self._keeper.save(self._connection, self._alarms)
        self._listening_since_us = now_us
        self._health.keep_only((rule.subject for rule in setup.alarms.health), now_us)
        for route in setup.routes:
            if self._outbox.enable_changed(route.notifier, route.fingerprint):
                self._health.forget(f"notifier/{route.notifier}", now_us)

    def _load(self) -> None:
        """Take what is on disk as the truth: at the start, and after a turn that failed."""
        self._load_states()
        self._trust = ClockTrust(int(get_meta(self._connection, "highest_us") or 0))
        self._beaten_us = 0
        self._received_us = self._committed_us
        self._failed = False

    def _load_states(self) -> None:
        self._pipeline = load_pipeline_state(self._connection)
        self._alarms = load_alarm_state(self._connection)
        self._keeper = AlarmKeeper(self._alarms)
        self._alarming.load()
        self._informing.load()
        self._health.load()
        self._load_services()
        self._load_tracks()
        self._diagnosing.load()

    def _load_services(self) -> None:
        channels = {t.place.tensiometer: t.channel for t in self._setup.measurement.tensiometers}
        self._pipeline = replace(self._pipeline, services=services(self._connection, channels))

    def _load_tracks(self) -> None:
        self._tracks = load_tracks(self._connection, self._setup.pipeline.limits)
        self._track_keeper = TrackKeeper()

    def _knows(self, key: AlarmKey) -> bool:
        return self._setup.book.knows(key) or self._informing.knows_flood(key)

    def _is_on(self, key: AlarmKey) -> bool:
        return self._setup.book.is_on(self._alarms, key) or self._informing.knows_flood(key)


def _as_it_came(source: str, sample: Sample, received_us: int) -> Reading:
    channel = f"{source}/{sample.channel}"
    return Reading(sample, channel, received_us, None, None, Flag.NOT_EVALUATED, Cause.NONE, late=True)


def _nothing() -> None:
    """Nobody watches whether the engine is alive."""
