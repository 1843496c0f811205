"""What each alarm asks of a person: when it comes, what follows if nobody acts, what to do, and how soon.

After ISA-18.2 and IEC 62682: an alarm that asks for no response is none. The times to respond are this project's own
choice; no standard names any for the field.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from parchd.alarms.findings import FINDING_OF
from parchd.alarms.kinds import PRIORITIES, AlarmKind
from parchd.contract import Flag, Priority
from parchd.diagnosis.kinds import CONSEQUENCES
from parchd.diagnosis.words import WORDS

TODAY_H, TWO_DAYS_H, WEEK_H = 12, 48, 168
_WORDS = {TODAY_H: "today", TWO_DAYS_H: "within two days", WEEK_H: "within a week"}


@dataclass(frozen=True, slots=True)
class Response:
    """What is asked for.

    Args:
        when: the condition, to the settings that decide.
        consequence: what follows if nobody acts.
        action: what to do first; messages say more.
        within_h: time to respond.
    """

    when: str
    consequence: str
    action: str
    within_h: int

    @property
    def soon(self) -> str:
        """The time to respond, in words."""
        return _WORDS[self.within_h]


_NO_SAY = "its zone is judged without it, or is unknown"
_RESPONSES = {
    AlarmKind.IRRIGATE_NOW: Response(
        "a zone's tension has reached `now_kpa`",
        "plants take up less water than they need",
        "look at the ground, then irrigate",
        TODAY_H,
    ),
    AlarmKind.IRRIGATE_PLAN: Response(
        "a zone's tension has reached `plan_kpa`",
        "the limit to irrigate comes next, on most soils within days",
        "plan the next irrigation",
        TWO_DAYS_H,
    ),
    AlarmKind.DRYING_FAST: Response(
        "a zone dries by `drying_kpa_per_day` or more, from morning to morning",
        "the limit to irrigate comes sooner than usual",
        "look at the forecast and plan ahead",
        TWO_DAYS_H,
    ),
    AlarmKind.WET_TOO_LONG: Response(
        "a tensiometer of a zone has stood at `wet_kpa` or below for `wet_h`",
        "roots lack air; water and nutrients drain away",
        "stop irrigating; look for leaks, standing water and bad drainage",
        TWO_DAYS_H,
    ),
    AlarmKind.OWN_RULE: Response(
        "a rule of your own holds, `[rules.NAME]`", "yours to say", "what `respond` of the rule says", TWO_DAYS_H
    ),
    AlarmKind.SILENT: Response(
        "a tensiometer delivers nothing for `silent_intervals` of its intervals, and its source does",
        _NO_SAY,
        "check its cable, channel and transducer",
        TWO_DAYS_H,
    ),
    AlarmKind.ELECTRICAL: Response(
        "three readings in a row have a signal that no working transducer gives",
        _NO_SAY,
        "check cable and supply",
        TWO_DAYS_H,
    ),
    AlarmKind.IMPOSSIBLE: Response(
        "three readings in a row are tensions that soil water cannot have",
        _NO_SAY,
        "check unit, sign, height and calibration; look for a crack",
        TWO_DAYS_H,
    ),
    AlarmKind.ABOVE_LIMIT: Response(
        "three readings in a row lie above the usable limit",
        "air enters, and the tube loses its water",
        "irrigate if the plants call for it; refill the tube afterwards",
        TWO_DAYS_H,
    ),
    AlarmKind.SILENT_SOURCE: Response(
        "all tensiometers of a source, two or more, are silent together",
        "nothing is known of its zones",
        "look at the board or gateway they share",
        TODAY_H,
    ),
    AlarmKind.FROST_RISK: Response(
        "the temperature at a tensiometer nears freezing",
        "ice breaks cups and transducers",
        "take it out, or let its water out and protect it",
        TODAY_H,
    ),
    AlarmKind.SOURCE_DOWN: Response(
        "the daemon cannot reach a broker or open a line",
        "nothing arrives; what a serial line sends meanwhile is lost",
        "look at supply, network and cable",
        TODAY_H,
    ),
    AlarmKind.SINK_DOWN: Response(
        "a server takes no rows",
        "charts stand still; nothing is lost",
        "see whether the server runs, and its token",
        WEEK_H,
    ),
    AlarmKind.NOTIFIER_DOWN: Response(
        "messages to a recipient cannot be delivered, or were refused; told through another notifier",
        "nobody is told of alarms this way",
        "check address, login and network; `parchd tell`",
        TODAY_H,
    ),
    AlarmKind.DISK_FILLING: Response(
        "less than `store.least_free_percent` of the journal's disk is free, and less than `store.least_free_mb`",
        "once it is full, nothing more is kept",
        "make room",
        TWO_DAYS_H,
    ),
    AlarmKind.DISK_FULL: Response(
        "the journal could not be written for lack of room",
        "what serial lines deliver is lost, and no further alarm is told",
        "make room",
        TODAY_H,
    ),
    AlarmKind.CLOCK_UNTRUSTED: Response(
        "the time of day lies before one that was seen already, or before 2026",
        "samples that are stamped on arrival judge nothing",
        "give the board network or a clock with a battery",
        TODAY_H,
    ),
    AlarmKind.ALARM_FLOOD: Response(
        "more than ten alarms for one person within ten minutes",
        "the one that counts is overlooked",
        "look for one cause that explains most of them",
        TODAY_H,
    ),
}
_CONSEQUENCES = {
    Flag.FAIL: _NO_SAY,
    Flag.SUSPECT: _NO_SAY,
    Flag.PASS: "its readings go on deciding, and may be spoilt",
}


def _of_finding(kind: AlarmKind) -> Response:
    within_h = TWO_DAYS_H if PRIORITIES[kind] >= Priority.MEDIUM else WEEK_H
    consequence = _CONSEQUENCES[CONSEQUENCES[FINDING_OF[kind]].flag]
    title = WORDS[FINDING_OF[kind]].title
    return Response(f"the diagnosis finds: {title}", consequence, "what the page of findings says", within_h)


RESPONSES: Mapping[AlarmKind, Response] = MappingProxyType(
    {kind: _RESPONSES.get(kind) or _of_finding(kind) for kind in AlarmKind}
)
