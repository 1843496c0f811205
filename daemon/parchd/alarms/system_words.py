"""What alarms about the daemon and its connections mean, and what to do about them."""

from parchd.alarms.advice import FaultWords
from parchd.alarms.kinds import AlarmKind

SYSTEM_WORDS = {
    AlarmKind.SOURCE_DOWN: FaultWords(
        "cannot be reached",
        "look at source {name}",
        "The daemon cannot reach it (broker away, line pulled out or switched off), so nothing arrives from there.",
        "can be reached again",
        (
            "Look at supply and network of the broker or board, and at its plug or cable.",
            "The daemon tries again by itself. A broker keeps what arrives meanwhile; a serial line does not.",
        ),
    ),
    AlarmKind.SINK_DOWN: FaultWords(
        "takes no rows",
        "look at sink {name}",
        "The server does not take the copy of the readings. Nothing is lost: the journal keeps them until it does.",
        "takes rows again",
        (
            "See whether the server runs and has room, and whether its token is still good.",
            "Charts that are drawn from it stand still meanwhile; alarms do not need it.",
        ),
    ),
    AlarmKind.NOTIFIER_DOWN: FaultWords(
        "messages do not arrive",
        "check notifier {name}",
        "Messages could not be delivered this way. They are tried again for seven days, unless they were refused.",
        "messages arrive again",
        (
            "Check address, login and network of the mail server or receiver; then send a test with parchd tell.",
            "Until it works, look at parchd alarms by yourself: nobody may be told this way.",
        ),
    ),
    AlarmKind.DISK_FILLING: FaultWords(
        "disk is filling",
        "make room on the disk",
        "There is little room left on the disk that holds the journal. When it is full, nothing more can be kept.",
        "there is room on the disk again",
        (
            "Make room: delete what is not needed, or move the journal to a larger disk.",
            "A smaller store.keep_days lets the journal forget old readings.",
        ),
    ),
    AlarmKind.DISK_FULL: FaultWords(
        "disk is full",
        "make room on the disk now",
        "The journal could not be written. The reserve was given up for this message; very little more can be kept.",
        "there is room on the disk again",
        (
            "Make room now. A broker keeps what arrives meanwhile; what serial lines deliver is lost.",
            "Look for what fills the disk: logs and copies more often than the journal.",
        ),
    ),
    AlarmKind.CLOCK_UNTRUSTED: FaultWords(
        "clock is wrong",
        "set the clock right",
        "The time of day cannot be believed: it lies before one that was seen already, or before this program was "
        "written. Samples are kept, but those that are stamped on arrival judge nothing.",
        "the clock is right again",
        (
            "Give the board network, so that it can ask for the time, or a clock with a battery.",
            "Times in this message are those of the wrong clock.",
        ),
    ),
    AlarmKind.ALARM_FLOOD: FaultWords(
        "many alarms at once",
        "look for one cause of many alarms",
        "More than ten alarms came within ten minutes; they stand in one message.",
        "the flood of alarms is over",
        (
            "Look for one cause that explains most of them: a gateway, a supply, the network, frost.",
            "Take the high ones first: parchd alarms lists them all.",
        ),
    ),
}
