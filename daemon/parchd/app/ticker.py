"""The schedule: APScheduler wakes the engine; what is due is the engine's to decide."""

import logging
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_MAX_INSTANCES, EVENT_JOB_MISSED
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.base import BaseTrigger

logger = logging.getLogger(__name__)


class Steady(BaseTrigger):  # type: ignore[misc] # apscheduler ships no types
    """Fires every so many seconds from now on, and never makes up for what it missed.

    APScheduler lists every missed firing of an interval: a clock that jumps by years would fill the memory.
    """

    def __init__(self, seconds: float) -> None:
        self._interval = timedelta(seconds=seconds)

    def get_next_fire_time(self, previous: datetime | None, now: datetime) -> datetime:
        del previous
        return now + self._interval


class Ticker:
    """Calls named jobs at a steady pace, in UTC; a backward step of the clock is mended by `restart`."""

    def __init__(self) -> None:
        self._jobs: dict[str, tuple[float, Callable[[], None]]] = {}
        self._scheduler = BackgroundScheduler(
            timezone=UTC, job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1}
        )
        self._scheduler.add_listener(_report, EVENT_JOB_ERROR | EVENT_JOB_MISSED | EVENT_JOB_MAX_INSTANCES)

    def every(self, seconds: float, name: str, job: Callable[[], None]) -> None:
        self._jobs[name] = (seconds, job)
        self._scheduler.add_job(job, Steady(seconds), id=name, replace_existing=True)

    def start(self) -> None:
        self._scheduler.start()

    def restart(self) -> None:
        """Set every job anew from now on: jobs stall when the clock was set back."""
        for name, (seconds, job) in self._jobs.items():
            self._scheduler.add_job(job, Steady(seconds), id=name, replace_existing=True)

    def stop(self) -> None:
        self._scheduler.shutdown(wait=True)


def _report(event: Any) -> None:
    exception = getattr(event, "exception", None)
    logger.warning("scheduled job %s: %s", event.job_id, exception or "skipped", extra={"event": "schedule.trouble"})
