"""What programs send and get: the published form of alarms. Keys may be added, none is renamed or taken away."""

from datetime import datetime
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from parchd.alarms.events import AlarmKey, episode_name
from parchd.alarms.standing import Standing, Transition
from parchd.clock import to_datetime
from parchd.contract import Do, Priority

Text = Annotated[str, Field(max_length=1000)]
LONGEST_BY = 48


class Model(BaseModel):
    """Base of what programs get."""

    model_config = ConfigDict(frozen=True)


class Alarm(Model):
    """How an alarm stands that is not at rest."""

    id: str = Field(description="names the alarm, e.g. irrigate-now.zone.north; stays the same for ever")
    kind: str = Field(description="what it is about, e.g. irrigate-now")
    subject: str = Field(description="of what it speaks, e.g. zone/north")
    priority: Literal["low", "medium", "high"]
    state: str = Field(description="where it stands in its life, e.g. unacknowledged")
    is_on: bool = Field(description="whether its cause holds, whatever people are told")
    since: datetime = Field(description="when the state began")
    episode: str | None = Field(description="names this episode of it, until the alarm is normal again")
    raised: datetime | None = Field(description="when the episode began")
    acknowledged: datetime | None = Field(description="when the episode was acknowledged")
    by: str = Field(description="who brought it into this state; empty: nobody did")
    why: str = Field(description="the reason that was given")
    via: str = Field(description="how it came: judge, command, link, mqtt, api, clock or configuration")
    until: datetime | None = Field(description="when it is heard again, if it is shelved")
    suppressed_because: str = Field(description="why it is suppressed by design; empty: it is not")


class Alarms(Model):
    """All alarms that are not at rest."""

    at: datetime = Field(description="when this was read")
    alarms: list[Alarm]


class Step(Model):
    """One step in the life of an alarm."""

    number: int = Field(description="grows with each step; numbers may be missing")
    at: datetime
    alarm: str = Field(description="id of the alarm")
    kind: str
    subject: str
    before: str
    happening: str = Field(description="what happened, e.g. raised or acknowledged")
    after: str
    episode: str | None
    by: str
    why: str
    via: str
    until: datetime | None


class History(Model):
    """Steps in the order they were taken."""

    steps: list[Step]
    next: int | None = Field(description="give it as after to get the steps behind these; null: there are none yet")


class Outcome(Model):
    """What became of an act."""

    outcome: Literal["done"]
    text: str = Field(description="what was done, in a sentence")
    alarm: Alarm | None = Field(description="how the alarm stands now; null: it is at rest")


class ProblemDetails(Model):
    """Why a request was not granted (RFC 9457)."""

    type: Literal["about:blank"]
    title: str
    status: int
    detail: str = Field(description="what to do about it")
    code: str = Field(description="the same for programs, e.g. refused")


class Act(BaseModel):
    """What is done to an alarm, and by whom."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    by: Annotated[str, Field(max_length=LONGEST_BY)] = Field(
        "", description="who asked the program; it is written down with the name of the token"
    )
    why: Text = Field("", description="for those who look at it later")
    episode: Annotated[str, Field(max_length=300)] = Field(
        "", description="only if this is the alarm's episode now; left out: whichever it is"
    )


class ActWithReason(Act):
    """An act that needs a reason."""

    why: Annotated[Text, Field(min_length=1)] = Field(description="for those who look at it later")


class ShelveAct(ActWithReason):
    """Keep an alarm quiet for a time."""

    hours: Annotated[float, Field(gt=0, le=168, allow_inf_nan=False)] = Field(description="for how long")


ACT_MODELS: dict[Do, type[Act]] = {
    Do.ACKNOWLEDGE: Act,
    Do.SHELVE: ShelveAct,
    Do.UNSHELVE: Act,
    Do.RESET: Act,
    Do.TAKE_OUT: ActWithReason,
    Do.PUT_BACK: Act,
}


def alarm_model(key: AlarmKey, one: Standing, priority: Priority) -> Alarm:
    """An alarm as programs get it."""
    return Alarm(
        id=key.dotted,
        kind=key.kind.value,
        subject=key.subject,
        priority=priority.word,
        state=one.state.value,
        is_on=one.is_on,
        since=to_datetime(one.since_us),
        episode=None if one.raised_us is None else episode_name(key, one.raised_us),
        raised=_time(one.raised_us),
        acknowledged=_time(one.acknowledged_us),
        by=one.by,
        why=one.why,
        via=one.via,
        until=_time(one.until_us),
        suppressed_because=one.by_design,
    )


def step_model(number: int, step: Transition) -> Step:
    """A step as programs get it."""
    return Step(
        number=number,
        at=to_datetime(step.time_us),
        alarm=step.key.dotted,
        kind=step.key.kind.value,
        subject=step.key.subject,
        before=step.before.value,
        happening=step.happening.value,
        after=step.after.value,
        episode=step.episode or None,
        by=step.by,
        why=step.why,
        via=step.via,
        until=_time(step.until_us),
    )


def _time(time_us: int | None) -> datetime | None:
    return None if time_us is None else to_datetime(time_us)
