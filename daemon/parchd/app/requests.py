"""What a person asks a running daemon to do: the words on its control socket."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from parchd.alarms.lifecycle import Happening
from parchd.alarms.links import LinkVerdict
from parchd.alarms.refusals import LONGEST_SHELF_H
from parchd.alarms.rules import AlarmKind
from parchd.contract import Verdict
from parchd.diagnosis.kinds import FindingKind

TimeUs = Annotated[int, Field(ge=0, le=2**62)]


class Request(BaseModel):
    """Base of all requests: one JSON object, unknown keys are errors."""

    model_config = ConfigDict(extra="forbid", frozen=True)


Work = Literal["install", "refill", "re-prime", "re-zero", "frost-removal", "other"]
SETTLES_H: Mapping[Work, float] = MappingProxyType(
    {"install": 24.0, "refill": 12.0, "re-prime": 24.0, "re-zero": 1.0, "frost-removal": 24.0, "other": 1.0}
)
"""Hours until readings can be trusted again. 24 h after filling is extension advice (UC Drought Tip 92-38); the others
are common practice."""
TOOK_MIN = 30.0
"""Minutes that work on a tensiometer takes, unless somebody says otherwise (common practice)."""


class Reprocess(Request):
    """Compute readings anew from the raw samples.

    Args:
        start_us, end_us: time of measurement, ``start <= time < end``, microseconds UTC.
        tensiometers: whose; empty: all.
    """

    ask: Literal["reprocess"] = "reprocess"
    start_us: TimeUs
    end_us: TimeUs
    tensiometers: tuple[str, ...] = ()


class RecordService(Request):
    """Write down that somebody worked on a tensiometer.

    Args:
        tensiometer: which.
        work: what was done.
        begin_us, end_us: readings measured in between are marked: the work and the time until the instrument has
            settled. Its alarms are quiet so long.
        by, note: who, and what else there is to say.
        left_m, found_m: height of the water surface above the cup centre after and before the work, where known.
    """

    ask: Literal["service"] = "service"
    tensiometer: str
    work: Work
    begin_us: TimeUs
    end_us: TimeUs
    by: Annotated[str, Field(max_length=100)] = ""
    note: Annotated[str, Field(max_length=1000)] = ""
    left_m: float | None = None
    found_m: float | None = None


class Dismiss(Request):
    """Say that a finding of the diagnosis is wrong.

    Args:
        subject: name of the tensiometer or source.
        finding: which, by its word.
        because: why; it is kept.
        by: who says so.
    """

    ask: Literal["dismiss"] = "dismiss"
    subject: str
    finding: FindingKind
    because: Annotated[str, Field(min_length=1, max_length=1000)]
    by: Annotated[str, Field(max_length=100)] = ""


class Resend(Request):
    """Send messages again under their ids.

    Args:
        start_us, end_us: when they were queued, ``start <= time < end``, microseconds UTC.
        notifiers: through which.
        undelivered: only those that never arrived.
    """

    ask: Literal["resend"] = "resend"
    start_us: TimeUs
    end_us: TimeUs
    notifiers: tuple[str, ...]
    undelivered: bool = False


Reason = Annotated[str, Field(min_length=1, max_length=1000)]


Via = Literal["command", "link", "mqtt", "adapter", "api"]
"""How something came here; ``adapter``: through one that is not ours."""


class AlarmRequest(Request):
    """Base of what is done to alarms.

    Args:
        subject: whose: name of a zone, tensiometer or other thing, or ``zone/NAME``; empty: the one of the episode.
        kind: which of its alarms; ``None``: all for which it can be done and that are not at rest.
        episode: only if this episode is not over, as `AlarmEvent.episode` names it.
        by: who.
        why: what else there is to say.
        via: how it came here.
    """

    happening: ClassVar[Happening]

    subject: Annotated[str, Field(max_length=200)] = ""
    kind: AlarmKind | None = None
    episode: Annotated[str, Field(max_length=300)] = ""
    by: Annotated[str, Field(max_length=100)] = ""
    why: Annotated[str, Field(max_length=1000)] = ""
    via: Via = "command"


class Acknowledge(AlarmRequest):
    """Say that somebody has seen an alarm. With neither subject nor episode: all that wait for it."""

    happening = Happening.ACKNOWLEDGED
    ask: Literal["acknowledge"] = "acknowledge"


class Shelve(AlarmRequest):
    """Keep an alarm quiet for some hours."""

    happening = Happening.SHELVED
    ask: Literal["shelve"] = "shelve"
    why: Reason
    hours: Annotated[float, Field(gt=0, le=LONGEST_SHELF_H)]


class Unshelve(AlarmRequest):
    """End that before its time."""

    happening = Happening.UNSHELVED
    ask: Literal["unshelve"] = "unshelve"


class TakeOut(AlarmRequest):
    """Take an alarm out of service until it is put back."""

    happening = Happening.REMOVED
    ask: Literal["take-out"] = "take-out"
    why: Reason


class PutBack(AlarmRequest):
    """Put an alarm back into service."""

    happening = Happening.RESTORED
    ask: Literal["put-back"] = "put-back"


class Reset(AlarmRequest):
    """Say that the cause of a latched alarm is mended."""

    happening = Happening.RESET
    ask: Literal["reset"] = "reset"


class UseLink(Request):
    """Do what a link of a message gives the right to.

    Args:
        token: the link's own part.
        hours, why: of a shelf.
        work, ago_h: what was done to a tensiometer, and how long ago.
    """

    ask: Literal["link"] = "link"
    token: Annotated[str, Field(max_length=1000)]
    hours: Annotated[float, Field(gt=0, le=LONGEST_SHELF_H)] | None = None
    why: Annotated[str, Field(max_length=1000)] = ""
    work: Work = "other"
    ago_h: Annotated[float, Field(ge=0, le=72)] = 0.0


class RenewLinks(Request):
    """Sign links with another key: those that were sent cannot be used any more.

    Args:
        key: 32 bytes that nobody can guess, as hexadecimal digits.
    """

    ask: Literal["renew-links"] = "renew-links"
    key: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$", repr=False)]


WorkRequest = Reprocess | RecordService | Dismiss | Resend
"""What is done to readings, instruments, findings and messages."""
AlarmAct = Acknowledge | Shelve | Unshelve | TakeOut | PutBack | Reset
"""What is done to alarms."""
AnyRequest = Annotated[WorkRequest | AlarmAct | UseLink | RenewLinks, Field(discriminator="ask")]
REQUESTS: TypeAdapter[AnyRequest] = TypeAdapter(AnyRequest)


class Answer(BaseModel):
    """One line of the daemon's answer; the last one is ``done`` or ``failed``.

    Args:
        state: where the work stands.
        text: in words.
        part: share of the work that is done, 0 to 1.
        verdict: the same for programs; ``None``: nothing was to be done to an alarm.
        alarm_state: how the alarm stands then, if it was one; empty: nobody knows.
        until_us: until when what a link did counts.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    state: Literal["working", "done", "failed"]
    text: str = ""
    part: float = 0.0
    verdict: Verdict | LinkVerdict | None = None
    alarm_state: str = ""
    until_us: int | None = None
